//! Cues beside each other: whether their maps let one start, or go back, while others are under way.
//!
//! Running cues share one rate, so from the start of the later on they stand on one line of their map. What is not on
//! it is looked at by itself: a cue that waits at its start, as it is taken into the rate; what has ended meanwhile, where
//! a cue goes back; and a stopped cue, which is given up when another starts, unless the two are clear all over.

use arrayvec::ArrayVec;

use super::groups::Member;
use super::reason::Reason;
use super::refusal::Refusal;
use super::tick::Engine;
use crate::proof::{Company, Plan, Stretch, path_of};
use crate::show::{AxisId, CueId};

/// Clear spans that are told of a standby.
pub const SPANS_MAX: usize = 4;
/// s; a span shorter than this is none for a hand.
const SHORTEST: f64 = 0.1;
/// Blocked stretches that are kept while the clear ones are looked for.
const BLOCKED_MAX: usize = 32;

/// When a standby may be fired, s of the show's clock from now; `to` is `None` where nothing ends it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ClearSpan {
    pub from: f64,
    pub to: Option<f64>,
}

/// Whether a cue moves anything at all.
pub fn moves(plan: &Plan, cue: CueId) -> bool {
    plan.cue(cue).duration > 0.0
}

/// What the maps say of a cue that starts while another is at `time` s.
pub fn company(plan: &Plan, cue: CueId, other: CueId, time: f64) -> Company {
    if moves(plan, cue) && moves(plan, other) { plan.maps.company(cue, other, time) } else { Company::Clear }
}

/// Whether a member that stands at its start may join those that run.
pub fn may_join(plan: &Plan, member: &Member, members: &[Member]) -> bool {
    let beside = members.iter().filter(|other| other.joined && other.cue != member.cue);
    beside.into_iter().all(|other| company(plan, member.cue, other.cue, other.time) == Company::Clear)
}

impl Engine {
    /// Cues that run or wait and come too near if this one starts now, or of which that is not proved.
    pub(super) fn company_reasons(&self, cue: CueId, refusal: &mut Refusal) {
        for member in self.groups.members.iter().filter(|member| member.cue != cue) {
            self.beside(cue, member.cue, member.time, refusal);
        }
        // One that waits may never come: it must be clear of all of this one where it stands.
        for wait in self.waits.iter().filter(|wait| wait.cue < cue && self.moves_bodies(wait.cue)) {
            self.beside(cue, wait.cue, -self.plan.cue(cue).duration, refusal);
        }
    }

    fn beside(&self, cue: CueId, other: CueId, time: f64, refusal: &mut Refusal) {
        match company(&self.plan, cue, other, time) {
            Company::Clear => {}
            // Where the list keeps two apart, what does so says more.
            Company::Unproved if !refusal.is_empty() => {}
            Company::Unproved => refusal.push(Reason::NotProvedTogether { cue: other }),
            Company::Blocked(obstacle) => refusal.push(Reason::InTheWay {
                cue: other,
                time: time.max(0.0),
                bodies: obstacle.parties,
                distance: obstacle.distance,
                margin: obstacle.margin,
                clears: obstacle.clears,
            }),
        }
    }

    fn moves_bodies(&self, cue: CueId) -> bool {
        self.axes_of(cue).any(|axis| self.show.axis(axis).joint.is_some())
    }

    /// What has ended since a cue was fired stands elsewhere than when the cue passed here.
    pub(super) fn ended_since_reasons(&self, member: &Member, refusal: &mut Refusal) {
        for other in self.ended_since(member) {
            self.beside(member.cue, other, self.plan.cue(other).duration, refusal);
        }
    }

