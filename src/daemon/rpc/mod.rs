//! `/rpc`: JSON-RPC over a WebSocket, one task a connection.
//!
//! Reading and writing go on side by side: a client that does not read its answers can still stop the show, and can
//! keep nobody but itself waiting. What waits for it is bounded; past the bound it is cut off.
//!
//! ```text
//!   frames in ──> read ──> stop road, hub
//!                             │ replies
//!   frames out <── write <── outbox, events, status (newest only), pings
//! ```

mod listen;
mod speak;

use std::net::IpAddr;
use std::sync::Arc;
use std::time::Duration;

use axum::extract::ws::{CloseFrame, Message, Utf8Bytes, WebSocket, close_code};
use futures_util::{SinkExt, StreamExt};
use tokio::sync::{Notify, mpsc, watch};

use super::gate::Pass;
use super::house::House;
use super::hub::Client;
use crate::wire::Barred;

use listen::Listener;

/// Answers that wait for a client that does not read, at most.
const OUTBOX_MAX: usize = 256;
/// For the last word to a client that is being cut off.
const FAREWELL_WITHIN: Duration = Duration::from_millis(500);
/// For what had come before somebody was shut out to be looked through for a stop.
const DRAINED_WITHIN: Duration = Duration::from_millis(200);
/// A connection on which nothing but the stop is taken gives its place back after this.
const STOP_ONLY_FOR: Duration = Duration::from_secs(60);

/// Whether a client is let in.
#[derive(Clone, Debug)]
pub enum Standing {
    In(Pass),
    /// Nothing but its stop is taken; with the reason.
    StopOnly(Barred),
}

/// What a client wants to be told.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
struct Wants {
    /// Status a second; 0 is none.
    hz: f64,
    stage: bool,
    /// Every event.
    events: bool,
    /// It has asked for a stop, so it is told of the standstill in any case.
    standstill: bool,
}

/// Why a connection ends.
#[derive(Debug, PartialEq, Eq)]
enum End {
    Gone,
    Close { code: u16, reason: &'static str },
}

/// The way back to one client, for replies that come from other threads. Never waits.
#[derive(Clone)]
struct Outbox {
    texts: mpsc::Sender<String>,
    overflow: Arc<Notify>,
}

impl Outbox {
    fn send(&self, text: String) {
        match self.texts.try_send(text) {
            // Closed: the client is gone, and nobody is owed an answer.
            Ok(()) | Err(mpsc::error::TrySendError::Closed(_)) => {}
            Err(mpsc::error::TrySendError::Full(_)) => self.overflow.notify_one(),
        }
    }
}

/// Serves one client until it goes, or is no longer let in.
pub async fn serve(socket: WebSocket, house: Arc<House>, client: Client, ip: IpAddr, standing: Standing) {
    let (mut sink, mut stream) = socket.split();
    let (texts, outgoing) = mpsc::channel(OUTBOX_MAX);
    let outbox = Outbox { texts, overflow: Arc::default() };
    let overflow = outbox.overflow.clone();
    let (wants, wanted) = watch::channel(Wants::default());
    let here = matches!(standing, Standing::In(_)).then(|| house.present.enter(&client));
    let mut listener = Listener::new(house.clone(), client.clone(), ip, standing.clone(), outbox, wants);

    let end = tokio::select! {
        end = listener.run(&mut stream) => end,
        end = speak::run(&mut sink, &house, outgoing, wanted) => end,
        () = overflow.notified() => {
            End::Close { code: close_code::POLICY, reason: "answers were not read" }
        }
        reason = shut_out(&house, &standing, ip) => {
            // What has come already may hold a stop, and nothing else of it is taken any more.
            let _ = tokio::time::timeout(DRAINED_WITHIN, listener.run(&mut stream)).await;
            End::Close { code: close_code::POLICY, reason }
        }
    };
    if let End::Close { code, reason } = end {
        tracing::info!("{}: the WebSocket is closed: {reason}", client.name);
        let farewell = Message::Close(Some(CloseFrame { code, reason: Utf8Bytes::from_static(reason) }));
        let _ = tokio::time::timeout(FAREWELL_WITHIN, sink.send(farewell)).await;
    }
    drop(here);
    listener.leave().await;
}

/// Until a client may no longer be here; with the reason.
async fn shut_out(house: &House, standing: &Standing, ip: IpAddr) -> &'static str {
    match standing {
        Standing::In(pass) => {
            house.gate.shut_out(pass, ip).await;
            "access.toml has changed for you: connect again"
        }
        Standing::StopOnly(_) => {
            tokio::time::sleep(STOP_ONLY_FOR).await;
            "not let in"
        }
    }
}
