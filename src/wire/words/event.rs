//! What happened, as one sentence.

use super::Words;
use super::condition::state_words;
use super::numbers::plain;
use crate::engine::{ClientId, EventKind, Refusal};
use crate::show::{AxisId, CueId, Unit};

/// "1 difference", "3 differences".
fn counted(count: u32, what: &str) -> String {
    if count == 1 { format!("1 {what}") } else { format!("{count} {what}s") }
}

impl Words<'_> {
    pub fn event(&self, kind: &EventKind) -> String {
        match kind {
            EventKind::Standby { cue, ready: true } => format!("{} is on standby and ready", self.cue(*cue)),
            EventKind::Standby { cue, ready: false } => format!("{} is on standby, not ready", self.cue(*cue)),
            EventKind::Dropped { cue, reasons } => {
                format!("{} dropped from standby{}", self.cue(*cue), self.because(reasons))
            }
            EventKind::Go { cue, by } => format!("{} GO{}", self.cue(*cue), self.by(*by)),
            EventKind::Refused { request, client, cue, reasons } => {
                let what = match (request, cue) {
                    (Some(_), Some(cue)) => format!("{} refused", self.cue(*cue)),
                    (Some(_), None) => "refused".into(),
                    (None, Some(cue)) => format!("{} refused to follow, its chain is broken", self.cue(*cue)),
                    (None, None) => "a follow was refused, its chain is broken".into(),
                };
                let to = client.map_or(String::new(), |client| format!(" to {}", self.client(client)));
                format!("{what}{to}{}", self.because(reasons))
            }
            EventKind::Cue { cue, state } => format!("{} is {}", self.cue(*cue), state_words(*state)),
            EventKind::Held { cue: None, by, reasons } => {
                format!("the running cues are held{}{}", self.by(*by), self.because(reasons))
            }
            EventKind::Held { cue: Some(cue), by, reasons } => {
                let (by, because) = (self.by(*by), self.because(reasons));
                format!("{} is held{by}, with all that shares its rate{because}", self.cue(*cue))
            }
            EventKind::Stop { cause } => format!("STOP: {}", self.cause(cause)),
            EventKind::Standstill { at_rest, axis } => self.standstill(*at_rest, *axis),
            EventKind::Reset => "the stop is reset; nothing moves until the next GO".into(),
            EventKind::Armed { armed: true } => "armed".into(),
            EventKind::Armed { armed: false } => "disarmed".into(),
            EventKind::PartSimulated { simulated, rigs } => {
                format!("{simulated} of {rigs} rigs are SIMULATED: the others MOVE, and heed no simulated position")
            }
            EventKind::Fault { fault } => format!("fault: {}", self.fault(*fault)),
            EventKind::Interlock { interlock, truth } => {
                let needs = self.condition(&self.show.interlocks[interlock.index()].needs);
                format!("{} is {} (it needs {needs})", self.interlock(*interlock), truth.word())
            }
            EventKind::Input { input, value } => format!("{} is {value}", self.input(*input)),
            EventKind::Master { value } => format!("master at {} %", plain(value * 100.0, Unit::Percent)),
            EventKind::Placed { cue, by } => {
                format!("the list goes on from {}, set by {}; nothing has moved", self.cue(*cue), self.client(*by))
            }
            EventKind::Offered { differences } => format!(
                "the files of the show have changed ({}): look at them, and accept them at rest",
                counted(*differences, "difference")
            ),
            EventKind::Replaced { armed: true, .. } => "the edited show is in force; nothing is on standby".into(),
            EventKind::Replaced { armed: false, .. } => {
                "the edited show is in force and disarmed; nothing is on standby".into()
            }
            EventKind::ClientLost { client } => format!("the link to {} is lost", self.client(*client)),
            EventKind::Journal { kept: false } => {
                "ALARM: the journal cannot be written; what runs goes on, and nothing can be armed anew".into()
            }
            EventKind::Journal { kept: true } => "the journal is written again".into(),
            EventKind::SimFault { fault, on, by } => self.sim_fault_event(*fault, *on, &self.client(*by)),
            EventKind::Hand(event) => self.hand_event(event),
        }
    }

    /// The cue that an event is about, if it is about one.
    pub fn event_cue(kind: &EventKind) -> Option<CueId> {
        match kind {
            EventKind::Standby { cue, .. }
            | EventKind::Dropped { cue, .. }
            | EventKind::Go { cue, .. }
            | EventKind::Cue { cue, .. }
            | EventKind::Placed { cue, .. } => Some(*cue),
            EventKind::Refused { cue, .. } | EventKind::Held { cue, .. } => *cue,
            EventKind::Stop { .. }
            | EventKind::Standstill { .. }
            | EventKind::Reset
            | EventKind::Armed { .. }
            | EventKind::PartSimulated { .. }
            | EventKind::Fault { .. }
            | EventKind::Interlock { .. }
            | EventKind::Input { .. }
            | EventKind::Master { .. }
            | EventKind::Offered { .. }
            | EventKind::Replaced { .. }
            | EventKind::ClientLost { .. }
            | EventKind::Journal { .. }
            | EventKind::SimFault { .. }
            | EventKind::Hand(_) => None,
        }
    }

    fn standstill(&self, at_rest: bool, axis: Option<AxisId>) -> String {
        match (at_rest, axis) {
            (true, None) => "everything is measured at rest".into(),
            (true, Some(axis)) => format!("everything is measured at rest, {} last", self.axis(axis)),
            (false, Some(axis)) => format!("{} is NOT at rest in time: look at the machine", self.axis(axis)),
            (false, None) => "NOT everything is at rest in time: look at the machines".into(),
        }
    }

    fn by(&self, client: Option<ClientId>) -> String {
        client.map_or(String::new(), |client| format!(" by {}", self.client(client)))
    }

    fn because(&self, reasons: &Refusal) -> String {
        if reasons.is_empty() { String::new() } else { format!(": {}", self.refusal(reasons).join("; ")) }
    }
}
