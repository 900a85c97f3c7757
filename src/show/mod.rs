//! The show as written: files to typed values, findings with file, line and column.

mod finding;
mod id;
mod model;
mod source;
mod units;

pub use finding::{Code, Finding, Severity};
pub use id::{AtomId, AxisId, CueId, InputId, InterlockId, RigId};
pub use model::*;
pub use source::{Place, Source, Sources};
pub use units::{Displacement, Metres, Nanos, Radians, Unit};

/// What reading a folder gave: all findings of one run, and the show if none of them is an error.
#[derive(Clone, Debug)]
pub struct Reading {
    pub show: Option<Show>,
    pub findings: Vec<Finding>,
    pub sources: Sources,
}
