//! Events on their way to clients and into the log.

use std::sync::{Arc, Mutex, PoisonError};

use axum::extract::ws::Utf8Bytes;
use serde_json::Value;
use tokio::sync::broadcast;

use super::clock;
use super::limiter::{Limiter, Line};
use super::tally::Tally;
use crate::engine::{Cause, Event, EventKind, Fault};

/// Events that a slow listener may be behind before it is cut off.
const BEHIND_MAX: usize = 1024;

/// A line of the log with what the event's JSON says of it as fields. The level is part of the macro's name in
/// `tracing`, so this is one too.
macro_rules! say {
    ($level:ident, $json:ident, $($text:tt)+) => {
        tracing::$level!(
            kind = word($json, "kind"),
            cue = word($json, "cue"),
            client = word($json, "client").or(word($json, "by")),
            verb = word($json, "verb"),
            rig = rig($json),
            reason = reason($json),
            $($text)+
        )
    };
}

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
    /// By the contract's kinds.
    kinds: Tally<String>,
}

impl Default for Events {
    fn default() -> Events {
        Events { told: broadcast::Sender::new(BEHIND_MAX), limiter: Mutex::default(), kinds: Tally::default() }
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
        self.kinds.add(word(json, "kind").unwrap_or_default().to_owned());
        self.log(&event.kind, json);
        // Nobody listening is no error.
        let _ = self.told.send(Arc::new(Told { event, frame }));
    }

    /// Every kind of event, and how often there was one.
    pub fn counts(&self) -> Vec<(String, u64)> {
        self.kinds.read()
    }

    fn log(&self, kind: &EventKind, json: &Value) {
        let text = word(json, "text").unwrap_or_default();
        match weight(kind) {
            Weight::OurBug => say!(error, json, "{text}"),
            Weight::Abnormal => say!(warn, json, "{text}"),
            Weight::Normal => say!(info, json, "{text}"),
            Weight::AtWill => {
                let line = self.limiter.lock().unwrap_or_else(PoisonError::into_inner).line(clock::now());
                match line {
                    Line::Write => say!(info, json, "{text}"),
                    Line::WriteAfter(silenced) => {
                        say!(info, json, "{text} ({silenced} lines of this kind before it were left out)");
                    }
                    Line::Silence => {}
                }
            }
        }
    }
}

fn word<'a>(json: &'a Value, key: &str) -> Option<&'a str> {
    json.get(key).and_then(Value::as_str)
}

/// Why: the reasons of a refusal, the cause of a stop, the fault.
fn reason(json: &Value) -> Option<String> {
    let reasons = json.get("reasons").and_then(Value::as_array);
    let reasons: Vec<_> = reasons.into_iter().flatten().filter_map(Value::as_str).collect();
    match reasons.is_empty() {
        false => Some(reasons.join("; ")),
        true => word(json, "cause").or(word(json, "fault")).map(str::to_owned),
    }
}

/// An axis is named after its rig: `heron.swing`.
fn rig(json: &Value) -> Option<&str> {
    word(json, "rig").or_else(|| word(json, "axis")?.split('.').next())
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
        | EventKind::Journal { kept: false }
        | EventKind::SimFault { on: true, .. } => Weight::Abnormal,
        EventKind::Refused { .. }
        | EventKind::Standby { .. }
        | EventKind::Dropped { .. }
        | EventKind::Input { .. }
        | EventKind::Interlock { .. }
        | EventKind::Master { .. }
        | EventKind::Hand(_) => Weight::AtWill,
        EventKind::Go { .. }
        | EventKind::Cue { .. }
        | EventKind::Held { .. }
        | EventKind::Standstill { at_rest: true, .. }
        | EventKind::Reset
        | EventKind::Armed { .. }
        | EventKind::PartSimulated { .. }
        | EventKind::Placed { .. }
        | EventKind::Offered { .. }
        | EventKind::Replaced { .. }
        | EventKind::ClientLost { .. }
        | EventKind::Journal { kept: true }
        | EventKind::SimFault { on: false, .. } => Weight::Normal,
    }
}
