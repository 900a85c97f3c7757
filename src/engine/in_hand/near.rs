//! Room for what is in hand: its berth, made larger ahead of it and smaller behind, so that it stops before it comes too near.
//!
//! An axis follows its stick within the berth of its rig, and slows down in time to stop at its end, as it does at the end of its
//! travel. As long as more is proved ahead of it than it needs to stop from the speed that is asked for, nothing is felt; what is
//! in the way is where no more can be proved. Each axis is tried by itself, so that one goes on where another may not.
//!
//! Rigs with berths look at each other's: whoever is first takes the room, the other stops before it.

use super::lever::Wish;
use super::{HandEvent, InHand};
use crate::engine::event::EventKind;
use crate::engine::groups::Member;
use crate::engine::tick::Engine;
use crate::motion::{Bounds, Range, State, coast};
use crate::proof::{Clear, Goer, Plan, Reach};
use crate::show::{AxisId, RigId, Show};

/// Looks of one tick for all hands together, and for one try.
const LOOKS_A_TICK: usize = 192;
const LOOKS_A_TRY: usize = 64;
/// s of motion at the speed that is asked for: as soon as less than the first is proved beyond what a stop takes, so much as
/// the second is tried.
const RESERVE: f64 = 0.06;
const AHEAD: f64 = 0.12;
/// m: where less than this can not be proved, something is in the way.
const FINE: f64 = 2e-3;
/// Of a position, as a part of the travel.
const ROUNDING: f64 = 1e-9;
/// Ticks until that is tried again.
const RETRY_TICKS: u64 = 10;

/// What a cue under way may still run through: on its way back it may be sent on again at any time.
fn goer<'a>(plan: &'a Plan, member: &Member) -> Goer<'a> {
    let plan = plan.cue(member.cue);
    Goer { plan, from: if member.returning { 0.0 } else { member.time }, to: plan.duration }
}

impl InHand {
    /// Where every axis of the show stands at first.
    pub fn reach_at_start(show: &Show) -> Reach {
        let stands: Vec<f64> = show.axes.iter().map(|axis| axis.start).collect();
        Reach { low: stands.clone(), high: stands, off: show.axes.iter().map(|axis| axis.tolerance).collect() }
    }

    pub fn room(&self, axis: AxisId) -> Range {
        Range { low: self.reach.low[axis.index()], high: self.reach.high[axis.index()] }
    }

    fn set_room(&mut self, axis: AxisId, room: Range) {
        (self.reach.low[axis.index()], self.reach.high[axis.index()]) = (room.low, room.high);
    }

    /// What an axis may be off where it is taken to be: in hand its setpoint counts.
    pub fn set_off(&mut self, axis: AxisId, off: f64) {
        self.reach.off[axis.index()] = off;
    }
}

impl Engine {
    pub(in crate::engine) fn looks_for_hands() -> usize {
        LOOKS_A_TICK
    }

    /// Takes in where everything stands that is not in hand. What has changed undoes the proof of every berth.
    pub(in crate::engine) fn look_around(&mut self) {
        for axis in self.show.axis_ids() {
            if self.in_hand.berths.lever(axis) == 0.0 || self.is_in_hand(axis) {
                continue;
            }
            let goes = self.groups.members.iter().any(|member| self.axes_of(member.cue).any(|owned| owned == axis));
            let (setpoint, tolerance) = (self.setpoints[axis.index()].position, self.show.axis(axis).tolerance);
            let held = self.in_hand.room(axis).low;
            let measured = self.world.position(axis).filter(|measured| (measured - setpoint).abs() > tolerance);
            let stands = match measured {
                Some(measured) if (measured - held).abs() > tolerance => measured,
                Some(_) => held,
                None => setpoint,
            };
            if stands != held {
                self.in_hand.set_room(axis, Range { low: stands, high: stands });
                if !goes {
                    self.in_hand.grips.iter_mut().flatten().for_each(|grip| grip.proved = false);
                }
            }
        }
    }

