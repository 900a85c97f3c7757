//! Accepting HTTP connections, within bounds.
//!
//! A client that opens connections and sends nothing, or its headers one byte a minute, is cut off. One that opens too
//! many gets a connection on which nothing can be had but the stop and the reason; only when those have run out too is
//! it turned away without a word. The stop port stands outside all this.

use std::net::SocketAddr;
use std::sync::Arc;
use std::time::Duration;

use axum::Router;
use axum::extract::connect_info::ConnectInfo;
use hyper::server::conn::http1;
use hyper_util::rt::{TokioIo, TokioTimer};
use hyper_util::service::TowerToHyperService;
use tokio::net::{TcpListener, TcpStream};

use super::crowd::Place;
use super::house::House;
use super::http;

/// HTTP connections at once, WebSockets among them.
const CONNECTIONS_MAX: usize = 256;
/// Connections at once, of HTTP and OSC together, that can do nothing but stop; and those of one address.
pub const STOP_ONLY_MAX: usize = 48;
pub const STOP_ONLY_OF_ONE: usize = 4;
/// For a request's line and headers to arrive, and for a connection that is kept open to be used again.
const HEADERS_WITHIN: Duration = Duration::from_secs(5);
/// The same where there is no room: a stop comes at once.
const STOP_WITHIN: Duration = Duration::from_secs(1);
const HEADERS_BYTES_MAX: usize = 16 * 1024;

/// The two ends of a connection, IPv4 addresses as such.
#[derive(Clone, Copy, Debug)]
pub struct Ends {
    pub from: SocketAddr,
    pub to: SocketAddr,
}

/// Serves for ever.
pub async fn run(listener: TcpListener, house: Arc<House>) {
    let router = http::router(house.clone());
    loop {
        let (stream, from) = match listener.accept().await {
            Ok(accepted) => accepted,
            Err(error) => {
                // Such as no file descriptors left. Others may free some.
                tracing::warn!("HTTP: no connection taken: {error}");
                tokio::time::sleep(Duration::from_millis(50)).await;
                continue;
            }
        };
        let Ok(to) = stream.local_addr() else { continue };
        let ends = Ends { from: canonical(from), to: canonical(to) };
        let of_one = house.gate.access().limits.connections as usize;
        match house.gate.connections.enter(ends.from.ip(), CONNECTIONS_MAX, of_one) {
            Ok(place) => serve(stream, router.clone(), ends, HEADERS_WITHIN, place),
            Err(why) => {
                house.counters.reject(why.counter(), &format!("http {}", ends.from), &why);
                if let Ok(place) = house.gate.stop_only.enter(ends.from.ip(), STOP_ONLY_MAX, STOP_ONLY_OF_ONE) {
                    serve(stream, http::stop_alone(house.clone(), why.to_string()), ends, STOP_WITHIN, place);
                }
            }
        }
    }
}

fn canonical(address: SocketAddr) -> SocketAddr {
    SocketAddr::new(address.ip().to_canonical(), address.port())
}

fn serve(stream: TcpStream, router: Router, ends: Ends, headers_within: Duration, place: Place) {
    let router = router.layer(axum::Extension(ConnectInfo(ends)));
    tokio::spawn(async move {
        serve_one(stream, router, headers_within).await;
        drop(place);
    });
}

async fn serve_one(stream: TcpStream, router: Router, headers_within: Duration) {
    // Answers are small and wanted at once.
    let _ = stream.set_nodelay(true);
    let connection = http1::Builder::new()
        .timer(TokioTimer::new())
        .header_read_timeout(headers_within)
        .max_buf_size(HEADERS_BYTES_MAX)
        .serve_connection(TokioIo::new(stream), TowerToHyperService::new(router))
        .with_upgrades();
    // A client that went away, was too slow or spoke something else is no fault of ours.
    if let Err(error) = connection.await {
        tracing::debug!("HTTP: {error}");
    }
}
