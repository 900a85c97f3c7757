//! How fast the rate of running cues may change.
//!
//! Axes that follow q(τ) while τ runs at the rate r move with q̇ = q'r, q̈ = q''r² + q'r' and
//! q⃛ = q'''r³ + 3q''rr' + q'r''. A change of rate is a [`Change`], found by [`search`] as nearly time-optimal as it may be, or by
//! the plain search of [`ladder`] where that finds none. Whether it keeps every limit is settled by [`cells`] over the very
//! stretch that it covers, at every instant of it; what does not pass is not used. The stop of the slowest course [`alone`] is tried
//! first.

mod alone;
mod basis;
mod cells;
mod change;
mod effort;
mod ladder;
mod linear;
mod path;
mod piece;
mod plan;
mod range;
mod search;
mod spline;
mod standard;
#[cfg(test)]
mod tests;
mod wanted;

pub use cells::keeps_limits;
pub use change::{Change, Piece};
pub use path::{Extremes, Path};
pub use range::Range;
pub use search::Search;
pub use standard::{Bears, RUNGS, SHAPES, Standard, no_farther, told_beforehand};

use super::profile::{Ceiling, Profile};
use super::ramp::Ramp;

/// One path under way, and the limits of its axes in the path's own units: a move of all its axes in proportion along a
/// [`Profile`], or one axis along a curve of its own.
#[derive(Clone, Copy, Debug)]
pub struct Course<P = Profile> {
    pub path: P,
    /// The path's own time, s.
    pub time: f64,
    /// The least over its axes of each running limit by the way of the axis.
    pub run: Ceiling,
    /// The same of the stopping limits.
    pub stop: Ceiling,
}

/// Which limits hold during a change of rate.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Regime {
    Running,
    Stopping,
}

/// The part of a limit that is rounding.
const LEVEL: f64 = 1e-12;

impl<P: Path> Course<P> {
    /// The highest steady rate, at most 1, at which the path keeps its running limits from `begin` to `end` s of its
    /// own time.
    pub fn pace(path: &P, run: Ceiling, begin: f64, end: f64) -> f64 {
        let (begin, end) = (begin.max(0.0), end.min(path.duration()));
        if begin >= end {
            return 1.0;
        }
        let peaks = path.extremes(begin, end);
        let speed = run.speed / peaks.speed.most();
        let acceleration = (run.acceleration / peaks.acceleration.most()).sqrt();
        let jerk = libm::cbrt(run.jerk / peaks.jerk.most());
        let pace = speed.min(acceleration).min(jerk);
        // A plan that just meets its limits shall run at 1, not at 1 less the rounding.
        if pace > 1.0 - 1e-9 { 1.0 } else { pace }
    }

    fn ceiling(&self, regime: Regime) -> Ceiling {
        match regime {
            Regime::Running => self.run,
            Regime::Stopping => self.stop,
        }
    }
}

/// The shortest change from `rate` and its derivative `drift` to the rate `to` that keeps the limits of every
/// course; `None` where none is found, as in a phase that leaves no reserve. Where a rate other than 0 is met only farther on, it may
/// be one to a rate near it. From a steady rate a stop is always found: at the
/// latest where every path has ended.
pub fn change_rate<P: Path + Clone>(
    courses: &[Course<P>],
    rate: f64,
    drift: f64,
    to: f64,
    regime: Regime,
) -> Option<Change> {
    Search::new(courses, rate, drift, to, regime).finish(courses)
}

/// The same, in a hurry: with no more looks than a tick has time for, among so many in the same tick. It may be a longer one.
pub fn change_at_once<P: Path + Clone>(
    courses: &[Course<P>],
    rate: f64,
    drift: f64,
    to: f64,
    regime: Regime,
    among: usize,
) -> Option<Change> {
    Search::hurried(among, courses, rate, drift, to, regime).finish(courses)
}

/// Where every path goes on at a steady speed for as long as the change lasts, its limits are the same all along: then it has a
/// closed form, the least that is possible, and is the same from wherever in that stretch it begins. `None` elsewhere.
pub fn level<P: Path>(courses: &[Course<P>], rate: f64, drift: f64, to: f64, regime: Regime) -> Option<Change> {
    let (mut acceleration, mut jerk, mut room) = (f64::INFINITY, f64::INFINITY, f64::INFINITY);
    for course in courses {
        let now = course.path.at(course.time);
        let limits = course.ceiling(regime);
        if now.acceleration.abs() > LEVEL * limits.acceleration || now.jerk.abs() > LEVEL * limits.jerk {
            return None;
        }
        acceleration = acceleration.min(limits.acceleration / now.speed.abs());
        jerk = jerk.min(limits.jerk / now.speed.abs());
        let ahead = if rate + to > 0.0 {
            course.path.change_after(course.time) - course.time
        } else {
            course.time - course.path.change_before(course.time)
        };
        room = room.min(ahead);
    }
    let is_level = acceleration.is_finite() && jerk.is_finite() && drift.abs() <= acceleration;
    // One way only: what turns round on its way has no room of its own.
    if !is_level || rate * to < 0.0 || drift * (to - rate) < 0.0 {
        return None;
    }
    let ramp = Ramp::new(rate, drift, to, acceleration, jerk);
    let change = Change::along(&ramp);
    (ramp.distance().abs() <= room && keeps_limits(courses, &change, regime)).then_some(change)
}

/// s, on at a steady rate until every path has ended; infinity if that is not to be.
fn time_out<P: Path>(courses: &[Course<P>], rate: f64) -> f64 {
    let left =
        courses.iter().map(|course| if rate > 0.0 { course.path.duration() - course.time } else { course.time });
    let time = left.fold(0.0, f64::max) / rate.abs();
    // Faster than planned a cue never runs.
    if rate.abs() <= 1.0 && time.is_finite() { time } else { f64::INFINITY }
}

/// On at a steady rate for so long; what the rate does when every path has ended moves nothing.
fn run_out(rate: f64, time: f64) -> Option<Change> {
    let pieces = [Piece { time, ..Piece::default() }].into_iter().collect();
    time.is_finite().then(|| Change::through(rate, 0.0, 0.0, &pieces))
}

/// Of a brake that begins at once and one that begins after a wait: the first, unless it takes longer or goes farther than the
/// other. So what is kept is never worse than the other, in time or in way.
pub fn no_worse(at_once: Option<Change>, later: Option<Change>) -> Option<Change> {
    let worse = |one: &Change, other: &Change| {
        one.duration() > other.duration() || one.distance().abs() > other.distance().abs()
    };
    match (at_once, later) {
        (Some(at_once), Some(later)) if worse(&at_once, &later) => Some(later),
        (at_once, later) => at_once.or(later),
    }
}
