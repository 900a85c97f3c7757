//! The stop that the slowest course would make alone: its closed form, made a change of rate.
//!
//! An axis by itself stops along its path in the least time by a [`Ramp`] of its speed v. At each instant of that the rate and its
//! derivative follow from where the path then is: r = v/q' and r' = (a − q''r²)/q'. Between the instants r is the cubic through
//! both, which is a piece of linear r''; its jerk strays from the ramp's by the square of the piece's length. Pieces end where
//! the ramp's jerk changes, and where the path's does.
//!
//! No stop of several courses is sooner than the slowest of them alone. So where the others bear it, and [`super::cells`] finds
//! that every limit holds, there is nothing to search for.

use arrayvec::ArrayVec;

use super::cells::felt;
use super::change::{CHANGE_PIECES, Change, Piece, SEARCHED_PIECES};
use super::effort::Effort;
use super::path::Path;
use super::wanted::QUICKEST;
use super::{Course, Regime};
use crate::motion::profile::{Ceiling, Sample};
use crate::motion::ramp::Ramp;

/// Kept from the limits, as a part of them, for what the cubics stray.
const MARGIN: f64 = 5e-3;
/// Pieces of equal length into which a ramp would be cut, were it without a change of jerk.
const PARTS: f64 = 3.0;
const PIECES_MOST: usize = SEARCHED_PIECES;
/// A piece is made so much shorter than what would just be straight enough.
const FITTING: f64 = 0.9;
/// Times that a piece is made shorter at most.
const SHORTENINGS: usize = 6;
/// Rounds in which the end of a piece is found, and steps in which its length is.
const ROUNDS: usize = 6;
const STEPS: usize = 40;
/// s of the path's own time; from a change of its jerk nothing is asked nearer than this.
const BESIDE: f64 = 1e-7;
/// s; so much is rounding.
const ROUNDING: f64 = 1e-12;
/// A path that has become slower than this part of its speed at first is near a rest, where the rate says little.
const SLOW: f64 = 1e-3;

/// From a state of the rate, which tells that as its speed, to rest; `None` where there is no such change, or its pieces are too
/// coarse. It is not checked.
pub(super) fn stop<P: Path>(
    courses: &[Course<P>],
    from: Sample,
    regime: Regime,
    effort: &Effort,
) -> Option<Change> {
    effort.spend(courses.len())?;
    let ramps = courses.iter().map(|course| (course, ramp(course, from, regime)));
    let (course, ramp) = ramps.max_by(|(_, one), (_, other)| one.duration().total_cmp(&other.duration()))?;
    if !(ramp.duration() >= QUICKEST && ramp.duration().is_finite() && from.speed != 0.0) {
        return None;
    }
    let least = SLOW * course.path.at(course.time).speed.abs();
    Tracer { course, ramp, way: from.speed.signum(), least, limit: course.ceiling(regime), effort }.traced(from)
}

fn ramp<P: Path>(course: &Course<P>, from: Sample, regime: Regime) -> Ramp {
    let Ceiling { acceleration, jerk, .. } = course.ceiling(regime);
    let now = felt(course.path.at(course.time), 0.0, from);
    Ramp::new(now.speed, now.acceleration, 0.0, (1.0 - MARGIN) * acceleration, (1.0 - MARGIN) * jerk)
}

struct Tracer<'a, P> {
    course: &'a Course<P>,
    ramp: Ramp,
    /// Which way the cues' own time goes on, 1 or -1.
    way: f64,
    /// Where the path is slower nothing is traced.
    least: f64,
    limit: Ceiling,
    effort: &'a Effort,
}

