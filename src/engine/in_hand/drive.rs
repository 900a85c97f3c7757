//! The axes in hand, one tick on.

use super::fence::Fence;
use super::lever::{Drive, Lever, Wish};
use super::near::stopping_distance;
use crate::engine::fault_table::Reaction;
use crate::engine::io::Setpoint;
use crate::engine::tick::Engine;
use crate::motion::{Impossible, Passage, Range, Regime, State, Step, brake};
use crate::proof::meet;
use crate::show::{AxisId, RigId};

impl Engine {
    /// Lets every axis in hand follow its stick or its dial, or come to rest.
    pub(in crate::engine) fn drive_hands(&mut self) {
        if self.grips().next().is_none() {
            return;
        }
        self.look_around();
        let mut looks = Engine::looks_for_hands();
        let rigs = self.show.rigs.len();
        // Another is first in each tick, so that nobody is left without looks.
        let first = (self.tick % rigs as u64) as usize;
        for rig in (first..rigs).chain(0..first).map(RigId::new) {
            if self.grip(rig).is_some() {
                self.drive_rig(rig, &mut looks);
            }
        }
        self.free_grips();
    }

    fn drive_rig(&mut self, rig: RigId, looks: &mut usize) {
        self.go_on_trying(rig);
        if self.is_stopping() {
            self.pause_focus(rig);
        }
        self.keep_focus(rig);
        for axis in self.show.rig(rig).axis_ids() {
            if self.replaced[axis.index()] {
                self.stand_in_hand(rig, axis);
            }
            self.in_hand.levers[axis.index()].wish =
                if self.is_stopping() { Wish::Rest } else { self.wish(rig, axis) };
        }
        if !self.is_stopping() {
            self.make_room(rig, looks);
        }
        self.show.rig(rig).axis_ids().for_each(|axis| self.drive(rig, axis));
        if !self.is_stopping() {
            self.rest_at_fences(rig);
        }
        self.give_up_room(rig);
    }

    fn drive(&mut self, rig: RigId, axis: AxisId) {
        let Some(drive) = self.in_hand.levers[axis.index()].drive else { return };
        let from = self.state_in_hand(axis);
        let step = if self.is_stopping() {
            self.in_hand.levers[axis.index()].let_go();
            brake(from, &drive.stopping, self.period.seconds())
        } else {
            self.follow(axis, &drive, from)
        };
        // There is always a step from a state that is a number, and setpoints are.
        if let Ok(Step { setpoint, .. }) = step {
            let (position, speed, acceleration) = (setpoint.position, setpoint.speed, setpoint.acceleration);
            self.setpoints[axis.index()] = Setpoint { position, speed, acceleration, jerk: setpoint.jerk };
            if from == State::at_rest(from.position) && position != from.position {
                self.give_up_stopped(rig);
            }
        }
    }

    /// Cues that were stopped on the way of this rig's carriage lose their place: it stands elsewhere from now on.
    fn give_up_stopped(&mut self, rig: RigId) {
        if self.groups.parked.is_empty() {
            return;
        }
        let (show, plan) = (&self.show, &self.plan);
        self.groups.abandon(|parked| {
            let mut axes = plan.cue(parked).moves.iter().flat_map(|step| &step.axes);
            axes.any(|path| show.rig(rig).axis_ids().any(|own| meet(show, own, path.axis)))
        });
        self.regroup_parked();
    }

    fn follow(&self, axis: AxisId, drive: &Drive, from: State) -> Result<Step, Impossible> {
        let pace = self.pace(axis);
        let (follower, full) = (&drive.follower, drive.follower.speed_for(pace, self.master));
        // What carries no body has its travel to itself.
        let carries = self.in_hand.berths.lever(axis) > 0.0;
        let room = if carries { self.in_hand.room(axis) } else { self.travel(axis) };
        let Fence { room: fence, .. } = self.in_hand.levers[axis.index()].fence;
        let ends = [fence.low, fence.high].map(|end| end.clamp(room.low, room.high));
        let room = Range::of(ends[0], ends[1]);
        match self.in_hand.levers[axis.index()].wish {
            Wish::Rest => follower.step(from, 0.0, room),
            Wish::Speed(share) => follower.step(from, follower.speed_for(share * pace, self.master), room),
            Wish::Place(_) if full == 0.0 => follower.step(from, 0.0, room),
            Wish::Place(target) => follower.approach(from, target, full, room),
        }
    }

