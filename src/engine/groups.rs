//! The running cues, in groups of one rate each.
//!
//! Cues that run together stand on one line of their map, along which they were proved clear, and must not leave it.
//! So all whose maps are not wholly clear, linked through others too, form one group with one rate, limited by all their
//! axes; hold, resume and return act on a group, stop and master on every group. What is clear of it all over goes on, or
//! brakes alone. A follow that waits belongs to the group of the cue that it follows, and to that of those which it will be
//! linked with ([`super::grouping`]).
//!
//! All of a group go by one clock ([`super::clocks`]): where it falls apart, each part goes on as it was, by one of its own. Where one
//! comes that binds several, it stands at its start until they run at one rate.
//!
//! ```text
//!            GO, follow                   end of the cue
//!   fired ──────────────▶ joined ────────────────────────▶ done
//!                          │  ▲
//!                     stop │  │ standby and GO
//!                          ▼  │
//!                         parked
//! ```

use arrayvec::ArrayVec;

use super::clock::Clock;
use super::clocks::{ClockId, Clocks};
use super::company::may_join;
use super::request::ClientId;
use super::status::RUNNING_MAX;
use super::ways::{Along, Ways};
use crate::motion::{Course, Track, keeps_limits};
use crate::proof::{Plan, STARTS};
use crate::show::{CueId, Show};

/// A cue under way, or stopped on its way.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Member {
    pub cue: CueId,
    /// s, the cue's own.
    pub time: f64,
    /// False until the rate of its group can take it in; it stands still at its start until then.
    pub joined: bool,
    pub fired_by: Option<ClientId>,
    /// The tick.
    pub fired_at: u64,
    /// The highest rate at which it keeps its limits from where its rigs really started.
    pub pace: f64,
    /// Named by one of its cues.
    pub group: CueId,
    /// That of its group, once it has joined.
    pub clock: ClockId,
    pub returning: bool,
}

#[derive(Clone, Debug)]
pub struct Groups {
    pub members: ArrayVec<Member, RUNNING_MAX>,
    /// Stopped on their path; a standby and a GO carry a group of them on.
    pub parked: ArrayVec<Member, RUNNING_MAX>,
    pub ways: Ways,
    pub(super) clocks: Clocks,
    /// For every move of the show there is room, and for every axis that follows a curve.
    pub(super) courses: Vec<Course<Track>>,
}

impl Groups {
    pub fn new(show: &Show, plan: &Plan) -> Groups {
        let steps = || plan.cues.iter().flat_map(|cue| &cue.moves);
        let curves = steps().flat_map(|step| &step.axes).filter(|path| path.curve.is_some());
        // Every axis of a take that is played back follows a curve too. For a stop each of them counts for all its starts.
        let courses = steps().count() + STARTS * (curves.count() + show.axes.len());
        Groups {
            members: ArrayVec::new(),
            parked: ArrayVec::new(),
            ways: Ways::new(show),
            clocks: Clocks::new(),
            courses: Vec::with_capacity(courses),
        }
    }

    pub fn member(&self, cue: CueId) -> Option<&Member> {
        self.members.iter().find(|member| member.cue == cue)
    }

    pub fn parked_member(&self, cue: CueId) -> Option<&Member> {
        self.parked.iter().find(|member| member.cue == cue)
    }

    /// A cue with all of its group: of what runs, or of what was stopped.
    pub fn together(&self, cue: CueId) -> ArrayVec<Member, RUNNING_MAX> {
        let members = if self.member(cue).is_some() { &self.members } else { &self.parked };
        let group = members.iter().find(|member| member.cue == cue).map(|member| member.group);
        members.iter().filter(|member| Some(member.group) == group).copied().collect()
    }

    /// The clock by which a member goes.
    pub fn clock(&self, member: &Member) -> &Clock {
        self.clocks.of(member.clock)
    }

    fn joined(&self) -> impl Iterator<Item = &Member> {
        self.members.iter().filter(|member| member.joined)
    }

    fn joined_of(&self, group: CueId) -> impl Iterator<Item = &Member> {
        self.joined().filter(move |member| member.group == group)
    }

    /// The rate of the group that is fastest, either way; `None` without members that have joined.
    pub fn fastest(&self) -> Option<f64> {
        self.joined().map(|member| self.clock(member).rate().0).max_by(|a, b| a.abs().total_cmp(&b.abs()))
    }

    pub fn at_rest(&self) -> bool {
        self.joined().all(|member| self.clock(member).at_rest())
    }

    pub fn group_at_rest(&self, group: CueId) -> bool {
        self.joined_of(group).all(|member| self.clock(member).at_rest())
    }

