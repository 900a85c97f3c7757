//! The inputs of a run, recorded tick by tick, and replayed to the bit.
//!
//! The engine is a pure function, so that its inputs are the whole story: whoever has them has the run. A digest of
//! each tick's outputs stands beside its inputs and shows a replay that differs.

use std::fmt;
use std::sync::Arc;

use serde::{Deserialize, Serialize};

use crate::engine::{AxisReport, Engine, Request, RigReport, StopCalls, TickInput, TickOutput};
use crate::proof::Plan;
use crate::show::{Nanos, Show};

/// Everything that came in at one tick, and the digest of what went out.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Entry {
    pub stop: StopCalls,
    pub requests: Vec<Request>,
    pub rigs: Vec<RigReport>,
    pub axes: Vec<AxisReport>,
    pub late: Nanos,
    pub digest: u64,
}

impl Entry {
    pub fn input(&self) -> TickInput<'_> {
        TickInput { stop: self.stop, requests: &self.requests, rigs: &self.rigs, axes: &self.axes, late: self.late }
    }
}

/// The first tick whose replay gave other outputs than the run.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Difference {
    /// From 1.
    pub tick: usize,
    pub recorded: u64,
    pub replayed: u64,
}

impl fmt::Display for Difference {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "tick {}: the run gave {:016x}, the replay {:016x}", self.tick, self.recorded, self.replayed)
    }
}

/// Runs a fresh engine over the recorded inputs.
///
/// # Errors
/// The first tick at which its outputs differ.
pub fn replay<'a>(
    show: &Arc<Show>,
    plan: &Arc<Plan>,
    entries: impl IntoIterator<Item = &'a Entry>,
) -> Result<(), Difference> {
    let mut engine = Engine::new(show.clone(), plan.clone());
    for (index, entry) in entries.into_iter().enumerate() {
        let replayed = digest(&engine.tick(entry.input()));
        if replayed != entry.digest {
            return Err(Difference { tick: index + 1, recorded: entry.digest, replayed });
        }
    }
    Ok(())
}

/// FNV-1a over every bit of the setpoints and commands, and over answers and events in their order.
pub fn digest(output: &TickOutput<'_>) -> u64 {
    let mut hash = 0xcbf2_9ce4_8422_2325_u64;
    let mut add = |word: u64| hash = (hash ^ word).wrapping_mul(0x0100_0000_01b3);
    for setpoint in output.setpoints {
        for value in [setpoint.position, setpoint.speed, setpoint.acceleration, setpoint.jerk] {
            add(value.to_bits());
        }
    }
    for rig in output.rigs {
        add(u64::from(rig.enable) * 2 + u64::from(rig.heartbeat));
    }
    for answer in output.answers {
        add(answer.id.0);
        add(u64::from(answer.outcome.is_ok()));
        add(answer.outcome.as_ref().err().map_or(0, |refusal| refusal.reasons.len() as u64));
    }
    for event in output.events {
        add(event.seq);
    }
    hash
}
