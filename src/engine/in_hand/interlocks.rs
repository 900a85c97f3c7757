//! Interlocks on what is in hand. There is no path to look along: each tick it counts which way an axis goes, or would.
//!
//! Whatever an interlock would do to a cue (refuse, hold), what is in hand brakes, and may not start that way; one that stops
//! stops everything as soon as it is not true and the axis moves as it is guarded. When it is true again nothing goes on: the
//! stick has to be at zero first.

use crate::engine::fault::Cause;
use crate::engine::tick::Engine;
use crate::show::{AxisId, InterlockId, Otherwise, interlocks_guarding};

impl Engine {
    /// An interlock that does not permit an axis to go at this speed, or in its direction.
    pub(in crate::engine) fn bar(&self, axis: AxisId, speed: f64) -> Option<InterlockId> {
        self.bars(axis, speed).next()
    }

    fn bars(&self, axis: AxisId, speed: f64) -> impl Iterator<Item = InterlockId> + '_ {
        let guarding = interlocks_guarding(&self.show, axis).filter(move |(_, guard)| guard.minds(speed));
        guarding.map(|(id, _)| id).filter(|id| !self.world.interlocks[id.index()].permits())
    }

    /// What is in hand, moves as it is guarded and may not, where that stops everything.
    pub(in crate::engine) fn supervise_hands(&mut self) {
        let stops = |axis: AxisId| {
            let speed = self.setpoints[axis.index()].speed;
            let stops = |id: &InterlockId| self.show.interlocks[id.index()].otherwise == Otherwise::Stop;
            self.bars(axis, speed).find(stops)
        };
        let found = self.show.axis_ids().filter(|&axis| self.is_in_hand(axis)).find_map(stops);
        if let Some(interlock) = found {
            self.stop(Cause::Interlock(interlock));
        }
    }
}
