//! Interlocks, and cues' own `needs`, that the list itself makes false: as a cue starts, along its way, or beside another.
//!
//! Every condition is judged from the poses that the list has, all else being unknown; only what is certainly false is
//! told. A truth changes only where a path passes a threshold ([`super::along`]): along a cue that gives stretches of its
//! time, beside another rectangles of the two times, in each of which a condition is one thing.

mod alone;
mod beside;
mod grid;
#[cfg(test)]
mod tests;
mod told;

pub use alone::find_alone;
pub use beside::find_beside;

use crate::show::{Condition, CueId, InterlockId, Show};

/// What must be true.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Rule {
    Interlock(InterlockId),
    /// Of this cue, from its GO to its end.
    Needs(CueId),
}

impl Rule {
    fn condition(self, show: &Show) -> Option<&Condition> {
        match self {
            Rule::Interlock(id) => Some(&show.interlocks[id.index()].needs),
            Rule::Needs(cue) => show.cue(cue).needs.as_ref(),
        }
    }
}