    /// Whether or not the list was taken back before them meanwhile: their rigs stand where they took them.
    fn ended_since(&self, member: &Member) -> impl Iterator<Item = CueId> + '_ {
        let (cue, fired_at) = (member.cue, member.fired_at);
        self.show.cue_ids().filter(move |&other| other != cue && self.done_at[other.index()] >= fired_at)
    }

    /// Rigs with bodies that stand still while stopped or held cues go on or back must stand where the cues were proved
    /// beside them.
    pub(super) fn standing_reasons(&self, going: &[Member], refusal: &mut Refusal) {
        for axis in self.axes_with_bodies() {
            // What else runs is clear of these all over, wherever it is.
            if going.iter().chain(&self.groups.members).any(|member| self.owns(member.cue, axis)) {
                continue;
            }
            let Some(measured) = self.world.position(axis) else {
                refusal.push(Reason::PoseUnknown { axis });
                continue;
            };
            let tolerance = self.show.axis(axis).tolerance;
            let at = |position: f64| (measured - position).abs() <= tolerance;
            if let Some(member) = going.iter().find(|member| !self.was_proved_beside(member, axis, at)) {
                let expected = self.plan.cue(member.cue).start[axis.index()];
                refusal.push(Reason::OtherPose { axis, expected, measured, tolerance });
            }
        }
    }

    /// Whether an axis that stands still is where the list leaves it, where a live proof found the cue clear of it, where a
    /// cue that has ended since left it, or where one that still waits begins; or, of cues that are clear of this one all over, where a stop left it on the way of one, or
    /// where one has gone back to since.
    fn was_proved_beside(&self, member: &Member, axis: AxisId, at: impl Fn(f64) -> bool) -> bool {
        let index = axis.index();
        let (start, end) =
            (|cue: CueId| self.plan.cue(cue).start[index], |cue: CueId| self.plan.cue(cue).end[index]);
        let waits = self.waits.iter().chain(&self.parked_waits).map(|wait| wait.cue);
        let clear = |cue: CueId| self.owns(cue, axis) && self.plan.maps.clear_all_over(member.cue, cue);
        let back = |cue: CueId| self.back_at[cue.index()] >= member.fired_at && clear(cue);
        let parked = self.groups.parked.iter().filter(|parked| clear(parked.cue));
        at(start(member.cue))
            || self.is_proved_beside(member.cue, self.show.axis(axis).rig)
            || self.ended_since(member).any(|cue| self.owns(cue, axis) && at(end(cue)))
            || waits.filter(|&cue| cue < member.cue && self.owns(cue, axis)).any(|cue| at(start(cue)))
            || parked.filter_map(|parked| self.stopped_at(parked, axis)).any(&at)
            || self.show.cue_ids().any(|cue| back(cue) && at(start(cue)))
    }

    pub(super) fn owns(&self, cue: CueId, axis: AxisId) -> bool {
        self.axes_of(cue).any(|owned| owned == axis)
    }

    /// Where on its way a stopped cue left an axis.
    fn stopped_at(&self, parked: &Member, axis: AxisId) -> Option<f64> {
        let (step, path) = path_of(self.plan.cue(parked.cue), axis)?;
        Some(step.bent(path, self.groups.ways.of(axis), parked.time).position)
    }

    /// When a standby may be fired beside what runs; nothing to tell if that is always.
    pub(super) fn clear_spans(&self, cue: CueId) -> ArrayVec<ClearSpan, SPANS_MAX> {
        let mut blocked: ArrayVec<Stretch, BLOCKED_MAX> = ArrayVec::new();
        for member in self.groups.members.iter().filter(|member| member.cue != cue) {
            let (other, duration) = (member.cue, self.plan.cue(member.cue).duration);
            if moves(&self.plan, cue) && moves(&self.plan, other) {
                let pace = self.groups.pace(member.group);
                self.plan.maps.blocked_ahead(cue, other, member.time, duration, |stretch| {
                    let stretch = Stretch { from: stretch.from / pace, to: stretch.to / pace };
                    // Full it takes the rest into its last, which is the safe way to be wrong.
                    if let Err(full) = blocked.try_push(stretch)
                        && let Some(last) = blocked.last_mut()
                    {
                        let left = full.element();
                        *last = Stretch { from: last.from.min(left.from), to: last.to.max(left.to) };
                    }
                });
            }
        }
        blocked.sort_unstable_by(|a, b| a.from.total_cmp(&b.from));
        let (mut spans, mut from) = (ArrayVec::new(), 0.0_f64);
        for stretch in &blocked {
            if stretch.from - from >= SHORTEST && !spans.is_full() {
                spans.push(ClearSpan { from, to: Some(stretch.from) });
            }
            from = from.max(stretch.to);
        }
        if !blocked.is_empty() && !spans.is_full() {
            spans.push(ClearSpan { from, to: None });
        }
        spans
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::engine::clocks::ClockId;
    use crate::engine::groups::Member;
    use crate::proof::prove;
    use crate::show::fixture::show_of;

    #[test]
    fn who_waits_at_its_start_joins_only_where_those_that_run_are_clear_of_it() {
        let rig = |at: &str, along: &str, start: f64| {
            format!(
                "kind = \"machine\"\nat = {at}\n[[axis]]\nname = \"way\"\nunit = \"m\"\ntravel = [0.0, 6.0]\nstart = {start:?}\n\
                 speed = 1.0\nacceleration = 1.0\njerk = 2.0\njoint = {{ slide = \"{along}\", at = [0.0, 0.0, 0.0] }}\n\
                 bodies = [{{ sphere = {{ at = [0.0, 0.0, 0.0], radius = 0.3 }} }}]\n"
            )
        };
        let cue = |number: usize, rig: &str, to: f64, time: f64| {
            format!(
                "[[cue]]\nnumber = \"{number}\"\nname = \"{number}\"\n\
                 move = [{{ rig = \"{rig}\", to = {{ way = {to:?} }}, time = {time:?} }}]\n"
            )
        };
        let cues = cue(1, "boom", 2.0, 14.0) + &cue(2, "lamp", 1.0, 6.0);
        let show = show_of(&[
            ("show.toml", "[show]\nname = \"Two\"\nmargin = 0.3\nreact = 0.1\n".to_owned()),
            ("rigs/boom.toml", rig("[0.0, 0.0, 1.5]", "x", 0.0)),
            ("rigs/lamp.toml", rig("[0.0, 0.0, 0.0]", "z", 5.0)),
            ("cues/all.toml", cues),
        ]);
        let plan = prove(&show).plan;
        let member = |cue: usize, time: f64, joined: bool| Member {
            cue: CueId::new(cue),
            time,
            joined,
            fired_by: None,
            fired_at: 1,
            pace: 1.0,
            group: CueId::new(cue),
            clock: ClockId::REST,
            returning: false,
        };
        let lamp = member(1, 0.0, false);
        let may = |boom: Member| may_join(&plan, &lamp, &[boom, lamp]);
        assert!(!may(member(0, 0.1, true)), "it would come down on the boom");
        assert!(may(member(0, 10.0, true)));
        assert!(may(member(0, 0.1, false)), "what has not begun is looked at when it does");
    }
}
