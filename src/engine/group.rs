//! The running cues: one group on one rate.
//!
//! Cues that run together stand on one line of their map, along which they were proved clear, and must not leave it.
//! So they share one rate, limited by all their axes; hold, stop, resume, return and master act on the whole group, and
//! the show's clock (waits) runs with it.
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

use super::company::may_join;
use super::request::ClientId;
use super::status::RUNNING_MAX;
use crate::motion::{Course, Ramp, Regime, Track, change_rate, keeps_limits};
use crate::proof::{Plan, push_courses};
use crate::show::{AxisId, CueId, Show};

/// A cue under way, or stopped on its way.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Member {
    pub cue: CueId,
    /// s, the cue's own.
    pub time: f64,
    /// False until the group's rate can take it in; it stands still at its start until then.
    pub joined: bool,
    pub fired_by: Option<ClientId>,
    /// The tick.
    pub fired_at: u64,
    /// The highest rate at which it keeps its limits from where its rigs really started.
    pub pace: f64,
}

/// Where a member's axes begin and end, by `AxisId`.
#[derive(Clone, Debug)]
pub struct Ways {
    pub from: Vec<f64>,
    pub to: Vec<f64>,
}

impl Ways {
    pub fn of(&self, axis: AxisId) -> [f64; 2] {
        [self.from[axis.index()], self.to[axis.index()]]
    }
}

/// Which way along its path a cue runs.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Along {
    Forward,
    Back,
}

/// Ticks between two tries for a change of rate that no ramp allowed.
const RETRY_TICKS: u64 = 5;
/// A part of a profile smaller than this is none.
const NO_PART: f64 = 1e-9;

#[derive(Clone, Debug)]
pub struct Group {
    pub members: ArrayVec<Member, RUNNING_MAX>,
    /// Stopped on their path; a standby and a GO carry all of them on.
    pub parked: ArrayVec<Member, RUNNING_MAX>,
    /// As fired: from where the axes stood to where the plan takes them.
    pub fired: Ways,
    /// As run: the end that lies ahead as fired, the other bent so that the way passes through where each axis
    /// stood when it was last set going. So an error fades to nothing at the end that is run to.
    pub ways: Ways,
    pub returning: bool,
    ramp: Ramp,
    /// s, since the ramp began.
    elapsed: f64,
    regime: Regime,
    /// A rate that no ramp allowed, and the tick at which it is tried again.
    retry: Option<(f64, u64)>,
    /// For every move of the show there is room, and for every axis that follows a curve.
    courses: Vec<Course<Track>>,
}

impl Group {
    pub fn new(show: &Show, plan: &Plan) -> Group {
        let starts: Vec<f64> = show.axes.iter().map(|axis| axis.start).collect();
        let steps = || plan.cues.iter().flat_map(|cue| &cue.moves);
        let curves = steps().flat_map(|step| &step.axes).filter(|path| path.curve.is_some());
        let courses = steps().count() + curves.count();
        Group {
            members: ArrayVec::new(),
            parked: ArrayVec::new(),
            fired: Ways { from: starts.clone(), to: starts.clone() },
            ways: Ways { from: starts.clone(), to: starts },
            returning: false,
            ramp: Ramp::steady(0.0),
            elapsed: 0.0,
            regime: Regime::Running,
            retry: None,
            courses: Vec::with_capacity(courses),
        }
    }

    /// The rate, its derivative and its second derivative now.
    pub fn rate(&self) -> (f64, f64, f64) {
        let now = self.ramp.at(self.elapsed);
        (now.speed, now.acceleration, now.jerk)
    }

    /// Which limits hold now.
    pub fn regime(&self) -> Regime {
        if self.elapsed < self.ramp.duration() { self.regime } else { Regime::Running }
    }

    pub fn at_rest(&self) -> bool {
        self.members.is_empty() || (self.rate().0 == 0.0 && self.elapsed >= self.ramp.duration())
    }

    pub fn member(&self, cue: CueId) -> Option<&Member> {
        self.members.iter().find(|member| member.cue == cue)
    }

    pub fn parked_member(&self, cue: CueId) -> Option<&Member> {
        self.parked.iter().find(|member| member.cue == cue)
    }

    /// The slowest pace of all members.
    pub fn pace(&self) -> f64 {
        self.members.iter().map(|member| member.pace).fold(1.0, f64::min)
    }

    /// Brings the rate towards `desired`, braking with the stopping limits. Without members it is there at once.
    pub fn steer(&mut self, show: &Show, plan: &Plan, desired: f64, tick: u64) {
        if self.members.is_empty() {
            self.ramp = Ramp::steady(desired);
            self.elapsed = 0.0;
            return;
        }
        let waits = self.retry.is_some_and(|(refused, until)| refused == desired && tick < until);
        if self.ramp.to_speed() == desired || waits {
            return;
        }
        let (rate, drift, _) = self.rate();
        let slower = desired == 0.0 || (desired.abs() < rate.abs() && desired * rate > 0.0);
        let regime = if slower { Regime::Stopping } else { Regime::Running };
        self.fill_courses(show, plan);
        match change_rate(&self.courses, rate, drift, desired, regime) {
            Some(ramp) => self.begin(ramp, regime),
            // A phase without reserve, or a brake not yet over: go on as before and try again.
            None => self.retry = Some((desired, tick + RETRY_TICKS)),
        }
    }