    /// Sees to it that the berth of a rig in hand is proved, and enlarges it where its axes are asked to go.
    pub(in crate::engine) fn make_room(&mut self, rig: RigId, looks: &mut usize) {
        if !self.in_hand.berths.concerns(rig) {
            return;
        }
        let wished = |axis: AxisId| self.in_hand.levers[axis.index()].wish != Wish::Rest;
        let asked = self.show.rig(rig).axis_ids().any(wished);
        let (rests, proved) = (self.bodies_rest_in_hand(rig), self.grip(rig).is_some_and(|grip| grip.proved));
        if !proved || rests && asked {
            self.show.rig(rig).axis_ids().for_each(|axis| self.draw_in(axis, 0.0));
        }
        if rests && asked {
            // Where it stands it may start from, however near that is.
            let InHand { berths, reach, .. } = &mut self.in_hand;
            berths.settle(&self.show, rig, reach);
            self.set_proved(rig, true);
        } else if !rests && !proved {
            self.prove_anew(rig, looks);
        }
        if self.grip(rig).is_some_and(|grip| grip.proved) {
            for axis in self.show.rig(rig).axis_ids() {
                self.enlarge(rig, axis, looks);
            }
        }
    }

    /// A cue starts: what stands in hand was not looked at but where it stands.
    pub(in crate::engine) fn doubt_berths(&mut self) {
        for rig in self.show.rig_ids() {
            if !self.moves_in_hand(rig) {
                self.set_proved(rig, false);
            }
        }
    }

    /// An axis is put where it is measured, as its power comes on: there its room is, and nothing is known of it.
    pub(in crate::engine) fn stand_in_hand(&mut self, rig: RigId, axis: AxisId) {
        let position = self.setpoints[axis.index()].position;
        self.in_hand.set_room(axis, Range { low: position, high: position });
        self.set_proved(rig, false);
    }

    fn set_proved(&mut self, rig: RigId, proved: bool) {
        if let Some(grip) = &mut self.in_hand.grips[rig.index()] {
            grip.proved = proved;
        }
    }

    /// Something else has moved: unless the berth is clear of it too, the rig brakes.
    fn prove_anew(&mut self, rig: RigId, looks: &mut usize) {
        let found = self.is_clear(rig, looks);
        if found == Clear::Yes {
            self.set_proved(rig, true);
            return;
        }
        for axis in self.show.rig(rig).axis_ids() {
            let lever = &mut self.in_hand.levers[axis.index()];
            lever.let_go();
            lever.wish = Wish::Rest;
            lever.near = if let Clear::No(near) = found { Some(near) } else { lever.near };
        }
    }

    /// Whether all of what the reach of a rig is now is clear.
    fn is_clear(&mut self, rig: RigId, looks: &mut usize) -> Clear {
        let InHand { berths, reach, .. } = &mut self.in_hand;
        let (plan, members) = (&self.plan, &self.groups.members);
        let mut of_try = LOOKS_A_TRY.min(*looks);
        let before = of_try;
        let found =
            berths.clear(&self.show, rig, reach, members.iter().map(|member| goer(plan, member)), &mut of_try);
        *looks -= before - of_try;
        found
    }

    /// Tries for more room ahead of an axis, if it needs it.
    fn enlarge(&mut self, rig: RigId, axis: AxisId, looks: &mut usize) {
        let Some((speed, most)) = self.asked_of(axis) else { return };
        let lever = &self.in_hand.levers[axis.index()];
        let (room, from) = (self.in_hand.room(axis), self.state_in_hand(axis));
        let end = if speed > 0.0 { room.high } else { room.low };
        let way = speed.signum();
        let Some(drive) = lever.drive else { return };
        let gliding = drive.follower.gliding();
        let stop = stopping_distance(speed.abs().max(from.speed.abs()), gliding);
        // Under way to that speed it needs more: what it gains while its acceleration is taken away.
        let coasts = coast(from, gliding).map_or(0.0, |coast| (coast.high - coast.low).abs());
        let stop = stop.max(coasts);
        let proved = (end - from.position) * way;
        let due = proved < stop + speed.abs() * RESERVE;
        let fine = FINE / self.in_hand.berths.lever(axis);
        let wanted = (stop + speed.abs() * AHEAD).max(2.0 * fine).min((most - from.position) * way);
        let missing = wanted - proved;
        if !due || missing <= 0.0 || from.speed * speed < 0.0 || self.tick < lever.retry || *looks == 0 {
            return;
        }
        let step = missing.min(lever.step);
        let slab = Range::of(end, end + way * step);
        self.in_hand.set_room(axis, slab);
        let found = self.is_clear(rig, looks);
        let room = if found == Clear::Yes { room.with(end + way * step) } else { room };
        self.in_hand.set_room(axis, room);
        let tick = self.tick;
        let lever = &mut self.in_hand.levers[axis.index()];
        match found {
            Clear::Yes => {
                lever.step = 2.0 * step;
                if step == missing {
                    (lever.near, lever.blocked) = (None, false);
                }
            }
            Clear::No(_) | Clear::Unknown => {
                lever.step = (step / 2.0).max(fine);
                lever.near = if let Clear::No(near) = found { Some(near) } else { lever.near };
                if step <= fine {
                    (lever.blocked, lever.retry) = (true, tick + RETRY_TICKS);
                }
            }
        }
    }

