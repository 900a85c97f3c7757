//! How fast the rate of running cues may change.
//!
//! Axes that follow q(τ) while τ runs at the rate r move with q̇ = q'r, q̈ = q''r² + q'r' and
//! q⃛ = q'''r³ + 3q''rr' + q'r''. A change of rate is a [`Ramp`] of r; whether it keeps every limit is settled over
//! the very stretch that it covers: the stretch is cut into cells, and in each the derivatives are bounded by
//! interval arithmetic from their exact extremes, so that a ramp which passes passes at every instant. The search
//! takes the shortest ramp that passes, over its time and its shape.

mod path;
mod range;

pub use path::{Extremes, Path};
pub use range::Range;

use super::profile::{Ceiling, Profile, Sample};
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

/// Cells into which a ramp is cut.
const CELLS: usize = 48;
/// Quickest change that is tried, s; an axis at rest could be stopped in less, but nothing would be won.
const QUICKEST: f64 = 0.02;
/// Slowest change that is tried, s.
const SLOWEST: f64 = 40.0;
/// From one time tried to the next.
const LADDER: f64 = 1.3;
/// The parts of a ramp's time that its first and its last phase take. Where a cue slows down anyway there is little
/// reserve at first and more by and by, so that a long onset and a short release fit; where it speeds up, the other
/// way round.
const SHAPES: [(f64, f64); 8] =
    [(0.3, 0.3), (0.5, 0.5), (0.15, 0.15), (0.85, 0.15), (0.6, 0.15), (0.4, 0.15), (0.15, 0.5), (0.15, 0.85)];
/// A shape is worth its try only if it is shorter by this.
const BETTER: f64 = 0.98;
/// Halvings of the last step of the ladder.
const REFINEMENTS: usize = 4;

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
/// course; `None` where no tried one does, as in a phase that leaves no reserve.
pub fn change_rate<P: Path>(courses: &[Course<P>], rate: f64, drift: f64, to: f64, regime: Regime) -> Option<Ramp> {
    if rate == to && drift == 0.0 {
        return Some(Ramp::steady(to));
    }
    let quickest = if to == 0.0 { least_stop(courses, rate, drift, regime).max(QUICKEST) } else { QUICKEST };
    let mut best: Option<Ramp> = None;
    for shape in SHAPES {
        let shortest_so_far = best.map_or(f64::INFINITY, |ramp| ramp.duration());
        if let Some(ramp) = shortest(courses, (rate, drift, to), regime, shape, [quickest, shortest_so_far]) {
            best = Some(ramp);
        }
    }
    best
}

/// s, in which no course can come to rest any sooner, whatever the others do: its own speed and acceleration taken off
/// within its limits.
fn least_stop<P: Path>(courses: &[Course<P>], rate: f64, drift: f64, regime: Regime) -> f64 {
    let least = courses.iter().map(|course| {
        let now = course.path.at(course.time);
        let acceleration = now.acceleration * rate * rate + now.speed * drift;
        let limits = course.ceiling(regime);
        Ramp::new(now.speed * rate, acceleration, 0.0, limits.acceleration, limits.jerk).duration()
    });
    least.fold(0.0, f64::max)
}

