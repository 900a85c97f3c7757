//! Where and when a cue comes to rest, stopped at any time of it, and what can be done from there.
//!
//! A stop is a brake on the cue's own time, so it ends on the path, and inside the travel that the path keeps. What is
//! worked out here is how far along: a table over the instants of the cue, planned by the same search that the engine uses, which
//! has the brake of the next instant at hand. What begins between two of them is planned in a hurry, here and there.
//! Between two instants a stop is no worse than to run on to the later and to brake there, so the table bounds every stop of a
//! cue that runs by itself, from wherever its rigs stood within their tolerances as it was fired: its brakes keep the limits from
//! all such starts ([`push_courses_to_stop`]), and the engine has the same ones at hand.
//! [`Onward`] tells of every place at which a stop can leave the cue whether it goes on or back from there.

mod going;
mod left;
mod onward;
mod rules;
#[cfg(test)]
mod tests;

pub use going::{Given, Going, Shut};
pub use onward::{Onward, PresetBack, Then, look_onward, look_onward_thoroughly};

use serde::{Deserialize, Serialize};

use super::course::{courses, push_courses_to_stop};
use super::crew::{Crew, gathered};
use super::plan::CuePlan;
use crate::motion::{Change, Course, Regime, Track, change_at_once, change_rate, level};
use crate::show::Show;

/// Instants that are looked at together first.
const STRIDE: usize = 8;
/// s; stops that are the same differ by no more than this.
const ROUNDING: f64 = 1e-9;
/// Ticks of a cue that are all looked at, at most.
const TICKS_MAX: f64 = 8_000.0;

/// A stop that is asked for at one time of a cue.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Stop {
    /// s, of the cue's own time.
    pub asked: f64,
    /// s, until it stands.
    pub takes: f64,
    /// s, the cue's own time at which it stands.
    pub rests: f64,
    /// Every axis goes at a steady speed from there until it stands: wherever in that stretch it begins, it is the same.
    pub level: bool,
}

/// The stops of one cue at one rate, by the time at which they are asked for.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Stops {
    pub list: Vec<Stop>,
}

impl Stops {
    /// Those at full rate.
    pub fn of(show: &Show, plan: &CuePlan) -> Stops {
        if courses(show, plan, 0.0).is_empty() {
            // It goes nowhere: there is nothing to brake.
            return Stops::default();
        }
        Stops::at_rate(show, plan, 1.0)
    }

    /// Those of the cue as it is taken back.
    pub fn of_return(show: &Show, plan: &CuePlan) -> Stops {
        Stops::at_rate(show, plan, -show.settings.return_rate)
    }

    /// Where all the stops of a stride are the same, its ends tell them.
    fn at_rate(show: &Show, plan: &CuePlan, rate: f64) -> Stops {
        let stop = |index: usize| {
            let asked = plan.instant(index);
            planned(plan, &courses_to_stop(show, plan, asked), asked, rate, change_rate)
        };
        let mut last = stop(0);
        let mut list = vec![last];
        for from in (0..plan.parts()).step_by(STRIDE) {
            let to = (from + STRIDE).min(plan.parts());
            let next = stop(to);
            let same = if rate > 0.0 { alike(&last, &next) } else { alike(&next, &last) };
            if !same {
                list.extend((from + 1..to).map(stop));
            }
            list.push(next);
            last = next;
        }
        Stops { list }
    }

    /// A stop asked for at any one time of the cue, fired from its very start, planned for that time. `None` if there is nothing
    /// to brake.
    pub fn at(&self, show: &Show, plan: &CuePlan, asked: f64) -> Option<Stop> {
        let asked = asked.clamp(0.0, plan.duration);
        self.sooner(plan, &courses(show, plan, asked), asked)
    }

    /// What is planned at once for courses at that time, or to go on to the next of the list where that is no worse.
    fn sooner(&self, plan: &CuePlan, courses: &[Course<Track>], asked: f64) -> Option<Stop> {
        let hurried = |courses: &[_], rate, drift, to, regime| change_at_once(courses, rate, drift, to, regime, 1);
        let at_once = planned(plan, courses, asked, 1.0, hurried);
        let next = self.list.partition_point(|stop| stop.asked <= asked);
        let Some(next) = self.list.get(next) else { return self.list.last().map(|_| at_once) };
        let later = Stop { asked, takes: next.asked - asked + next.takes, rests: next.rests, level: false };
        // As `motion::no_worse` has it.
        Some(if at_once.takes > later.takes || at_once.rests > later.rests { later } else { at_once })
    }

