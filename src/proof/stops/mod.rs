//! Where and when a cue comes to rest, stopped at any time of it, and what can be done from there.
//!
//! A stop is a brake on the cue's own time, so it ends on the path, and inside the travel that the path keeps. What is
//! worked out here is how far along: a table over the cue's time, planned by the same search that the engine uses.
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

use super::course::courses;
use super::crew::{Crew, gathered};
use super::plan::CuePlan;
use crate::motion::{Regime, change_rate};
use crate::show::Show;

/// Times of a cue at which its stop is planned, beside the changes of jerk.
const STOPS: usize = 160;
/// How much more than those beside it a stop between two of these times may take, in time and in way. The search for a
/// brake is no steady function of the time: this is no proof but what tests bear out, with room to spare.
const BETWEEN: f64 = 1.05;
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
}

/// The stops of one cue at full rate, by the time at which they are asked for.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Stops {
    pub list: Vec<Stop>,
}

impl Stops {
    /// Where no brake can begin at once (limits without reserve) the cue runs on until one can.
    pub fn of(show: &Show, plan: &CuePlan) -> Stops {
        if courses(show, plan, 0.0).is_empty() {
            // It goes nowhere: there is nothing to brake.
            return Stops::default();
        }
        let mut times: Vec<f64> = (0..=STOPS).map(|i| plan.duration * i as f64 / STOPS as f64).collect();
        for step in &plan.moves {
            times.extend(step.profile.breaks().map(|at| step.delay + at).iter().filter(|&&at| at < plan.duration));
        }
        times.sort_by(f64::total_cmp);
        let end = Stop { asked: plan.duration, takes: 0.0, rests: plan.duration };
        let (mut next, mut list) = (end, Vec::with_capacity(times.len()));
        for &asked in times.iter().rev() {
            next = stop(show, plan, asked, next);
            list.push(next);
        }
        list.reverse();
        Stops { list }
    }

    /// A stop asked for at any one time of the cue, planned for that time. `None` if there is nothing to brake.
    pub fn at(&self, show: &Show, plan: &CuePlan, asked: f64) -> Option<Stop> {
        let next = self.list.partition_point(|stop| stop.asked <= asked);
        let next = self.list.get(next).or(self.list.last())?;
        Some(stop(show, plan, asked.clamp(0.0, plan.duration), *next))
    }

    /// The one that takes longest.
    pub fn worst(&self) -> Option<&Stop> {
        self.list.iter().max_by(|a, b| a.takes.total_cmp(&b.takes))
    }

    /// s, the most that a stop takes, asked for at any time.
    pub fn longest(&self) -> f64 {
        self.worst().map_or(0.0, |stop| stop.takes * BETWEEN)
    }

    /// The one that takes longest of those that are asked for at a tick, and how many these are: all that there are for a
    /// cue that was fired by itself, at full rate. Of a cue of more ticks than can be looked at, as many evenly spread.
    pub fn worst_tick(&self, show: &Show, plan: &CuePlan, crew: &dyn Crew) -> Option<(Stop, usize)> {
        let ticks = (plan.duration / show.settings.tick.seconds()).floor();
        let looks = ticks.min(TICKS_MAX);
        let asked = |look: usize| (look as f64 * ticks / looks).round() * show.settings.tick.seconds();
        let stops = gathered(crew, looks as usize + 1, |look| self.at(show, plan, asked(look)));
        let worst = stops.iter().flatten().copied().max_by(|a, b| a.takes.total_cmp(&b.takes));
        worst.map(|stop| (stop, stops.len()))
    }

    /// s of the cue's own time, the most that a stop asked for between two times of it goes on: by the stops in the table
    /// between them, and those next to them.
    pub fn way(&self, from: f64, to: f64) -> f64 {
        let first = self.list.partition_point(|stop| stop.asked < from).saturating_sub(1);
        let last = self.list.partition_point(|stop| stop.asked <= to).min(self.list.len().saturating_sub(1));
        let between = self.list.get(first..=last).unwrap_or_default();
        between.iter().map(|stop| stop.rests - stop.asked).fold(0.0, f64::max) * BETWEEN
    }
}

/// Where no brake can begin at once the cue runs on to where `next` is asked for.
fn stop(show: &Show, plan: &CuePlan, asked: f64, next: Stop) -> Stop {
    let brake = change_rate(&courses(show, plan, asked), 1.0, 0.0, 0.0, Regime::Stopping);
    let left = plan.duration - asked;
    let (takes, way) = match brake {
        Some(ramp) => (ramp.duration(), ramp.distance()),
        None => ((next.asked - asked) + next.takes, next.rests - asked),
    };
    Stop { asked, takes: takes.min(left), rests: asked + way.min(left) }
}
