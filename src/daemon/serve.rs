//! Accepting HTTP connections, within bounds.
//!
//! A client that opens connections and sends nothing, or its headers one byte a minute, is cut off; one that opens
//! too many is turned away. The stop port stands outside all this.

use std::sync::Arc;
use std::time::Duration;

use axum::Router;
use axum::extract::connect_info::ConnectInfo;
use hyper::server::conn::http1;
use hyper_util::rt::{TokioIo, TokioTimer};
use hyper_util::service::TowerToHyperService;
use tokio::net::{TcpListener, TcpStream};
use tokio::sync::Semaphore;

use super::counters::Counters;

/// HTTP connections at once, WebSockets among them.
const CONNECTIONS_MAX: usize = 192;
/// For a request's line and headers to arrive, and for a connection that is kept open to be used again.
const HEADERS_WITHIN: Duration = Duration::from_secs(5);
const HEADERS_BYTES_MAX: usize = 16 * 1024;

/// Serves for ever.
pub async fn run(listener: TcpListener, router: Router, counters: Arc<Counters>) {
    let places = Arc::new(Semaphore::new(CONNECTIONS_MAX));
    loop {
        let (stream, peer) = match listener.accept().await {
            Ok(accepted) => accepted,
            Err(error) => {
                // Such as no file descriptors left. Others may free some.
                tracing::warn!("HTTP: no connection taken: {error}");
                tokio::time::sleep(Duration::from_millis(50)).await;
                continue;
            }
        };
        let Ok(place) = places.clone().try_acquire_owned() else {
            let why = format!("{CONNECTIONS_MAX} connections are open already");
            counters.reject("too many connections", &format!("http {peer}"), &why);
            continue;
        };
        let router = router.clone().layer(axum::Extension(ConnectInfo(peer)));
        tokio::spawn(async move {
            serve_one(stream, router).await;
            drop(place);
        });
    }
}

async fn serve_one(stream: TcpStream, router: Router) {
    // Answers are small and wanted at once.
    let _ = stream.set_nodelay(true);
    let connection = http1::Builder::new()
        .timer(TokioTimer::new())
        .header_read_timeout(HEADERS_WITHIN)
        .max_buf_size(HEADERS_BYTES_MAX)
        .serve_connection(TokioIo::new(stream), TowerToHyperService::new(router))
        .with_upgrades();
    // A client that went away, was too slow or spoke something else is no fault of ours.
    if let Err(error) = connection.await {
        tracing::debug!("HTTP: {error}");
    }
}
