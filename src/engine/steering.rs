//! The rates of the groups brought to what is desired, within the looks that a tick has time for.
//!
//! What must be known in this tick is searched for in a hurry, and where several clocks are steered at once they share the looks.
//! A stop then takes what was found or the brake at hand, whichever is sooner ([`super::brakes`]). What begins at rest nothing
//! hurries: its search goes on from tick to tick until it is over. All of it is counted, so no tick is late for it.

use super::brakes::Coming;
use super::clocks::ClockId;
use super::groups::{Groups, Member, shares_clock};
use crate::motion::{Change, Regime, Search, change_at_once, keeps_limits, no_farther, no_worse};
use crate::proof::{Plan, push_courses_to_stop};
use crate::show::{CueId, Show};

/// Looks that the searches which go on from tick to tick may take in one of them; the last try may go beyond.
const LOOKS_A_TICK: u32 = 5_000;
/// s of the cues' own time; an instant is not looked for so near the one before.
const BESIDE: f64 = 1e-9;

/// What a tick has left for searches.
#[derive(Clone, Copy, Debug)]
pub struct Purse {
    looks: u32,
    /// Clocks that are steered in this tick.
    among: usize,
}

impl Groups {
    /// Of a tick in which the clocks are to be brought to what `desired` tells.
    pub fn purse(&self, desired: impl Fn(&Member) -> f64, tick: u64) -> Purse {
        let steered = |index: &usize| {
            let member = &self.members[*index];
            let clock = self.clocks.of(member.clock);
            self.is_first_of_its_clock(*index) && !clock.at_rest() && clock.heeds(desired(member), tick)
        };
        let among = (0..self.members.len()).filter(steered).count();
        Purse { looks: if among == 0 { LOOKS_A_TICK } else { 0 }, among }
    }

    /// Whether nobody before it goes by the same clock.
    fn is_first_of_its_clock(&self, index: usize) -> bool {
        let member = &self.members[index];
        member.joined && !self.members[..index].iter().any(|earlier| shares_clock(member, earlier))
    }

    /// Brings the rate of the member at `index`, and of all that share its clock, towards `desired`, braking with the
    /// stopping limits.
    pub fn steer(&mut self, show: &Show, plan: &Plan, index: usize, desired: f64, tick: u64, purse: &mut Purse) {
        let member = self.members[index];
        if !member.joined || !self.clocks.of(member.clock).heeds(desired, tick) {
            return;
        }
        let id = self.clocks.own(&mut self.members, |other| shares_clock(&member, other));
        let member = Member { clock: id, ..member };
        if self.clocks.of(id).at_rest() {
            self.set_going(show, plan, &member, desired, tick, purse);
        } else {
            let change = if desired == 0.0 {
                self.brake(show, plan, &member, purse.among)
            } else {
                self.hurried(show, plan, &member, desired, purse.among)
            };
            self.clocks.of_mut(id).steer(change.as_ref(), desired, tick);
        }
    }

    /// Brakes every clock that does not brake yet, each as fast as its own axes can.
    pub fn brake_all(&mut self, show: &Show, plan: &Plan, tick: u64) {
        let mut purse = self.purse(|_| 0.0, tick);
        for index in 0..self.members.len() {
            self.steer(show, plan, index, 0.0, tick, &mut purse);
        }
    }

    /// From rest: the search goes on as far as this tick's looks last.
    fn set_going(&mut self, show: &Show, plan: &Plan, member: &Member, desired: f64, tick: u64, purse: &mut Purse) {
        self.fill_courses(show, plan, member, |other| other.time);
        let clock = self.clocks.of_mut(member.clock);
        if clock.start.as_ref().is_none_or(|search| search.goal() != desired) {
            clock.start = Some(Search::new(&self.courses, 0.0, 0.0, desired, Regime::Running));
        }
        let Some(search) = &mut clock.start else { return };
        if search.go_on_within(&self.courses, &mut purse.looks) {
            let found = search.found().copied();
            clock.steer(found.as_ref(), desired, tick);
        }
    }

    /// A stop: what is found in a hurry, or the brake at hand where that is sooner or goes less far. From a steady rate it is no
    /// worse than to go on to the next instant at which the check has planned the stops of a cue alone, and to brake from there; one
    /// of several goes no farther than the shortest standard brake that all of them bear, by which the check bounds it.
    fn brake(&mut self, show: &Show, plan: &Plan, member: &Member, among: usize) -> Option<Change> {
        let at_once = self.hurried(show, plan, member, 0.0, among);
        let clock = self.clocks.of(member.clock);
        let ((rate, drift, _), found) = (clock.rate(), no_worse(at_once, clock.brake_at_hand()));
        let steady = rate != 0.0 && drift == 0.0;
        if steady && self.are_several(member) { no_farther(&self.courses, rate, found) } else { found }
    }

    /// Whether more than one cue goes by the clock of a member.
    fn are_several(&self, member: &Member) -> bool {
        self.members.iter().filter(|other| shares_clock(member, other)).count() > 1
    }

    fn hurried(&mut self, show: &Show, plan: &Plan, member: &Member, to: f64, among: usize) -> Option<Change> {
        let clock = self.clocks.of(member.clock);
        let ((rate, drift, _), regime) = (clock.rate(), clock.regime_towards(to));
        self.fill_courses(show, plan, member, |other| other.time);
        change_at_once(&self.courses, rate, drift, to, regime, among)
    }

    /// Works on the brakes of the instants ahead: first where none is at hand, then where the next one is still to come.
    pub fn work_on_brakes(&mut self, show: &Show, plan: &Plan, purse: &mut Purse) {
        for has_one in [false, true] {
            for index in 0..self.members.len() {
                let id = self.members[index].clock;
                let clock = self.clocks.of(id);
                let works = self.is_first_of_its_clock(index) && clock.goal() != 0.0;
                if works && clock.brakes.kept.is_some() == has_one {
                    self.work_on_brake(show, plan, index, purse);
                }
            }
        }
    }

