//! Where interlocks let an axis in hand go.
//!
//! ```text
//!   the interlock permits here         up to where it still does, less the tolerance: the axis comes to rest there
//!   it does not, and this way leads
//!     nearer to where it does          by stick, at the pace of a survey
//!   it does not                        not at all
//! ```
//!
//! An interlock on poses would else shut a hand in where it drove to, since nothing may move there. So a hand brakes before it;
//! and where a rig got there all the same, by a drive that drifted or by an input, a hand leads it out again, and never deeper in.
//! Whatever else would make an interlock untrue under something that moves keeps off as well: of two in hand, and of a hand beside
//! a cue, whoever moves first has the room.

use super::HandEvent;
use super::lever::Wish;
use super::survey::JOG;
use crate::engine::event::EventKind;
use crate::engine::fault::Cause;
use crate::engine::groups::Member;
use crate::engine::reason::Reason;
use crate::engine::request::ClientId;
use crate::engine::status::{WAYS_OUT_MAX, WayOut};
use crate::engine::tick::Engine;
use crate::motion::{Range, State, coast};
use crate::proof::{OneAxis, Progress, moves_guarded};
use crate::show::{
    Atom, AtomId, AxisId, Condition, Guard, InterlockId, Otherwise, RigId, Show, Truth, interlocks_guarding,
};
use arrayvec::ArrayVec;

/// Of its tolerance, by how much an axis that moves in another's hand is taken to be off.
const OFF: f64 = 0.9;
/// Of the speed of a jog, what is still as slow; of the travel, what still is the end.
const ROUNDING: f64 = 1e-6;
const AT_END: f64 = 1e-8;

/// How far an axis may go one way.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Fence {
    pub room: Range,
    /// What ends it first.
    pub by: Option<InterlockId>,
    /// It leads out of where an interlock does not permit.
    pub outward: bool,
}

impl Fence {
    pub const NONE: Fence =
        Fence { room: Range { low: f64::NEG_INFINITY, high: f64::INFINITY }, by: None, outward: false };

    fn until(&mut self, end: f64, way: f64, by: InterlockId) {
        let old = if way > 0.0 { &mut self.room.high } else { &mut self.room.low };
        if (end - *old) * way < 0.0 {
            (*old, self.by) = (end, Some(by));
        }
    }

    /// Its end ahead.
    pub fn end(&self, way: f64) -> f64 {
        if way > 0.0 { self.room.high } else { self.room.low }
    }
}

/// By `AxisId`, the interlocks that ask where it is.
pub fn interlocks_on(show: &Show) -> Vec<Vec<InterlockId>> {
    let asks = |axis: AxisId, atom: AtomId| match &show.atoms[atom.index()] {
        Atom::Above { axis: of, .. } | Atom::Below { axis: of, .. } | Atom::Within { axis: of, .. } => *of == axis,
        Atom::At { pose, .. } => pose.iter().any(|&(of, _)| of == axis),
        Atom::Input(_) | Atom::CueState { .. } | Atom::CuePast { .. } => false,
    };
    let on = |axis: AxisId| {
        let all = show.interlocks.iter().enumerate();
        let of = all.filter(|(_, interlock)| interlock.needs.atoms().into_iter().any(|atom| asks(axis, atom)));
        of.map(|(index, _)| InterlockId::new(index)).collect()
    };
    show.axis_ids().map(on).collect()
}