    /// The speed that an axis with bodies is asked for, per s, and the farthest that it is to go.
    fn asked_of(&self, axis: AxisId) -> Option<(f64, f64)> {
        let lever = &self.in_hand.levers[axis.index()];
        let follower = &lever.drive.as_ref().filter(|_| self.in_hand.berths.lever(axis) > 0.0)?.follower;
        let ([low, high], fence) = (self.show.axis(axis).reach(), lever.fence.room);
        let (low, high, pace) = (low.max(fence.low), high.min(fence.high), self.pace(axis));
        let position = self.setpoints[axis.index()].position;
        let (speed, most) = match lever.wish {
            Wish::Rest => return None,
            Wish::Speed(share) => {
                (follower.speed_for(share * pace, self.master), if share > 0.0 { high } else { low })
            }
            Wish::Place(target) => {
                (follower.speed_for(pace * (target - position).signum(), self.master), target.max(low).min(high))
            }
        };
        (speed != 0.0).then_some((speed, most))
    }

    /// Gives up what lies behind the axes of a rig, and ahead of those that are asked for nothing. One that has come to rest
    /// since something is in its way goes on only once its stick has been at zero.
    pub(in crate::engine) fn give_up_room(&mut self, rig: RigId) {
        for axis in self.show.rig(rig).axis_ids() {
            let from = self.state_in_hand(axis);
            let asked = self.asked_of(axis).map_or(0.0, |(speed, _)| speed);
            let lever = &mut self.in_hand.levers[axis.index()];
            if lever.blocked && from == State::at_rest(from.position) {
                lever.let_go();
                lever.blocked = false;
                if let Some(near) = lever.near {
                    self.outbox.event(EventKind::Hand(HandEvent::Stopped { rig, near }));
                }
            }
            self.draw_in(axis, asked);
        }
    }

    /// Whether an axis, braked from now on, comes to rest in the room that was proved.
    pub(in crate::engine) fn stays_in_berth(&self, axis: AxisId) -> bool {
        let lever = &self.in_hand.levers[axis.index()];
        let Some(drive) = lever.drive.filter(|_| self.in_hand.berths.lever(axis) > 0.0) else { return true };
        let bounds = if self.is_stopping() { &drive.stopping } else { drive.follower.bounds() };
        let (room, [low, high]) = (self.in_hand.room(axis), self.show.axis(axis).reach());
        let slack = ROUNDING * (high - low);
        let stays = |coast: Range| coast.low >= room.low - slack && coast.high <= room.high + slack;
        coast(self.state_in_hand(axis), bounds).is_ok_and(stays)
    }

    /// Gives up the room of an axis but for what its brake needs, and what lies ahead of it as it is asked to go.
    fn draw_in(&mut self, axis: AxisId, asked: f64) {
        let (from, room) = (self.state_in_hand(axis), self.in_hand.room(axis));
        let Some(drive) = self.in_hand.levers[axis.index()].drive else { return };
        let bounds = if self.is_stopping() { &drive.stopping } else { drive.follower.gliding() };
        let needs = coast(from, bounds).unwrap_or(Range::of(from.position, from.position));
        // A hair more, so that the axis may end a hair before the end of its room, as it does.
        let hair = ROUNDING * (self.travel(axis).high - self.travel(axis).low);
        let needs = Range { low: needs.low - hair, high: needs.high + hair };
        let low = if asked < 0.0 { room.low } else { room.low.max(needs.low) };
        let high = if asked > 0.0 { room.high } else { room.high.min(needs.high) };
        self.in_hand.set_room(axis, Range { low, high }.with(from.position));
    }
}

/// From a speed to rest, jerk-limited: Biagiotti and Melchiorri, 2008, section 3.4, with the other end at rest.
pub(super) fn stopping_distance(speed: f64, bounds: &Bounds) -> f64 {
    let (acceleration, jerk) = (bounds.acceleration().high, bounds.jerk().high);
    if speed * jerk >= acceleration * acceleration {
        speed / 2.0 * (speed / acceleration + acceleration / jerk)
    } else {
        speed * (speed / jerk).sqrt()
    }
}
