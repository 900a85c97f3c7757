//! The plain search: three-phase ramps of a few shapes and lengths, the shortest that keeps every limit.

use super::cells::plainly_keeps_limits;
use super::change::Change;
use super::effort::Effort;
use super::path::Path;
use super::{Course, Regime};
use crate::motion::ramp::Ramp;

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

/// How many shapes are tried.
pub(super) const TRIES: usize = SHAPES.len();

/// The shortest of one shape from `quickest` s on, if it is shorter than `bound` s.
pub(super) fn shortest<P: Path>(
    courses: &[Course<P>],
    [rate, drift, to]: [f64; 3],
    regime: Regime,
    shape: usize,
    [quickest, bound]: [f64; 2],
    effort: &Effort,
) -> Option<Change> {
    let (onset, release) = SHAPES[shape];
    let ramp_in = |time: f64| {
        let change = (to - rate).abs().max(drift.abs() * time / 2.0).max(1e-3);
        let limit = change / (time * (1.0 - (onset + release) / 2.0));
        Ramp::skewed(rate, drift, to, limit, limit / (onset * time), limit / (release * time))
    };
    let passes = |time: f64| {
        let change = Change::along(&ramp_in(time));
        // Of numbers beyond all measure no time is left.
        change.begins().speed == rate && plainly_keeps_limits(courses, &change, regime, effort)
    };
    let (mut shorter, mut time) = (quickest, quickest);
    while !passes(time) {
        effort.spend(1)?;
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
    (ramp.duration() < bound).then(|| Change::along(&ramp))
}
