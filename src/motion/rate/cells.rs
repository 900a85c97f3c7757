//! The exact check of a change of rate: that every limit holds throughout, not only where it is looked at.
//!
//! While the path has one jerk q''' and the second derivative b of the rate grows by w, an axis moves with
//!
//! ```text
//! q̇ = q'r                  q⃛    = q'''r³ + 3q''rr' + q'b
//! q̈ = q''r² + q'r'         q⁽⁴⁾ = 6q'''r²r' + 3q''r'² + 4q''rb + q'w
//!                          q⁽⁵⁾ = 15q'''rr'² + 10q'''r²b + 10q''r'b + 5q''rw
//! ```
//!
//! A function strays from the straight line between its values at the ends of a cell of h s by no more than h²/8 of its
//! greatest second derivative there, and not at all past an end from which it sets out steeply enough inwards. So speed,
//! acceleration and jerk are bounded by their values at the ends, and by bounds on the derivatives two above. A cell that
//! does not pass is halved, until it passes or one of its ends breaks a limit.

use super::change::{Change, Piece, flow};
use super::effort::Effort;
use super::path::Path;
use super::range::Range;
use super::{Course, Regime};
use crate::motion::profile::{Ceiling, Sample};

/// Rounding allowed in a comparison, as a fraction of the limit.
const ROUNDING: f64 = 1e-9;
/// Halvings of a cell before it is given up.
const HALVINGS: u32 = 6;
const PLAIN_HALVINGS: u32 = 3;
/// A change of the path's jerk is taken to lie at an end of a piece that is as near as this, s. In such a time no jerk
/// changes an acceleration by more than rounding.
const SNAP: f64 = 1e-9;
/// Steps of a search for an instant.
const STEPS: usize = 60;

/// Whether every course keeps its limits from now until the change has ended.
pub fn keeps_limits<P: Path>(courses: &[Course<P>], change: &Change, regime: Regime) -> bool {
    let effort = Effort::of(u32::MAX);
    courses.iter().all(|course| keeps(course, change, regime, &effort))
}

/// Whether one course does; what cannot be settled with the effort that is left does not.
pub(super) fn keeps<P: Path>(course: &Course<P>, change: &Change, regime: Regime, effort: &Effort) -> bool {
    keeps_by(course, change, regime, Look { halvings: HALVINGS, effort })
}

/// Whether all do, looked at less closely: what passes is as sure, but more fails.
pub(super) fn plainly_keeps_limits<P: Path>(
    courses: &[Course<P>],
    change: &Change,
    regime: Regime,
    effort: &Effort,
) -> bool {
    courses.iter().all(|course| keeps_by(course, change, regime, Look { halvings: PLAIN_HALVINGS, effort }))
}

/// What it takes to find the instant of a change of jerk, in looks.
const FIND: usize = 4;

/// How closely a cell is looked at.
#[derive(Clone, Copy)]
struct Look<'a> {
    halvings: u32,
    effort: &'a Effort,
}

fn keeps_by<P: Path>(course: &Course<P>, change: &Change, regime: Regime, look: Look) -> bool {
    let ceiling = course.ceiling(regime);
    let mut state = Sample { position: course.time, ..change.begins() };
    for piece in change.pieces() {
        let finite =
            [piece.time, piece.bend, piece.twist, state.speed, state.acceleration].into_iter().all(f64::is_finite);
        if !finite || !keeps_in_piece(&course.path, ceiling, state, *piece, look) {
            return false;
        }
        state = piece.end(state);
    }
    true
}

/// Cuts a piece where the rate changes its sign and where the path's jerk changes.
fn keeps_in_piece<P: Path>(path: &P, ceiling: Ceiling, from: Sample, piece: Piece, look: Look) -> bool {
    let mut from = Sample { jerk: piece.bend, ..from };
    let mut left = piece.time;
    while left > 0.0 {
        let until = turns(from, piece.twist, left);
        let to = flow(from, piece.twist, until).position;
        let change = if to >= from.position {
            path.change_after(from.position + SNAP).min(to)
        } else {
            path.change_before(from.position - SNAP).max(to)
        };
        let within = (to - change).abs() > SNAP;
        if within && look.effort.spend(FIND).is_none() {
            return false;
        }
        let time = if within { time_to(from, piece.twist, until, change - from.position) } else { until };
        let cell = Cell { from, twist: piece.twist, time };
        if !cell.keeps(path, ceiling, look) {
            return false;
        }
        from = flow(from, piece.twist, time);
        left -= time;
    }
    true
}