    /// What the hand on an axis asks for, as far as it is allowed.
    fn wish(&mut self, rig: RigId, axis: AxisId) -> Wish {
        let (tick, travel) = (self.tick, self.travel(axis));
        let Setpoint { position, speed, .. } = self.setpoints[axis.index()];
        let gone = self.grip(rig).is_none_or(|grip| grip.let_go);
        let held = self.faults.present.iter().any(|fault| fault.reaction() == Reaction::Hold);
        let lever = &mut self.in_hand.levers[axis.index()];
        lever.miss(tick);
        if gone || held {
            lever.let_go();
            lever.followed = None;
            self.pause_focus(rig);
        }
        let wish = self.in_hand.levers[axis.index()].asks(travel);
        let (way, by_stick) = match wish {
            Wish::Rest => (0.0, false),
            Wish::Speed(share) => (share, true),
            Wish::Place(target) => (target - position, false),
        };
        self.in_hand.levers[axis.index()].fence = Fence::NONE;
        if way == 0.0 {
            return wish;
        }
        let turns = if speed * way < 0.0 { self.fence(axis, speed, by_stick).map(|_| ()) } else { Ok(()) };
        let fence = turns.and_then(|()| self.fence(axis, way, by_stick));
        let lever = &mut self.in_hand.levers[axis.index()];
        match fence {
            Ok(fence) => {
                self.keep_to(axis, fence, way);
                wish
            }
            Err(interlock) => {
                lever.let_go();
                lever.barred = Some(interlock);
                if lever.followed.take().is_some() {
                    self.pause_focus(rig);
                }
                Wish::Rest
            }
        }
    }

    /// An interlock that ends the way of an axis is told of as soon as that is felt.
    fn keep_to(&mut self, axis: AxisId, fence: Fence, way: f64) {
        let position = self.setpoints[axis.index()].position;
        let lever = &mut self.in_hand.levers[axis.index()];
        (lever.fence, lever.outward) = (fence, lever.outward || fence.outward);
        let Some(drive) = lever.drive else { return };
        let stop = stopping_distance(drive.follower.speed_for(1.0, 1.0), drive.follower.gliding());
        let felt = (fence.end(way) - position) * way.signum() <= stop;
        lever.barred = fence.by.filter(|_| felt);
    }

    pub(super) fn travel(&self, axis: AxisId) -> Range {
        let [low, high] = self.show.axis(axis).reach();
        Range { low, high }
    }

    pub(in crate::engine) fn state_in_hand(&self, axis: AxisId) -> State {
        let Setpoint { position, speed, acceleration, .. } = self.setpoints[axis.index()];
        State { position, speed, acceleration }
    }

    /// Whether nothing may go on but to come to rest.
    pub(in crate::engine) fn is_stopping(&self) -> bool {
        self.latch.is_latched() || !self.armed
    }

    /// s, from a stop asked for now until every axis in hand stands.
    pub(in crate::engine) fn stop_bound_of_hands(&self) -> f64 {
        let bound = |axis: AxisId| {
            let drive = self.in_hand.levers[axis.index()].drive?;
            Passage::stop(self.state_in_hand(axis), &drive.stopping).ok().map(|stop| stop.duration())
        };
        let in_hand = self.show.axis_ids().filter(|&axis| self.is_in_hand(axis));
        in_hand.filter_map(bound).fold(0.0, f64::max)
    }

    /// The sticks of everything in hand have to be at zero before they count.
    pub(in crate::engine) fn let_go_of_sticks(&mut self) {
        self.in_hand.levers.iter_mut().for_each(Lever::let_go);
        self.pause_all_focuses();
    }

    /// While a stop brakes what is in hand, the stopping limits hold for it.
    pub(in crate::engine) fn note_regimes_of_hands(&mut self) {
        if !self.is_stopping() {
            return;
        }
        for axis in self.show.axis_ids() {
            let Setpoint { speed, acceleration, .. } = self.setpoints[axis.index()];
            if self.is_in_hand(axis) && (speed != 0.0 || acceleration != 0.0) {
                self.regimes[axis.index()] = Regime::Stopping;
            }
        }
    }
}