/// The shortest of one shape from `quickest` s on, if it is shorter than `bound` s.
fn shortest<P: Path>(
    courses: &[Course<P>],
    (rate, drift, to): (f64, f64, f64),
    regime: Regime,
    (onset, release): (f64, f64),
    [quickest, bound]: [f64; 2],
) -> Option<Ramp> {
    let ramp_in = |time: f64| {
        let change = (to - rate).abs().max(drift.abs() * time / 2.0).max(1e-3);
        let limit = change / (time * (1.0 - (onset + release) / 2.0));
        Ramp::skewed(rate, drift, to, limit, limit / (onset * time), limit / (release * time))
    };
    // Where one ramp broke a limit the next is likely to: it is looked at first.
    let mut broken = Cell { phase: 0, index: 0 };
    let mut passes = |time: f64| {
        let ramp = ramp_in(time);
        if !keeps_in(courses, &ramp, broken, regime) {
            return false;
        }
        let first = first_broken(courses, &ramp, regime);
        broken = first.unwrap_or(broken);
        first.is_none()
    };
    let (mut shorter, mut time) = (quickest, quickest);
    while !passes(time) {
        // The last rung stands just short of what is to be beaten.
        let next = (time * LADDER).min(BETTER * bound);
        if next > SLOWEST || next <= time || ramp_in(next).duration() >= bound {
            return None;
        }
        (shorter, time) = (time, next);
    }
    let (mut too_short, mut long_enough) = (shorter, time);
    if time > quickest {
        for _ in 0..REFINEMENTS {
            let middle = (too_short + long_enough) / 2.0;
            if passes(middle) { long_enough = middle } else { too_short = middle }
        }
    }
    let ramp = ramp_in(long_enough);
    (ramp.duration() < bound).then_some(ramp)
}

/// Whether every course keeps its limits from now until the ramp has ended.
pub fn keeps_limits<P: Path>(courses: &[Course<P>], ramp: &Ramp, regime: Regime) -> bool {
    first_broken(courses, ramp, regime).is_none()
}

/// One of the parts into which a phase of a ramp is cut.
#[derive(Clone, Copy, Debug)]
struct Cell {
    phase: usize,
    index: usize,
}

fn first_broken<P: Path>(courses: &[Course<P>], ramp: &Ramp, regime: Regime) -> Option<Cell> {
    let mut begin = 0.0;
    let mut at_begin = ramp.at(0.0);
    for (phase, time) in ramp.times().into_iter().enumerate() {
        let count = count(ramp, phase);
        for index in 0..count {
            let end = begin + time * (index + 1) as f64 / count as f64;
            let middle = begin + time * (index as f64 + 0.5) / count as f64;
            let from = Sample { jerk: ramp.at(middle).jerk, ..at_begin };
            at_begin = ramp.at(end);
            if !courses.iter().all(|course| keeps_in_cell(course, from, at_begin, regime)) {
                return Some(Cell { phase, index });
            }
        }
        begin += time;
    }
    None
}

/// Cells of a phase; none if it takes no time.
fn count(ramp: &Ramp, phase: usize) -> usize {
    let time = ramp.times()[phase];
    if time > 0.0 { ((CELLS as f64 * time / ramp.duration()).ceil() as usize).clamp(1, CELLS) } else { 0 }
}

fn keeps_in<P: Path>(courses: &[Course<P>], ramp: &Ramp, Cell { phase, index }: Cell, regime: Regime) -> bool {
    let times = ramp.times();
    let (before, count) = (times[..phase].iter().sum::<f64>(), count(ramp, phase));
    if index >= count {
        return true;
    }
    let end_of = |cell: usize| before + times[phase] * cell as f64 / count as f64;
    let (begin, end) = (end_of(index), end_of(index + 1));
    let from = Sample { jerk: ramp.at((begin + end) / 2.0).jerk, ..ramp.at(begin) };
    let to = ramp.at(end);
    courses.iter().all(|course| keeps_in_cell(course, from, to, regime))
}