    fn begin(&mut self, ramp: Ramp, regime: Regime) {
        self.ramp = ramp;
        self.elapsed = 0.0;
        self.regime = regime;
        self.retry = None;
    }

    /// Starts the rate from rest; for cues that are carried on.
    pub fn begin_at_rest(&mut self) {
        self.begin(Ramp::steady(0.0), Regime::Running);
    }

    /// Takes in members that wait to be, where the present change of rate keeps their limits too, and those that run on
    /// meanwhile are not in their way.
    pub fn admit(&mut self, show: &Show, plan: &Plan) {
        let left = self.ramp.rest_from(self.elapsed);
        let top = left.at(0.0).speed.max(self.ramp.to_speed());
        for index in 0..self.members.len() {
            let member = self.members[index];
            if member.joined || top > member.pace || !may_join(plan, &member, &self.members) {
                continue;
            }
            self.courses.clear();
            add_courses(show, plan, &self.ways, &member, &mut self.courses);
            if keeps_limits(&self.courses, &left, self.regime()) {
                self.members[index].joined = true;
            }
        }
    }

    /// One tick of the group's clock, s; how far it went.
    pub fn advance(&mut self, tick: f64) -> f64 {
        let before = self.ramp.at(self.elapsed).position;
        self.elapsed += tick;
        let way = self.ramp.at(self.elapsed).position - before;
        // A steady rate goes on for ever; its clock is kept small, so that it keeps its digits.
        if self.elapsed >= self.ramp.duration() + 1.0 {
            self.ramp = Ramp::steady(self.ramp.to_speed());
            self.elapsed = 0.0;
        }
        for member in self.members.iter_mut().filter(|member| member.joined) {
            member.time += way;
        }
        way
    }

    /// The longest that a stop asked for now would take, s.
    pub fn stop_bound(&mut self, show: &Show, plan: &Plan) -> f64 {
        let (rate, drift, _) = self.rate();
        if self.members.is_empty() || (rate == 0.0 && drift == 0.0) {
            return 0.0;
        }
        if self.ramp.to_speed() == 0.0 && self.regime() == Regime::Stopping {
            // It brakes already, and that brake is kept.
            return self.ramp.duration() - self.elapsed;
        }
        self.fill_courses(show, plan);
        match change_rate(&self.courses, rate, drift, 0.0, Regime::Stopping) {
            Some(ramp) => ramp.duration(),
            None => self.time_left(plan),
        }
    }

    /// s of real time until every member has ended, were the rate to stay.
    pub fn time_left(&self, plan: &Plan) -> f64 {
        let (rate, ..) = self.rate();
        let left =
            |member: &Member| if rate < 0.0 { member.time } else { plan.cue(member.cue).duration - member.time };
        self.members.iter().map(left).fold(0.0, f64::max) / rate.abs().max(1e-6)
    }

    fn fill_courses(&mut self, show: &Show, plan: &Plan) {
        self.courses.clear();
        for member in self.members.iter().filter(|member| member.joined) {
            add_courses(show, plan, &self.ways, member, &mut self.courses);
        }
    }

    /// Bends the ways of a cue at `time` s through where its axes stand, by `AxisId`; the end ahead stays.
    pub fn bend(&mut self, plan: &Plan, cue: CueId, time: f64, along: Along, stands: impl Fn(usize) -> f64) {
        for step in &plan.cue(cue).moves {
            let done = step.profile.at(time - step.delay).position;
            for path in &step.axes {
                let index = path.axis.index();
                let (from, to, stands) = (self.fired.from[index], self.fired.to[index], stands(index));
                // Off the way as fired. What is added to an end counts by how near that is.
                let off = stands - step.between(path, [from, to], time).position;
                (self.ways.from[index], self.ways.to[index]) = match along {
                    Along::Forward if done < 1.0 - NO_PART => (from + off / (1.0 - done), to),
                    Along::Back if done > NO_PART => (from, to + off / done),
                    // Nothing is left of this move: its axes stay.
                    Along::Forward | Along::Back => (stands, stands),
                };
            }
        }
    }

    /// The pace of a cue over what lies ahead, on the ways that its axes have now.
    pub fn pace_of(&mut self, show: &Show, plan: &Plan, cue: CueId, time: f64, along: Along) -> f64 {
        self.courses.clear();
        let mut pace = 1.0_f64;
        for step in &plan.cue(cue).moves {
            push_courses(show, step, |path| self.ways.of(path.axis), time, &mut self.courses);
            let (begin, end) = match along {
                Along::Forward => (time - step.delay, step.duration()),
                Along::Back => (0.0, time - step.delay),
            };
            let paces = self.courses.drain(..).map(|course| Course::pace(&course.path, course.run, begin, end));
            pace = paces.fold(pace, f64::min);
        }
        pace
    }

    /// Forgets stopped cues whose rigs are about to be moved by something else.
    pub fn abandon(&mut self, meets: impl Fn(CueId) -> bool) {
        self.parked.retain(|member| !meets(member.cue));
    }
}

fn add_courses(show: &Show, plan: &Plan, ways: &Ways, member: &Member, courses: &mut Vec<Course<Track>>) {
    for step in &plan.cue(member.cue).moves {
        push_courses(show, step, |path| ways.of(path.axis), member.time, courses);
    }
}