    /// The one that takes longest.
    pub fn worst(&self) -> Option<&Stop> {
        self.list.iter().max_by(|a, b| a.takes.total_cmp(&b.takes))
    }

    /// s, the most that a stop takes, asked for at any time.
    pub fn longest(&self) -> f64 {
        let parts = self.list.array_windows().map(|[one, next]| {
            if alike(one, next) { next.takes + ROUNDING } else { next.asked - one.asked + next.takes }
        });
        parts.fold(0.0, f64::max)
    }

    /// The one that takes longest of those that are asked for at a tick, and how many these are: all that there are for a
    /// cue that was fired by itself, at full rate, wherever its rigs stood within their tolerances. Of a cue of more ticks than can
    /// be looked at, as many evenly spread.
    pub fn worst_tick(&self, show: &Show, plan: &CuePlan, crew: &dyn Crew) -> Option<(Stop, usize)> {
        let ticks = (plan.duration / show.settings.tick.seconds()).floor();
        let looks = ticks.min(TICKS_MAX);
        let asked = |look: usize| (look as f64 * ticks / looks).round() * show.settings.tick.seconds();
        let stop = |asked: f64| self.sooner(plan, &courses_to_stop(show, plan, asked), asked);
        let stops = gathered(crew, looks as usize + 1, |look| stop(asked(look)));
        let worst = stops.iter().flatten().copied().max_by(|a, b| a.takes.total_cmp(&b.takes));
        worst.map(|stop| (stop, stops.len()))
    }

    /// s of the cue's own time, the most that a stop asked for between two times of it goes on.
    pub fn way(&self, from: f64, to: f64) -> f64 {
        let ways = self.between(from, to).array_windows().map(|[one, next]| {
            if alike(one, next) { next.rests - next.asked + ROUNDING } else { next.rests - one.asked.max(from) }
        });
        ways.fold(0.0, f64::max)
    }

    /// The same of the stops of the way back.
    pub fn way_back(&self, from: f64, to: f64) -> f64 {
        let ways = self.between(from, to).array_windows().map(|[next, one]| {
            if alike(one, next) { next.asked - next.rests + ROUNDING } else { one.asked.min(to) - next.rests }
        });
        ways.fold(0.0, f64::max)
    }

    /// Those next to two times and all between them.
    fn between(&self, from: f64, to: f64) -> &[Stop] {
        let first = self.list.partition_point(|stop| stop.asked <= from).saturating_sub(1);
        let last = self.list.partition_point(|stop| stop.asked < to).max(first + 1);
        self.list.get(first..=last.min(self.list.len().saturating_sub(1))).unwrap_or_default()
    }
}

/// Whether the stretches in which two stops go steadily are one, so that every stop between them is the same.
fn alike(one: &Stop, next: &Stop) -> bool {
    one.level && next.level && (one.rests - one.asked).abs() >= (next.asked - one.asked).abs()
}

fn courses_to_stop(show: &Show, plan: &CuePlan, time: f64) -> Vec<Course<Track>> {
    let mut courses = Vec::new();
    push_courses_to_stop(show, plan, time, &mut courses);
    courses
}

/// A brake of some courses from that rate, which begins as it is asked for.
fn planned(
    plan: &CuePlan,
    courses: &[Course<Track>],
    asked: f64,
    rate: f64,
    change: impl Fn(&[Course<Track>], f64, f64, f64, Regime) -> Option<Change>,
) -> Stop {
    let level = level(courses, rate, 0.0, 0.0, Regime::Stopping);
    let brake = level.or_else(|| change(courses, rate, 0.0, 0.0, Regime::Stopping));
    let left = if rate > 0.0 { plan.duration - asked } else { -asked };
    let (takes, way) = brake.map_or((left / rate, left), |brake| (brake.duration(), brake.distance()));
    Stop { asked, takes, rests: (asked + way).clamp(0.0, plan.duration), level: level.is_some() }
}
