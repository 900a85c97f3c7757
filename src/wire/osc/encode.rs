//! The contract's "OSC out".

use rosc::{OscMessage, OscPacket, OscType};

/// Verbs that only we send; one that comes in is our own, come back.
pub const VERBS_OUT: [&str; 6] = ["answer", "cue", "axis", "stopped", "standstill", "watching"];

/// One message out. `standby` is both ways: asked with cues, told with a cue and whether it is ready.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Out<'a> {
    /// To the sender of a request: its verb, its cue or nothing, and the reasons of a refusal; `accepted` if there
    /// is none. A standby that is not ready is accepted: [`Out::Standby`] then tells so beside the answer.
    Answer {
        verb: &'a str,
        cue: &'a str,
        reasons: &'a [String],
    },
    Cue {
        number: &'a str,
        state: &'a str,
    },
    /// In the axis's own unit.
    Axis {
        rig: &'a str,
        axis: &'a str,
        position: f64,
    },
    Stopped(bool),
    Standstill(bool),
    Standby {
        cue: &'a str,
        ready: bool,
    },
    /// What a watcher was given: changes a second, seconds.
    Watching {
        changes: u32,
        lease: u32,
    },
}

impl Out<'_> {
    /// The packet: a datagram as it is; on a stream, to be framed.
    pub fn encode(&self) -> Vec<u8> {
        let (verb, args) = match *self {
            Out::Answer { verb, cue, reasons } => {
                let outcome = if reasons.is_empty() { "accepted".into() } else { reasons.join("; ") };
                ("answer", vec![text(verb), text(cue), text(&outcome)])
            }
            Out::Cue { number, state } => ("cue", vec![text(number), text(state)]),
            Out::Axis { rig, axis, position } => {
                ("axis", vec![text(rig), text(axis), OscType::Float(position as f32)])
            }
            Out::Stopped(stopped) => ("stopped", vec![OscType::Bool(stopped)]),
            Out::Standstill(at_rest) => ("standstill", vec![OscType::Bool(at_rest)]),
            Out::Standby { cue, ready } => ("standby", vec![text(cue), OscType::Bool(ready)]),
            Out::Watching { changes, lease } => ("watching", vec![int(changes), int(lease)]),
        };
        encode(&format!("/bellwire/{verb}"), args)
    }
}

/// One message.
pub fn encode(address: &str, args: Vec<OscType>) -> Vec<u8> {
    let message = OscPacket::Message(OscMessage { addr: address.into(), args });
    rosc::encoder::encode(&message).expect("a message encodes into memory")
}

/// A string in OSC ends at its first NUL, so that none may be inside.
fn text(text: &str) -> OscType {
    OscType::String(text.replace('\0', "\u{FFFD}"))
}

fn int(value: u32) -> OscType {
    OscType::Int(i32::try_from(value).unwrap_or(i32::MAX))
}
