//! Faults of simulated rigs by file: what fails, when, and for how long.
//!
//! ```toml
//! [[fault]]
//! rig = "sloop"
//! axis = "travel"          # of a rig with one axis it need not be named
//! kind = "stuck"
//! cue = "12"               # once cue 12 has run
//! past = 2.0               # for so many s of its own time; or `at`, s from the start of the run
//! for = 4.0                # s; left out, it never ends
//!
//! [[fault]]
//! rig = "sloop"
//! kind = "late"
//! at = 30.0
//! size = 0.15              # s; of other kinds in the axis's unit, or that per s
//! ```
//!
//! The script looks at nothing but the engine's status, once a tick, so that the same file on the same show fails at
//! the same tick every time.

mod read;
mod written;

use crate::engine::Status;
use crate::rig::{SimFault, SimFaults};
use crate::show::{CueId, CueState, Nanos};

pub use read::{ScriptReading, faults_schema, read_faults};

/// When a fault begins.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum When {
    /// So long after the first tick.
    At(Nanos),
    /// Once the cue has run past this time of its own, s, or is done.
    Past { cue: CueId, time: f64 },
}

/// One fault of the file, and how far it has come.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Injection {
    pub fault: SimFault,
    pub when: When,
    /// `None`: it never ends by itself.
    pub lasts: Option<Nanos>,
    /// When it began and ended, from the first tick.
    pub began: Option<Nanos>,
    pub ended: Option<Nanos>,
}

/// The faults of a file, as they begin and end. Each happens once.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct FaultScript {
    injections: Vec<Injection>,
    tick: Nanos,
}

impl FaultScript {
    /// `tick` is the length of one.
    pub fn new(injections: Vec<Injection>, tick: Nanos) -> FaultScript {
        FaultScript { injections, tick }
    }

    /// Begins and ends what is due after the tick of `status`. Allocates nothing; [`crate::rig::Cycle`] calls it once
    /// a tick if it was given a script.
    pub fn turn(&mut self, status: &Status, faults: &SimFaults) {
        let now = Nanos(self.tick.0.saturating_mul(status.tick as i64));
        for index in 0..self.injections.len() {
            let injection = self.injections[index];
            match (injection.began, injection.ended) {
                (None, _) if injection.when.is_due(now, status) => {
                    self.injections[index].began = Some(now);
                    faults.inject(injection.fault);
                }
                (Some(began), None) if injection.lasts.is_some_and(|lasts| now >= began.saturating_add(lasts)) => {
                    self.injections[index].ended = Some(now);
                    faults.end(injection.fault);
                    self.keep_others(injection.fault, faults);
                }
                (None | Some(_), _) => {}
            }
        }
    }

    /// Of two faults of one kind in one place, the one that goes on is not ended with the other.
    fn keep_others(&self, ended: SimFault, faults: &SimFaults) {
        let going_on = self.injections.iter().filter(|other| other.began.is_some() && other.ended.is_none());
        let others = going_on.map(|other| other.fault).filter(|fault| fault.is_as(ended));
        others.filter(|fault| fault.kind().lasts()).for_each(|fault| faults.inject(fault));
    }

    /// Every fault of the file, in its order.
    pub fn injections(&self) -> &[Injection] {
        &self.injections
    }
}

impl When {
    fn is_due(self, now: Nanos, status: &Status) -> bool {
        match self {
            When::At(time) => now >= time,
            When::Past { cue, time } => {
                let running = status.running.iter().any(|running| running.cue == cue && running.time >= time);
                running || status.cues[cue.index()] == CueState::Done
            }
        }
    }
}

#[cfg(test)]
mod tests;