impl<P: Path> Tracer<'_, P> {
    fn traced(&self, from: Sample) -> Option<Change> {
        let mut pieces = ArrayVec::<Piece, CHANGE_PIECES>::new();
        let step = self.ramp.duration() / PARTS;
        let mut state = Sample { jerk: 0.0, ..from };
        let mut begin = 0.0;
        for phase in self.ramp.times() {
            let end = begin + phase;
            let (mut time, mut step) = (begin, step);
            while end - time > ROUNDING {
                let parts = ((end - time) / step).ceil();
                let (piece, next) = self.piece(state, time, (end - time) / parts)?;
                step = next;
                if pieces.len() == PIECES_MOST {
                    return None;
                }
                pieces.push(piece);
                time += piece.time;
                state = Sample { jerk: 0.0, ..piece.end(state) };
            }
            begin = end;
        }
        Some(Change::through(from.speed, from.acceleration, 0.0, &pieces))
    }

    /// One piece of at most `longest` s, from `time` s of the ramp on, and how long the next may be; within it the path has one jerk.
    fn piece(&self, state: Sample, time: f64, longest: f64) -> Option<(Piece, f64)> {
        self.effort.spend(2)?;
        let at = self.course.time + state.position;
        let change = if self.way > 0.0 {
            self.course.path.change_after(at + BESIDE)
        } else {
            self.course.path.change_before(at - BESIDE)
        };
        let jerk = self.course.path.at(at + self.way * BESIDE).jerk;
        let (path, wanted) = (self.course.path.at(at), self.ramp.at(time + longest / 2.0).jerk);
        let begin = felt(path, jerk, state).jerk - wanted;
        let mut longest = longest;
        for _ in 0..SHORTENINGS {
            let (mut piece, mut end) = self.lasting(state, time, longest)?;
            if (end - change) * self.way > -BESIDE {
                (piece, end) = self.reaching(state, time, longest, change)?;
            }
            // The cubic's jerk is off at its ends, and half as much the other way in its middle.
            let last = felt(self.course.path.at(end), jerk, piece.end(state)).jerk - wanted;
            let off = (begin + path.speed * piece.bend).abs().max(last.abs());
            let allowed = (MARGIN * self.limit.jerk).min(4.0 * MARGIN * self.limit.acceleration / piece.time);
            let fitting = piece.time * FITTING * (allowed / off).sqrt();
            if off <= allowed {
                return Some((piece, fitting));
            }
            longest = fitting.max(piece.time / 5.0);
        }
        None
    }

    /// The piece of `length` s, and where on the path it ends.
    fn lasting(&self, state: Sample, time: f64, length: f64) -> Option<(Piece, f64)> {
        let from = self.course.time + state.position;
        let mut end = from + length * state.speed;
        for _ in 0..ROUNDS {
            let (piece, went) = self.through(state, time, length, end)?;
            let first = from + went;
            if (first - end).abs() < ROUNDING {
                return Some((piece, first));
            }
            // What each try is nearer than the one before tells where they go (Aitken, 1926).
            let second = from + self.through(state, time, length, first)?.1;
            let bend = second - 2.0 * first + end;
            let off = (second - first) * (second - first) / bend;
            end = if off.is_finite() { second - off } else { second };
        }
        None
    }

    /// The piece that ends at `end` of the path, s, and that again.
    fn reaching(&self, state: Sample, time: f64, longest: f64, end: f64) -> Option<(Piece, f64)> {
        let way = end - self.course.time - state.position;
        let (mut short, mut long) = (0.0, longest);
        let mut length = longest / 2.0;
        for _ in 0..STEPS {
            let (piece, went) = self.through(state, time, length, end)?;
            let left = way - went;
            if left.abs() < ROUNDING {
                return Some((piece, end));
            }
            if left * self.way > 0.0 {
                short = length
            } else {
                long = length
            }
            let newton = length + left / piece.end(state).speed;
            length = if newton > short && newton < long { newton } else { (short + long) / 2.0 };
        }
        None
    }

    /// The cubic of `length` s that meets what the ramp then says of a path that is at `end` s by then, and how far it goes.
    fn through(&self, state: Sample, time: f64, length: f64, end: f64) -> Option<(Piece, f64)> {
        self.effort.spend(1)?;
        let (there, path) = (self.ramp.at(time + length), self.course.path.at(end));
        if path.speed.abs() < self.least {
            return None;
        }
        let rate = there.speed / path.speed;
        let drift = (there.acceleration - path.acceleration * rate * rate) / path.speed;
        let (rise, square) = (rate - state.speed, length * length);
        let bend = (6.0 * rise - length * (4.0 * state.acceleration + 2.0 * drift)) / square;
        let last = (length * (2.0 * state.acceleration + 4.0 * drift) - 6.0 * rise) / square;
        let went = length * (state.speed + rate) / 2.0 + square * (state.acceleration - drift) / 12.0;
        let piece = Piece { time: length, bend, twist: (last - bend) / length };
        (piece.bend.is_finite() && piece.twist.is_finite()).then_some((piece, went))
    }
}