/// The time until which the rate keeps the sign with which it begins, s, at most `left`.
fn turns(from: Sample, twist: f64, left: f64) -> f64 {
    let sign = [from.speed, from.acceleration, from.jerk].into_iter().find(|&value| value != 0.0).unwrap_or(0.0);
    // A cubic lies within the hull of its control values (Farin, 2002).
    let to = flow(from, twist, left);
    let controls = [
        from.speed,
        from.speed + left / 3.0 * from.acceleration,
        to.speed - left / 3.0 * to.acceleration,
        to.speed,
    ];
    if controls.into_iter().all(|control| control * sign >= 0.0) {
        return left;
    }
    let against = |time: f64| flow(from, twist, time).speed * sign < 0.0;
    // Where its derivative passes zero the rate may turn, and come back before the end.
    let mut before = 0.0;
    for after in stills(from, twist).into_iter().filter(|&still| still > 0.0 && still < left).chain([left]) {
        if against(after) {
            return turn(against, before, after);
        }
        before = after;
    }
    left
}

/// The times at which the derivative of the rate is zero, the earlier first; not numbers where there are none.
fn stills(from: Sample, twist: f64) -> [f64; 2] {
    let root = (from.jerk * from.jerk - 2.0 * from.acceleration * twist).sqrt();
    // Added to what has the same sign, so that no digits cancel.
    let sum = -from.jerk - root.copysign(from.jerk);
    let (a, b) = (sum / twist, 2.0 * from.acceleration / sum);
    [a.min(b), a.max(b)]
}

fn turn(against: impl Fn(f64) -> bool, mut before: f64, mut after: f64) -> f64 {
    for _ in 0..STEPS {
        let middle = (before + after) / 2.0;
        if against(middle) { after = middle } else { before = middle }
    }
    after
}

/// The time in which the position goes `way`, which it does within `most` s without turning back.
pub(super) fn time_to(from: Sample, twist: f64, most: f64, way: f64) -> f64 {
    let (mut before, mut after) = (0.0, most);
    let mut time = most / 2.0;
    for _ in 0..STEPS {
        let there = flow(from, twist, time);
        let short = way - (there.position - from.position);
        if short * way > 0.0 {
            before = time
        } else {
            after = time
        }
        let newton = time + short / there.speed;
        let next = if newton > before && newton < after { newton } else { (before + after) / 2.0 };
        if (next - time).abs() <= 1e-15 * most {
            return next;
        }
        time = next;
    }
    time
}

/// What an axis does at one instant.
#[derive(Clone, Copy, Debug)]
pub(super) struct Felt {
    pub speed: f64,
    pub acceleration: f64,
    pub jerk: f64,
}

/// By the path there, of that jerk, and the rate.
pub(super) fn felt(path: Sample, jerk: f64, rate: Sample) -> Felt {
    let (r, drift, bend) = (rate.speed, rate.acceleration, rate.jerk);
    Felt {
        speed: path.speed * r,
        acceleration: path.acceleration * r * r + path.speed * drift,
        jerk: (jerk * r * r + 3.0 * path.acceleration * drift) * r + path.speed * bend,
    }
}

pub(super) fn fourth(path: Sample, jerk: f64, rate: Sample, twist: f64) -> f64 {
    let (r, drift, bend) = (rate.speed, rate.acceleration, rate.jerk);
    let curved = (6.0 * jerk * r * drift + 4.0 * path.acceleration * bend) * r;
    curved + 3.0 * path.acceleration * drift * drift + path.speed * twist
}

pub(super) fn fifth(path: Sample, rate: Sample, twist: f64) -> f64 {
    let (r, drift, bend) = (rate.speed, rate.acceleration, rate.jerk);
    (15.0 * drift * drift + 10.0 * r * bend) * path.jerk * r
        + (10.0 * drift * bend + 5.0 * r * twist) * path.acceleration
}