    fn work_on_brake(&mut self, show: &Show, plan: &Plan, index: usize, purse: &mut Purse) {
        let member = self.members[index];
        let known = self.clocks.of(member.clock).brakes.coming.as_ref();
        let stands = known.is_some_and(|coming| self.is_of(&member, coming.lead));
        if known.is_some_and(|coming| stands && coming.done) || purse.looks == 0 {
            return;
        }
        let place =
            if stands { known.map(|coming| (coming.lead, coming.instant)) } else { self.next(plan, &member) };
        let Some((lead, instant)) = place else { return };
        let Some(way) = self.member(lead).map(|lead| instant - lead.time) else { return };
        let goal = self.clocks.of(member.clock).goal();
        let as_checked = if goal > 0.0 { 1.0 } else { -show.settings.return_rate };
        let fresh = (!self.are_several(&member)).then_some(goal / as_checked);
        let known = self.clocks.of(member.clock).brakes.coming.as_ref();
        let told = known.filter(|_| stands).map_or(fresh, |coming| coming.told);
        let there = |one: &Member| if one.cue == lead { instant } else { one.time + way };
        match told {
            Some(_) => {
                self.courses.clear();
                push_courses_to_stop(show, plan.cue(lead), instant, &mut self.courses);
            }
            None => self.fill_courses(show, plan, &member, there),
        }
        let (courses, rate) = (&self.courses, told.map_or(goal, |_| as_checked));
        let clock = self.clocks.of_mut(member.clock);
        let same = |coming: &Coming| stands && coming.courses == courses.len();
        if !clock.brakes.coming.as_ref().is_some_and(same) {
            let search = Search::new(courses, rate, 0.0, 0.0, Regime::Stopping);
            let courses = courses.len();
            clock.brakes.coming =
                Some(Coming { ahead: way, lead, instant, courses, search, told, brake: None, done: false });
        }
        let Some(coming) = &mut clock.brakes.coming else { return };
        coming.done = coming.search.go_on_within(courses, &mut purse.looks);
        coming.brake = coming.search.found().copied().filter(|_| told.is_none());
        if let (true, Some(part)) = (coming.done, told) {
            let brake = coming.search.found().map(|brake| brake.slower(part));
            self.fill_courses(show, plan, &member, there);
            self.take_told(&member, brake);
        }
        self.clocks.of_mut(member.clock).brakes.promote();
    }

    /// The brake of the check is kept if it keeps the limits from where the cue really was set going; else it has to have one of its
    /// own.
    fn take_told(&mut self, member: &Member, brake: Option<Change>) {
        let (courses, clock) = (&self.courses, self.clocks.of_mut(member.clock));
        let goal = clock.goal();
        let Some(coming) = &mut clock.brakes.coming else { return };
        coming.brake = brake.filter(|brake| keeps_limits(courses, brake, Regime::Stopping));
        if coming.brake.is_none() {
            coming.search = Search::new(courses, goal, 0.0, 0.0, Regime::Stopping);
            (coming.courses, coming.told, coming.done) = (courses.len(), None, false);
        }
    }

    /// Whether a cue goes by the clock of a member.
    fn is_of(&self, member: &Member, cue: CueId) -> bool {
        self.member(cue).is_some_and(|other| shares_clock(member, other))
    }

    /// The next instant for which a clock has no brake yet, and the cue whose it is: once the rate is steady.
    fn next(&self, plan: &Plan, member: &Member) -> Option<(CueId, f64)> {
        let clock = self.clocks.of(member.clock);
        let goal = clock.goal();
        let kept = clock.brakes.kept.as_ref().map(|kept| kept.ahead);
        let from = kept.unwrap_or(clock.way_left()) + BESIDE.copysign(goal);
        let part = self.members.iter().filter(|other| shares_clock(member, other));
        let mut instants =
            part.filter_map(|other| Some((other.cue, plan.cue(other.cue).next_instant(other.time + from, goal)?)));
        instants.next()
    }

    /// The longest that a stop asked for now would take in any group, s.
    pub fn stop_bound(&self, plan: &Plan) -> f64 {
        let mut longest = 0.0_f64;
        for index in (0..self.members.len()).filter(|&index| self.is_first_of_its_clock(index)) {
            let member = &self.members[index];
            let clock = self.clocks.of(member.clock);
            let rests_in = clock.rests_in().or_else(|| clock.brakes_within(self.are_several(member)));
            longest = longest.max(rests_in.unwrap_or_else(|| self.time_left(plan, member)));
        }
        longest
    }

    /// s of real time until all that share the clock of a member have ended, were its rate to stay.
    fn time_left(&self, plan: &Plan, member: &Member) -> f64 {
        let (rate, ..) = self.clocks.of(member.clock).rate();
        let part = self.members.iter().filter(|other| shares_clock(member, other));
        let left = |other: &Member| if rate < 0.0 { other.time } else { plan.cue(other.cue).duration - other.time };
        part.map(left).fold(0.0, f64::max) / rate.abs().max(1e-6)
    }

    /// Of what joins those that go by a clock: the brake at hand stays where it keeps the limits of that too.
    pub(super) fn keep_brake_if_fit(&mut self, id: ClockId) {
        let clock = self.clocks.of_mut(id);
        clock.brakes.coming = None;
        let fits = clock.brake_at_hand().is_some_and(|brake| keeps_limits(&self.courses, &brake, Regime::Stopping));
        if !fits {
            clock.brakes.kept = None;
        }
    }
}
