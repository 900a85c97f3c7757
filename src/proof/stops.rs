//! Where and when a cue comes to rest, stopped at any time of it.
//!
//! A stop is a brake on the cue's own time, so it ends on the path, and inside the travel that the path keeps. What is
//! worked out here is how far along: a table over the cue's time, planned by the same search that the engine uses.

use serde::{Deserialize, Serialize};

use super::course::courses;
use super::plan::CuePlan;
use crate::motion::{Regime, change_rate};
use crate::show::Show;

/// Times of a cue at which its stop is planned, beside the changes of jerk.
const STOPS: usize = 160;

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
            let brake = change_rate(&courses(show, plan, asked), 1.0, 0.0, 0.0, Regime::Stopping);
            let left = plan.duration - asked;
            let (takes, way) = match brake {
                Some(ramp) => (ramp.duration(), ramp.distance()),
                None => ((next.asked - asked) + next.takes, next.rests - asked),
            };
            next = Stop { asked, takes: takes.min(left), rests: asked + way.min(left) };
            list.push(next);
        }
        list.reverse();
        Stops { list }
    }

    /// The one that takes longest.
    pub fn worst(&self) -> Option<&Stop> {
        self.list.iter().max_by(|a, b| a.takes.total_cmp(&b.takes))
    }

    /// s, the longest that a stop takes.
    pub fn longest(&self) -> f64 {
        self.worst().map_or(0.0, |stop| stop.takes)
    }

    /// s of the cue's own time, the most that a stop asked for between two times of it goes on; of the stops in the
    /// table between them, and those next to them.
    pub fn way(&self, from: f64, to: f64) -> f64 {
        let first = self.list.partition_point(|stop| stop.asked < from).saturating_sub(1);
        let last = self.list.partition_point(|stop| stop.asked <= to).min(self.list.len().saturating_sub(1));
        let between = self.list.get(first..=last).unwrap_or_default();
        between.iter().map(|stop| stop.rests - stop.asked).fold(0.0, f64::max)
    }
}
