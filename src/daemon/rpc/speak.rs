//! The writing half of a WebSocket: answers first, then events, then the newest status.

use std::sync::Arc;
use std::time::Duration;

use axum::extract::ws::{Message, WebSocket, close_code};
use futures_util::SinkExt;
use futures_util::stream::SplitSink;
use tokio::sync::broadcast::error::RecvError;
use tokio::sync::{mpsc, watch};
use tokio::time::{Instant, MissedTickBehavior, interval_at, sleep_until};

use super::{End, Wants};
use crate::daemon::events::Told;
use crate::daemon::house::House;
use crate::engine::EventKind;

/// For one frame to leave.
const SENT_WITHIN: Duration = Duration::from_secs(5);
const PING_EVERY: Duration = Duration::from_secs(10);

/// Runs until the client is gone or too slow.
pub(super) async fn run(
    sink: &mut SplitSink<WebSocket, Message>,
    house: &Arc<House>,
    mut outgoing: mpsc::Receiver<String>,
    mut wanted: watch::Receiver<Wants>,
) -> End {
    let mut events = house.events.listen();
    let mut pings = interval_at(Instant::now() + PING_EVERY, PING_EVERY);
    pings.set_missed_tick_behavior(MissedTickBehavior::Delay);
    let mut next_status = Instant::now();
    loop {
        let wants = *wanted.borrow_and_update();
        let message = tokio::select! {
            biased;
            text = outgoing.recv() => match text {
                Some(text) => Message::Text(text.into()),
                None => return End::Gone,
            },
            told = events.recv() => match told {
                Ok(told) if wants.events || wants.standstill && is_standstill(&told) => Message::Text(told.frame.clone()),
                Ok(_) => continue,
                Err(RecvError::Lagged(_)) if !wants.events => continue,
                Err(RecvError::Lagged(_)) => {
                    return End::Close { code: close_code::AGAIN, reason: "events were not read in time" };
                }
                Err(RecvError::Closed) => return End::Gone,
            },
            changed = wanted.changed() => match changed {
                Ok(()) => continue,
                Err(_) => return End::Gone,
            },
            () = sleep_until(next_status), if wants.hz > 0.0 => {
                // From now, not from when it was due: a client that was slow is owed no burst.
                next_status = Instant::now() + Duration::from_secs_f64(1.0 / wants.hz);
                Message::Text(house.status_notification(wants.stage))
            }
            _ = pings.tick() => Message::Ping(Default::default()),
        };
        match tokio::time::timeout(SENT_WITHIN, sink.send(message)).await {
            Ok(Ok(())) => {}
            Ok(Err(_)) => return End::Gone,
            Err(_) => return End::Close { code: close_code::AGAIN, reason: "nothing was read for 5 s" },
        }
    }
}

fn is_standstill(told: &Told) -> bool {
    matches!(told.event.kind, EventKind::Standstill { .. })
}
