//! What one plan is made for, and with how much care.

use super::cells::felt;
use super::change::Change;
use super::effort::Effort;
use super::path::Path;
use super::piece::Maker;
use super::plan::Planner;
use super::{Course, Regime};
use crate::motion::profile::Sample;
use crate::motion::ramp::Ramp;

/// What does not pass the check, or takes long, is tried again more carefully.
pub(super) const CARES: [Care; 5] = [
    Care { margin: 2e-3, steps: 6.0, rounds: 2, release: 2, short: 1e-3 },
    Care { margin: 1e-2, steps: 9.0, rounds: 3, release: 4, short: 2e-3 },
    Care { margin: 1.5e-2, steps: 11.0, rounds: 3, release: 5, short: 2e-3 },
    Care { margin: 2e-2, steps: 8.0, rounds: 3, release: 3, short: 2e-3 },
    Care { margin: 4e-2, steps: 12.0, rounds: 3, release: 4, short: 1e-3 },
];
/// What sets out is worth fewer pains than what comes to rest: so many of them.
pub(super) const CARES_OF_A_START: usize = 2;
/// The change of an axis at rest would be over at once; it takes this long, s.
pub(super) const QUICKEST: f64 = 0.02;
/// Times that the least time of a change to a rate other than 0 is guessed anew.
const GUESSES: usize = 3;

/// How carefully a change is searched for.
#[derive(Clone, Copy)]
pub(super) struct Care {
    /// As in [`Maker`].
    margin: f64,
    rounds: usize,
    /// Pieces in which the least time would be cut, were all alike,
    steps: f64,
    /// and pieces of a release,
    release: usize,
    /// which may end short of the new rate by this part of the whole change; its end is stretched to meet it.
    short: f64,
}

/// The least time in which any course by itself could change its rate so, s: a course's own optimum is a change of its speed
/// along the path, whose closed form is a [`Ramp`]. Of a new rate other than 0 it is a guess, since the path's own speed at the
/// end depends on the time.
pub(super) fn least_time<P: Path>(courses: &[Course<P>], from: Sample, to: f64, regime: Regime) -> f64 {
    let least = courses.iter().map(|course| {
        let at = |position: f64| course.path.at(course.time + position);
        let now = at(from.position);
        let (begins, limits) = (felt(now, 0.0, from), course.ceiling(regime));
        let time = |speed: f64| {
            Ramp::new(begins.speed, begins.acceleration, speed * to, limits.acceleration, limits.jerk).duration()
        };
        let guesses = if to == 0.0 { 0 } else { GUESSES };
        (0..guesses)
            .fold(time(now.speed), |least, _| time(at(from.position + least * (from.speed + to) / 2.0).speed))
    });
    least.fold(QUICKEST, f64::max)
}

/// What a plan is made for.
#[derive(Clone, Copy)]
pub(super) struct Wanted {
    pub from: Sample,
    pub to: f64,
    pub regime: Regime,
    pub care: Care,
    pub wait: f64,
    pub least: f64,
    pub trusting: bool,
}

/// s, the less the better: of a stop how long it takes, of any other change by how much the cues' own time falls behind the clock. So
/// the slower the new rate the more it counts how soon that is met; at full rate it is by how much later the cues end, and one that
/// nears it by and by costs next to nothing while it does.
pub(super) fn cost(change: &Change) -> f64 {
    change.duration() - if change.to_rate() == 0.0 { 0.0 } else { change.distance().abs() }
}

impl Wanted {
    pub fn plan<P: Path>(self, courses: &[Course<P>], effort: &Effort) -> Option<Change> {
        let Care { margin, rounds, steps, release, short } = self.care;
        let planner = Planner {
            make: Maker { courses, regime: self.regime, margin, rounds, effort },
            to: self.to,
            way: 1.0,
            step: self.least / steps,
            release,
            short,
            trusting: self.trusting,
        };
        planner.plan(self.from, self.wait)
    }
}

/// The way to the next change of jerk of any course, s of the cues' own time.
pub(super) fn change_ahead<P: Path>(courses: &[Course<P>], state: Sample) -> f64 {
    let effort = Effort::of(u32::MAX);
    let make = Maker { courses, regime: Regime::Stopping, margin: 0.0, rounds: 0, effort: &effort };
    make.glance(state, 0.0).map_or(f64::INFINITY, |glance| glance.ahead)
}
