//! Interlocks on what is in hand. There is no path to look along: each tick it counts which way an axis goes, or would.
//!
//! Whatever an interlock would do to a cue (refuse, hold), what is in hand brakes, and may not start that way; one that stops
//! stops everything as soon as it is not true and the axis moves as it is guarded, unless a hand leads it out slowly. When it is
//! true again nothing goes on: the stick has to be at zero first. How far an axis may go where it is true, tells `fence`.

use crate::engine::fault::Cause;
use crate::engine::tick::Engine;
use crate::show::{AxisId, InterlockId, Otherwise, interlocks_guarding};

/// Of its running speed: what rounding leaves an axis that comes to rest is less, and goes neither way.
const STILL: f64 = 1e-9;

impl Engine {
    /// The speed of an axis in hand, per s; none where that is but rounding.
    pub(in crate::engine) fn speed_in_hand(&self, axis: AxisId) -> f64 {
        let speed = self.setpoints[axis.index()].speed;
        if speed.abs() > STILL * self.show.axis(axis).run.speed { speed } else { 0.0 }
    }

    /// Interlocks that do not permit an axis to move as it does now.
    fn bars(&self, axis: AxisId) -> impl Iterator<Item = InterlockId> + '_ {
        let speed = self.speed_in_hand(axis);
        let guarding = interlocks_guarding(&self.show, axis).filter(move |(_, guard)| guard.minds(speed));
        let barred = move |id: &InterlockId| !self.permits(*id) && !self.is_led_out(*id, axis);
        guarding.map(|(id, _)| id).filter(barred)
    }

    /// An interlock that does not permit an axis to move as it does now.
    pub(in crate::engine) fn bar(&self, axis: AxisId) -> Option<InterlockId> {
        self.bars(axis).next()
    }

    /// What is in hand, moves as it is guarded and may not, where that stops everything.
    pub(in crate::engine) fn supervise_hands(&mut self) {
        let stops = |axis: AxisId| {
            let stops = |id: &InterlockId| self.show.interlocks[id.index()].otherwise == Otherwise::Stop;
            self.bars(axis).find(stops)
        };
        let found = self.show.axis_ids().filter(|&axis| self.is_in_hand(axis)).find_map(stops);
        if let Some(interlock) = found {
            self.stop(Cause::Interlock(interlock));
        }
    }
}