impl Engine {
    /// How far interlocks let an axis go that way, by a stick or else.
    ///
    /// # Errors
    /// The interlock that does not permit it at all.
    pub(super) fn fence(&self, axis: AxisId, way: f64, by_stick: bool) -> Result<Fence, InterlockId> {
        let (mut fence, at) = (Fence::NONE, self.setpoints[axis.index()].position);
        for (id, _) in interlocks_guarding(&self.show, axis).filter(|(_, guard)| guard.minds(way)) {
            let out = self.seen_by(id, axis, |view| {
                if self.permits(id) && view.permits(at) {
                    return Ok((view.end(at, way), false));
                }
                let leads = by_stick && self.is_slow(axis) && view.leads_out(at, way);
                if leads { Ok((view.way_out(at, way), true)) } else { Err(id) }
            });
            let (end, outward) = out?;
            fence.until(end, way, id);
            fence.outward |= outward;
        }
        for &id in &self.in_hand.asked_by[axis.index()] {
            if self.permits(id) && self.guards_under_way(id, axis) {
                let end = self.seen_by(id, axis, |view| if view.permits(at) { view.end(at, way) } else { at });
                fence.until(end, way, id);
            }
        }
        Ok(fence)
    }

    pub(super) fn permits(&self, id: InterlockId) -> bool {
        self.world.interlocks[id.index()].permits()
    }

    /// Whether an axis goes no faster than in a survey.
    fn is_slow(&self, axis: AxisId) -> bool {
        let jog = JOG * self.show.axis(axis).run.speed;
        self.setpoints[axis.index()].speed.abs() <= jog * (1.0 + ROUNDING)
    }

    /// Whether an axis that moves, though an interlock does not permit it, is led out slowly.
    pub(super) fn is_led_out(&self, id: InterlockId, axis: AxisId) -> bool {
        let (at, speed) = (self.setpoints[axis.index()].position, self.setpoints[axis.index()].speed);
        self.is_slow(axis) && self.seen_by(id, axis, |view| view.leads_out(at, speed))
    }

