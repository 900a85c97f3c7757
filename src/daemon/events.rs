//! Events on their way to clients and into the log.

use std::sync::{Arc, Mutex, PoisonError};

use axum::extract::ws::Utf8Bytes;
use serde_json::Value;
use tokio::sync::broadcast;

use super::clock;
use super::limiter::{Limiter, Line};
use crate::engine::{Cause, Event, EventKind, Fault};

/// Events that a slow listener may be behind before it is cut off.
const BEHIND_MAX: usize = 1024;

/// One event, and the frame that tells of it, made once for all listeners.
#[derive(Clone, Debug)]
pub struct Told {
    pub event: Event,
    pub frame: Utf8Bytes,
}

pub struct Events {
    told: broadcast::Sender<Arc<Told>>,
    /// Of the lines that clients cause at will.
    limiter: Mutex<Limiter>,
}

impl Default for Events {
    fn default() -> Events {
        Events { told: broadcast::Sender::new(BEHIND_MAX), limiter: Mutex::default() }
    }
}

impl Events {
    /// Those who fall too far behind find out by themselves.
    pub fn listen(&self) -> broadcast::Receiver<Arc<Told>> {
        self.told.subscribe()
    }

    /// Tells everyone who listens, and the log. `json` is the contract's event, `text` its sentence.
    pub fn announce(&self, event: Event, json: &Value) {
        let frame = Utf8Bytes::from(crate::wire::rpc::notification("event", json));
        self.log(&event.kind, json.get("text").and_then(Value::as_str).unwrap_or_default());
        // Nobody listening is no error.
        let _ = self.told.send(Arc::new(Told { event, frame }));
    }

    fn log(&self, kind: &EventKind, text: &str) {
        match weight(kind) {
            Weight::OurBug => tracing::error!("{text}"),
            Weight::Abnormal => tracing::warn!("{text}"),
            Weight::Normal => tracing::info!("{text}"),
            Weight::AtWill => {
                let line = self.limiter.lock().unwrap_or_else(PoisonError::into_inner).line(clock::now());
                match line {
                    Line::Write => tracing::info!("{text}"),
                    Line::WriteAfter(silenced) => {
                        tracing::info!("{text} ({silenced} lines of this kind before it were left out)");
                    }
                    Line::Silence => {}
                }
            }
        }
    }
}

enum Weight {
    OurBug,
    Abnormal,
    Normal,
    /// A client can bring it about as often as it likes.
    AtWill,
}

fn weight(kind: &EventKind) -> Weight {
    match kind {
        EventKind::Fault { fault: Fault::Engine } | EventKind::Stop { cause: Cause::Fault(Fault::Engine) } => {
            Weight::OurBug
        }
        EventKind::Fault { .. }
        | EventKind::Stop { .. }
        | EventKind::Standstill { at_rest: false, .. }
        | EventKind::Journal { kept: false } => Weight::Abnormal,
        EventKind::Refused { .. }
        | EventKind::Standby { .. }
        | EventKind::Dropped { .. }
        | EventKind::Input { .. }
        | EventKind::Interlock { .. }
        | EventKind::Master { .. } => Weight::AtWill,
        EventKind::Go { .. }
        | EventKind::Cue { .. }
        | EventKind::Held { .. }
        | EventKind::Standstill { at_rest: true, .. }
        | EventKind::Reset
        | EventKind::Armed { .. }
        | EventKind::Placed { .. }
        | EventKind::Offered { .. }
        | EventKind::Replaced { .. }
        | EventKind::ClientLost { .. }
        | EventKind::Journal { kept: true } => Weight::Normal,
    }
}