    /// The slowest pace in a group.
    pub fn pace(&self, group: CueId) -> f64 {
        let of_group = self.members.iter().filter(|member| member.group == group);
        of_group.map(|member| member.pace).fold(1.0, f64::min)
    }

    /// The pace of a cue at `time` s, see [`Ways::pace`].
    pub fn pace_of(&mut self, show: &Show, plan: &Plan, cue: CueId, time: f64, along: Along) -> f64 {
        self.ways.pace(show, plan, (cue, time), along, &mut self.courses)
    }

    /// How far the clock of a group went in the last tick, s: while some of it stand at their start, not at all. `None`
    /// without members.
    pub fn went(&self, group: CueId) -> Option<f64> {
        let of_group = self.members.iter().filter(|member| member.group == group);
        of_group.map(|member| if member.joined { self.clock(member).went.max(0.0) } else { 0.0 }).reduce(f64::min)
    }

    /// One clock for all of a group that run steadily at one rate: from now on they speed up and brake together. Until then
    /// each part keeps its own.
    pub fn unite(&mut self, group: CueId) {
        let Some(first) = self.joined_of(group).next().map(|member| member.clock) else { return };
        let goal = self.clocks.of(first).goal();
        let alike = |member: &Member| self.clock(member).is_steady() && self.clock(member).goal() == goal;
        if !self.has_one_clock(group) && self.joined_of(group).all(alike) {
            let of_group = |member: &Member| member.joined && member.group == group;
            self.members.iter_mut().filter(|member| of_group(member)).for_each(|member| member.clock = first);
            let one = self.clocks.own(&mut self.members, of_group);
            *self.clocks.of_mut(one) = Clock::steady(goal);
        }
    }

    /// A clock of its own for each part of a group that has fallen apart.
    pub fn part(&mut self) {
        for index in 0..self.members.len() {
            let member = self.members[index];
            if member.joined && member.clock != ClockId::REST {
                self.clocks.own(&mut self.members, |other| shares_clock(&member, other));
            }
        }
    }

    fn has_one_clock(&self, group: CueId) -> bool {
        let mut clocks = self.joined_of(group).map(|member| member.clock);
        let first = clocks.next();
        clocks.all(|clock| Some(clock) == first)
    }

    /// Takes in the member at `index`, if it waits to be, where the present change of rate keeps its limits too, and those
    /// that run on meanwhile are not in its way. Where nobody of its group runs, its clock is at the rate at once.
    pub fn admit(&mut self, show: &Show, plan: &Plan, index: usize, desired: f64) {
        let member = self.members[index];
        if member.joined || !self.has_one_clock(member.group) || !may_join(plan, &member, &self.members) {
            return;
        }
        let Some(id) = self.joined_of(member.group).next().map(|other| other.clock) else {
            if desired <= member.pace {
                self.members[index].joined = true;
                let own = self.clocks.own(&mut self.members, |other| other.cue == member.cue);
                *self.clocks.of_mut(own) = Clock::steady(desired);
            }
            return;
        };
        self.courses.clear();
        self.ways.push_courses(show, plan, member.cue, member.time, &mut self.courses);
        let clock = self.clocks.of(id);
        let left = clock.left();
        let top = left.at(0.0).speed.max(clock.goal());
        if top <= member.pace && keeps_limits(&self.courses, &left, clock.regime()) {
            (self.members[index].clock, self.members[index].joined) = (id, true);
            self.keep_brake_if_fit(id);
        }
    }

    /// One tick of every clock, s.
    pub fn advance(&mut self, tick: f64) {
        self.clocks.advance(&mut self.members, tick);
    }

    /// Of all that share the clock of a member, each at the time of its cue that `time` tells.
    pub(super) fn fill_courses(
        &mut self,
        show: &Show,
        plan: &Plan,
        member: &Member,
        time: impl Fn(&Member) -> f64,
    ) {
        self.courses.clear();
        for other in self.members.iter().filter(|other| shares_clock(member, other)) {
            self.ways.push_courses(show, plan, other.cue, time(other), &mut self.courses);
        }
    }

    /// Forgets stopped cues whose rigs are about to be moved by something else.
    pub fn abandon(&mut self, meets: impl Fn(CueId) -> bool) {
        self.parked.retain(|member| !meets(member.cue));
    }
}

/// Whether the other has joined the group of the one and runs by the same clock.
pub(super) fn shares_clock(one: &Member, other: &Member) -> bool {
    other.joined && other.group == one.group && other.clock == one.clock
}