    /// An interlock as one axis sees it, the others where they may come to rest, or a cue may still take them.
    fn seen_by<T>(&self, id: InterlockId, axis: AxisId, look: impl FnOnce(&OneAxis<'_>) -> T) -> T {
        let said = |atom: AtomId| self.said(id, atom);
        let place = |other: AxisId| self.whereabouts(other);
        let needs = &self.show.interlocks[id.index()].needs;
        look(&OneAxis { show: &self.show, needs, axis, place: &place, said: &said })
    }

    /// A leaf of an interlock that no pose decides, or none that counts.
    fn said(&self, id: InterlockId, atom: AtomId) -> Option<Truth> {
        let settled = match &self.show.atoms[atom.index()] {
            Atom::Input(_) | Atom::CueState { .. } | Atom::CuePast { .. } => true,
            Atom::Above { .. } | Atom::Below { .. } | Atom::Within { .. } | Atom::At { .. } => {
                self.real_guarded(id).is_some() && self.world.is_pretended(&self.show, atom)
            }
        };
        settled.then(|| self.counts_for(self.real_guarded(id), atom))
    }

    /// Where an axis may be: measured; in hand, wherever its brake takes it; moved by a cue, anywhere on what is left of that.
    fn whereabouts(&self, axis: AxisId) -> Option<[f64; 2]> {
        let measured = self.world.position(axis)?;
        let mut place = Range::of(measured, measured);
        if self.is_in_hand(axis) {
            let (from, tolerance) = (self.state_in_hand(axis), self.show.axis(axis).tolerance);
            place = place.with(from.position);
            let moves = self.in_hand.levers[axis.index()].drive.filter(|_| from != State::at_rest(from.position));
            if let Some(coast) = moves.and_then(|drive| coast(from, drive.follower.gliding()).ok()) {
                place = place.with(coast.low - OFF * tolerance).with(coast.high + OFF * tolerance);
            }
        }
        for member in &self.groups.members {
            for step in &self.plan.cue(member.cue).moves {
                for path in step.axes.iter().filter(|path| path.axis == axis) {
                    let [begin, end] = left_of(member, self.plan.cue(member.cue).duration);
                    let Range { low, high } = step.positions(path, begin, end);
                    place = place.with(low).with(high);
                }
            }
        }
        Some([place.low, place.high])
    }

    /// Whether an interlock guards something else that moves as it is guarded, or still will: in hand, or in a cue.
    fn guards_under_way(&self, id: InterlockId, but: AxisId) -> bool {
        let interlock = &self.show.interlocks[id.index()];
        let goes = |guard: &Guard| {
            let by_hand = self.is_in_hand(guard.axis) && guard.minds(self.speed_in_hand(guard.axis));
            by_hand || interlock.otherwise != Otherwise::Refuse && self.is_still_to_move(*guard)
        };
        interlock.guards.iter().any(|guard| guard.axis != but && goes(guard))
    }

    /// Whether a running cue takes an axis the way that it is guarded, on what is left of it.
    fn is_still_to_move(&self, guard: Guard) -> bool {
        self.groups.members.iter().any(|member| {
            let plan = self.plan.cue(member.cue);
            let (way, [begin, end]) = (if member.returning { -1.0 } else { 1.0 }, left_of(member, plan.duration));
            let of_axis = plan.moves.iter().flat_map(|step| step.axes.iter().map(move |path| (step, path)));
            of_axis.filter(|(_, path)| path.axis == guard.axis).any(|(step, path)| {
                let mut from = begin.max(step.delay);
                step.turns(path).chain([step.end()]).map(|to| to.min(end)).any(|to| {
                    let middle = (from + to) / 2.0;
                    let goes = to > from && moves_guarded(plan, guard, middle, way);
                    from = from.max(to);
                    goes
                })
            })
        })
    }

    /// A rig that moves in hand, by which an interlock that permits now may not do so when it has come to rest.
    pub(in crate::engine) fn hand_that_may_break(&self, id: InterlockId) -> Option<(RigId, ClientId)> {
        let needs = &self.show.interlocks[id.index()].needs;
        let moves = |axis: AxisId| self.axes_in_hand_that_move().any(|moving| moving == axis);
        let place = |axis: AxisId| {
            if moves(axis) { self.whereabouts(axis) } else { self.world.position(axis).map(|at| [at, at]) }
        };
        let leaf = |atom: AtomId| {
            let by_pose = || self.show.atoms[atom.index()].over_poses(&self.show, &place).unwrap_or(Truth::Unknown);
            self.said(id, atom).unwrap_or_else(by_pose)
        };
        if !self.permits(id) || needs.judge(&leaf).permits() {
            return None;
        }
        let asked = |axis: &AxisId| self.in_hand.asked_by[axis.index()].contains(&id);
        let rig = self.axes_in_hand_that_move().find(asked).map(|axis| self.show.axis(axis).rig)?;
        Some((rig, self.grip(rig)?.client))
    }

    /// An axis that rests where an interlock ends its way goes on only once its stick was at zero.
    pub(super) fn rest_at_fences(&mut self, rig: RigId) {
        for axis in self.show.rig(rig).axis_ids() {
            let (from, travel) = (self.state_in_hand(axis), self.travel(axis));
            let lever = &mut self.in_hand.levers[axis.index()];
            let way = match lever.wish {
                Wish::Rest => 0.0,
                Wish::Speed(share) => share,
                Wish::Place(target) => target - from.position,
            };
            let Some(interlock) = lever.fence.by.filter(|_| way != 0.0 && from == State::at_rest(from.position))
            else {
                continue;
            };
            let short = (lever.fence.end(way) - from.position) * way.signum();
            if short <= AT_END * (travel.high - travel.low) {
                let told = lever.barred == Some(interlock) && lever.waits;
                lever.barred = Some(interlock);
                lever.let_go();
                if !told {
                    self.outbox.event(EventKind::Hand(HandEvent::Barred { rig, interlock }));
                }
            }
        }
    }

    /// Whether what made everything stop stands, and only a hand ends it, once the latch is clear.
    pub(in crate::engine) fn is_left_by_hand(&self, cause: Cause) -> bool {
        match cause {
            Cause::Interlock(id) => !self.ways_out_of(id).is_empty(),
            Cause::Request(_) | Cause::Fault(_) => false,
        }
    }

    /// For eyes: the ways out of what is in somebody's way.
    pub(in crate::engine) fn fill_ways_out(&mut self) {
        self.status.ways_out.clear();
        for id in (0..self.show.interlocks.len()).map(InterlockId::new) {
            if !self.permits(id) && self.is_in_somebodys_way(id) {
                let room = self.status.ways_out.remaining_capacity();
                let ways = self.ways_out_of(id);
                self.status.ways_out.extend(ways.into_iter().take(room));
            }
        }
    }

    /// Whether an interlock stopped everything, forbids what is on standby or the way to it, or guards what is in hand.
    fn is_in_somebodys_way(&self, id: InterlockId) -> bool {
        let forbids = |reason: &Reason| reason.interlock() == Some(id);
        let stopped = self.latch.stopped().is_some_and(|stopped| {
            stopped.causes.iter().any(|(cause, stands)| *stands && *cause == Cause::Interlock(id))
        });
        let guards = |rig: RigId| {
            self.show.rig(rig).axis_ids().any(|axis| interlocks_guarding(&self.show, axis).any(|(of, _)| of == id))
        };
        stopped
            || self.standby.iter().any(|entry| entry.reasons.reasons.iter().any(forbids))
            || self.route.progress() == Progress::Barred
                && self.route.bars().any(|bar| bar.by.interlock() == Some(id))
            || self.grips().any(|(rig, _)| guards(rig))
    }

    /// The ways by hand out of where an interlock does not permit: each axis that alone comes nearer to where it does.
    pub(in crate::engine) fn ways_out_of(&self, id: InterlockId) -> ArrayVec<WayOut, WAYS_OUT_MAX> {
        let mut ways = ArrayVec::new();
        // What a reset will free does not stand in the way of it.
        let latched = self.latch.is_latched();
        let then = |atom: AtomId| {
            if latched { self.world.after_reset(&self.show, atom, self.tick) } else { self.world.atom(atom) }
        };
        let said = |atom: AtomId| {
            let by_input = matches!(self.show.atoms[atom.index()], Atom::Input(_));
            if by_input { Some(then(atom)) } else { self.said(id, atom) }
        };
        if self.permits(id) || !can_be(&self.show.interlocks[id.index()].needs, true, &said) {
            return ways;
        }
        for axis in self.show.axis_ids().filter(|axis| self.in_hand.asked_by[axis.index()].contains(&id)) {
            let at = self.setpoints[axis.index()].position;
            let known = self.world.position(axis).is_some();
            for way in [-1.0, 1.0].into_iter().filter(|_| known) {
                let out = self.seen_by(id, axis, |view| view.leads_out(at, way).then(|| view.nearest(at, way)));
                let Some(to) = out.filter(|_| self.fence(axis, way, true).is_ok()) else { continue };
                let [low, high] = self.show.axis(axis).reach();
                let _ = ways.try_push(WayOut { interlock: id, axis, to: to.clamp(low, high) });
            }
        }
        ways
    }
}

/// s, from where to where a cue may still run.
fn left_of(member: &Member, duration: f64) -> [f64; 2] {
    if member.returning { [0.0, member.time] } else { [member.time, duration] }
}

/// Whether poses alone can make a condition `wanted`, other leaves as they are.
fn can_be(part: &Condition, wanted: bool, said: &dyn Fn(AtomId) -> Option<Truth>) -> bool {
    match (part, wanted) {
        (Condition::Atom(id), _) => said(*id).is_none_or(|truth| truth == Truth::of(wanted)),
        (Condition::All(parts), true) | (Condition::Any(parts), false) => {
            parts.iter().all(|part| can_be(part, wanted, said))
        }
        (Condition::Any(parts), true) | (Condition::All(parts), false) => {
            parts.iter().any(|part| can_be(part, wanted, said))
        }
        (Condition::Not(part), _) => can_be(part, !wanted, said),
    }
}