/// Bounds over one cell: `from` and `to` are the ramp at its ends; the jerk of `from` holds throughout.
fn keeps_in_cell<P: Path>(course: &Course<P>, from: Sample, to: Sample, regime: Regime) -> bool {
    let ceiling = course.ceiling(regime);
    let begin = course.time + from.position.min(to.position);
    let end = course.time + from.position.max(to.position);
    if end <= 0.0 || begin >= course.path.duration() {
        return true;
    }
    let derivatives = course.path.extremes(begin, end);
    let mut rate = Range::of(from.speed, to.speed);
    if from.acceleration * to.acceleration < 0.0 {
        let turning = -from.acceleration / from.jerk;
        rate = rate.with(from.after(turning).speed);
    }
    let drift = Range::of(from.acceleration, to.acceleration);
    let bend = Range::of(from.jerk, from.jerk);
    let square = rate.square();
    let speed = derivatives.speed.times(rate);
    let acceleration = derivatives.acceleration.times(square).plus(derivatives.speed.times(drift));
    let jerk = derivatives
        .jerk
        .times(square.times(rate))
        .plus(derivatives.acceleration.times(rate.times(drift)).scaled(3.0))
        .plus(derivatives.speed.times(bend));
    speed.within(ceiling.speed) && acceleration.within(ceiling.acceleration) && jerk.within(ceiling.jerk)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn course(time: f64) -> Course {
        // 6 m at 0.6, 0.3, 0.6, with the usual reserve for stopping.
        let run = Ceiling { speed: 0.1, acceleration: 0.05, jerk: 0.1 };
        let stop = Ceiling { speed: 0.1, acceleration: 0.075, jerk: 0.4 };
        Course { path: Profile::fastest(run), time, run, stop }
    }

    /// Limits as the axes would feel them, by finite differences of the positions alone.
    fn felt(course: &Course, ramp: &Ramp) -> Ceiling {
        let step = 1e-3;
        let along = |i: usize| course.path.at(course.time + ramp.at(i as f64 * step).position).position;
        let steps = (ramp.duration() / step) as usize + 3;
        let mut felt = Ceiling { speed: 0.0, acceleration: 0.0, jerk: 0.0 };
        for i in 0..steps {
            let (a, b, c, d) = (along(i), along(i + 1), along(i + 2), along(i + 3));
            felt.speed = felt.speed.max((b - a).abs() / step);
            felt.acceleration = felt.acceleration.max((c - 2.0 * b + a).abs() / step.powi(2));
            felt.jerk = felt.jerk.max((d - 3.0 * c + 3.0 * b - a).abs() / step.powi(3));
        }
        felt
    }

    #[test]
    fn a_stop_from_any_time_keeps_the_stopping_limits_and_is_not_slow() {
        let duration = course(0.0).path.duration();
        for i in 0..200 {
            let course = course(duration * f64::from(i) / 200.0);
            let now = course.path.at(course.time);
            let ramp = change_rate(&[course], 1.0, 0.0, 0.0, Regime::Stopping).unwrap();
            let felt = felt(&course, &ramp);
            assert!(felt.speed <= course.stop.speed * 1.0001, "{i}: {felt:?}");
            assert!(felt.acceleration <= course.stop.acceleration * 1.0001, "{i}: {felt:?}");
            assert!(felt.jerk <= course.stop.jerk * 1.01, "{i}: {felt:?}");
            // The least possible: the profile's own state, stopped within the same limits.
            let least =
                Ramp::new(now.speed, now.acceleration, 0.0, course.stop.acceleration, course.stop.jerk).duration();
            assert!(ramp.duration() <= 1.85 * least + 0.02, "{i}: {} against {least}", ramp.duration());
        }
    }

    #[test]
    fn a_resume_and_a_return_keep_the_running_limits() {
        let duration = course(0.0).path.duration();
        for i in 0..100 {
            let course = course(duration * f64::from(i) / 100.0);
            for to in [1.0, 0.4, -0.5] {
                let ramp = change_rate(&[course], 0.0, 0.0, to, Regime::Running).unwrap();
                let felt = felt(&course, &ramp);
                assert!(felt.acceleration <= course.run.acceleration * 1.0001, "{i} {to}: {felt:?}");
                assert!(felt.jerk <= course.run.jerk * 1.01, "{i} {to}: {felt:?}");
            }
        }
    }

    #[test]
    fn without_reserve_a_stop_waits_for_its_moment() {
        let mut course = course(0.0);
        course.stop = course.run;
        let fall = course.path.breaks()[3];
        course.time = fall + 0.75;
        assert_eq!(change_rate(&[course], 1.0, 0.0, 0.0, Regime::Stopping), None);
        course.time = fall - 3.0;
        assert!(change_rate(&[course], 1.0, 0.0, 0.0, Regime::Stopping).is_some());
    }
}
