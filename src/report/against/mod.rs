//! What an edit changed, for people and for scripts: what breaks, what moved, what has to be rehearsed again.

mod document;
mod moved;
mod rehearsed;
mod text;

pub use document::{against_json, not_compared_json};
pub use rehearsed::{Journals, Kept, Rehearsed, rehearsed};
pub use text::against_text;

use crate::proof::{Against, Proof};
use crate::show::{AxisPart, Change, CuePart, Finding, Reading, Show, Subject};

/// One version as it was read, for its report.
#[derive(Clone, Copy)]
pub struct Version<'a> {
    pub reading: &'a Reading,
    pub show: &'a Show,
    pub proof: &'a Proof,
    /// Of reading and proof.
    pub findings: &'a [Finding],
    /// As it was named on the command line.
    pub folder: &'a str,
}

/// Two versions compared, and what journals tell of the new one.
pub struct Comparison<'a> {
    pub old: Version<'a>,
    pub new: Version<'a>,
    pub against: &'a Against,
    pub journals: &'a Journals,
    /// By `CueId` of the new show.
    pub rehearsed: &'a [Rehearsed],
}

/// "mark over-quay of heron": an edit in short, where it is told in full elsewhere.
fn in_short(change: &Change) -> String {
    match &change.subject {
        Subject::Setting(key) => format!("the {key}"),
        Subject::Zone(name) => format!("zone '{name}'"),
        Subject::Pair([one, other]) => format!("pair {one} and {other}"),
        Subject::Input(name) => format!("input '{name}'"),
        Subject::Interlock(name) => format!("interlock '{name}'"),
        Subject::Rig(name) => format!("rig {name}"),
        Subject::Axis { rig, axis, part } => match part {
            AxisPart::Travel => format!("travel of {rig}.{axis}"),
            AxisPart::Limits => format!("limits of {rig}.{axis}"),
            AxisPart::Start => format!("start of {rig}.{axis}"),
            AxisPart::New | AxisPart::Gone | AxisPart::Build => format!("axis {rig}.{axis}"),
        },
        Subject::Mark { rig, mark } => format!("mark {mark} of {rig}"),
        Subject::Cue { number, part } => match part {
            CuePart::New => format!("the new cue {number}"),
            CuePart::Gone => format!("cue {number}, which is gone"),
            CuePart::Moves | CuePart::Start | CuePart::Words => format!("cue {number}"),
        },
    }
}