/// Bounds on the magnitudes of the fourth and the fifth derivative over a cell of `time` s, by path and rate at its ends, and
/// the greatest jerk of the path in it.
fn fourth_and_fifth(path: [Sample; 2], jerk: f64, rate: [Sample; 2], twist: f64, time: f64) -> [f64; 2] {
    let most = |values: [f64; 2]| values[0].abs().max(values[1].abs());
    let eighth = time * time / 8.0;
    let (jerk, twist) = (jerk.abs(), twist.abs());
    let bend = most(rate.map(|at| at.jerk));
    let drift = most(rate.map(|at| at.acceleration)) + eighth * twist;
    let r = most(rate.map(|at| at.speed)) + eighth * bend;
    let acceleration = most(path.map(|at| at.acceleration));
    let speed = most(path.map(|at| at.speed)) + eighth * r * r * jerk;
    [
        (6.0 * jerk * r * drift + 4.0 * acceleration * bend) * r
            + 3.0 * acceleration * drift * drift
            + speed * twist,
        (15.0 * drift * drift + 10.0 * r * bend) * jerk * r
            + (10.0 * drift * bend + 5.0 * r * twist) * acceleration,
    ]
}

/// A stretch of time in which the rate keeps its sign and the path its jerk.
#[derive(Clone, Copy)]
struct Cell {
    from: Sample,
    twist: f64,
    time: f64,
}

impl Cell {
    fn keeps<P: Path>(self, path: &P, ceiling: Ceiling, look: Look) -> bool {
        if look.effort.spend(1).is_none() {
            return false;
        }
        let Cell { from, twist, time } = self;
        let (middle, to) = (flow(from, twist, time / 2.0), flow(from, twist, time));
        let jerk = path.at(middle.position).jerk;
        let (first, last) = (path.at(from.position), path.at(to.position));
        let (a, b) = (felt(first, jerk, from), felt(last, jerk, to));
        let limits = [ceiling.speed, ceiling.acceleration, ceiling.jerk].map(|limit| limit * (1.0 + ROUNDING));
        let ends = [[a.speed, b.speed], [a.acceleration, b.acceleration], [a.jerk, b.jerk]];
        let kept = |(&[a, b], limit): (&[f64; 2], f64)| a.abs() <= limit && b.abs() <= limit;
        if !ends.iter().zip(limits).all(kept) {
            return false;
        }
        let [most_fourth, most_fifth] = fourth_and_fifth([first, last], jerk, [from, to], twist, time);
        let stray = most_fifth * time * time / 8.0;
        let third = Range { low: a.jerk.min(b.jerk) - stray, high: a.jerk.max(b.jerk) + stray };
        let fourths = [fourth(first, jerk, from, twist), fourth(last, jerk, to, twist)];
        let passes = within(ends[0], ends[1], third, time, limits[0])
            && within(ends[1], ends[2], Range::of(-most_fourth, most_fourth), time, limits[1])
            && within(ends[2], fourths, Range::of(-most_fifth, most_fifth), time, limits[2]);
        let halves = [Cell { time: time / 2.0, ..self }, Cell { from: middle, twist, time: time / 2.0 }];
        let closer = Look { halvings: look.halvings.saturating_sub(1), ..look };
        passes || look.halvings > 0 && halves.into_iter().all(|half| half.keeps(path, ceiling, closer))
    }
}

/// Whether a function stays within ±`limit` throughout a cell of `time` s, by its values at the ends, its derivatives
/// there, and bounds on its second derivative.
fn within(ends: [f64; 2], slopes: [f64; 2], bend: Range, time: f64, limit: f64) -> bool {
    // Above its ends it gets only by bending down, and only if it may set out upwards from both.
    let below = |ends: [f64; 2], slopes: [f64; 2], down: f64, up: f64| {
        ends[0].max(ends[1]) + down * time * time / 8.0 <= limit
            || slopes[0] + up * time / 2.0 <= 0.0
            || up * time / 2.0 - slopes[1] <= 0.0
    };
    let (down, up) = ((-bend.low).max(0.0), bend.high.max(0.0));
    below(ends, slopes, down, up) && below(ends.map(|end| -end), slopes.map(|slope| -slope), up, down)
}
