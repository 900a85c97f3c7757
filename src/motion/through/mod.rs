//! A move through marks: exactly through each, without stopping, continuous in acceleration, as fast as the limits of every
//! axis on speed, acceleration and jerk allow.
//!
//! The way is made first, then the time: [`fair`] lays the fairest spline of each axis through its marks and inside its
//! travel; [`quickest`] finds the time-optimal rate along it; [`timeline`] makes of both what everything else here is made
//! of, pieces of constant jerk, and stretches it by what is missing until every limit is kept exactly. There is always an
//! answer: the spline itself, run slowly enough.

mod band;
mod fair;
mod quickest;
mod spline;
#[cfg(test)]
mod tests;
mod timeline;

use super::curve::Curve;
use super::profile::Ceiling;
use quickest::quickest;
use timeline::Timeline;

/// One axis of a move through marks, in its own unit.
#[derive(Clone, Debug, PartialEq)]
pub struct Through {
    /// Where it is at the start, at each mark (`None`: anywhere) and at the end.
    pub at: Vec<Option<f64>>,
    pub limits: Ceiling,
    pub travel: [f64; 2],
}

/// The whole move, at rest at both ends.
#[derive(Clone, Debug, PartialEq)]
pub struct Way {
    /// By axis, all of one duration.
    pub curves: Vec<Curve>,
    /// When it is at the start, at each mark and at the end, s.
    pub times: Vec<f64>,
}

/// Pieces of a leg, on the average, at first; twice as many each time that the curve would leave the travel.
const PIECES: f64 = 24.0;
/// Times that the rate is looked for, each along what was found before.
const ROUNDS: usize = 2;
/// Of those that may end outside the travel.
const RETRIES: usize = 3;
/// A leg shorter than this part of the longest goes nowhere: what stands at its ends is one.
const NO_LEG: f64 = 1e-6;
/// Between two legs of one spline at most.
const EVEN: f64 = 1e-3;

/// The fastest way through the marks; `None` where there is nothing between the start and the end, or nothing to go at all.
pub fn through(axes: &[Through]) -> Option<Way> {
    let legs = legs(axes);
    let longest = legs.iter().copied().fold(0.0, f64::max);
    // By what stands at the ends of the legs that go anywhere: which of those each mark is.
    let mut node_of = vec![0];
    for leg in &legs {
        let last = node_of[node_of.len() - 1];
        node_of.push(if *leg > NO_LEG * longest { last + 1 } else { last });
    }
    let nodes = node_of[node_of.len() - 1] + 1;
    if nodes < 3 || !longest.is_finite() {
        return None;
    }
    let lengths: Vec<f64> =
        legs.iter().filter(|&&leg| leg > NO_LEG * longest).map(|leg| leg.max(EVEN * longest)).collect();
    let ends = fair::cell_ends(&lengths);
    let splines: Vec<_> =
        axes.iter().map(|axis| fair::fairest(&ends, &at_nodes(&axis.at, &node_of), axis.reach())).collect();
    let marks = (0..nodes).map(|node| node * fair::CELLS).collect();
    let line = fastest(axes, &Timeline::of(ends, marks, &splines), nodes - 1);
    let times = line.leg_ends();
    Some(Way {
        curves: (0..axes.len()).map(|axis| line.curve(axis)).collect(),
        times: node_of.iter().map(|&node| times[node]).collect(),
    })
}

/// The rate is looked for along the spline, and again along what that gives.
fn fastest(axes: &[Through], spline: &Timeline, legs: usize) -> Timeline {
    let limits: Vec<Ceiling> = axes.iter().map(|axis| axis.limits).collect();
    let mut best = spline.within(&limits);
    let mut pieces = PIECES * legs as f64;
    let (mut rounds, mut retries) = (0, 0);
    while rounds < ROUNDS && retries < RETRIES {
        let line = best.divided(best.duration() / pieces);
        let next = line.at_rate(&quickest(&line, &limits, rounds > 0)).within(&limits);
        let stays = axes.iter().enumerate().all(|(index, axis)| {
            let ([low, high], slack) = (axis.reach(), 1e-12 * (axis.travel[1] - axis.travel[0]));
            let range = next.curve(index).positions(0.0, next.duration());
            range.low >= low - slack && range.high <= high + slack
        });
        if !stays {
            (retries, pieces) = (retries + 1, 2.0 * pieces);
            continue;
        }
        if next.duration() < best.duration() {
            best = next;
        }
        rounds += 1;
    }
    best
}

impl Through {
    /// Its travel, and wherever else it is told to be.
    fn reach(&self) -> [f64; 2] {
        let [low, high] = self.travel;
        let told = self.at.iter().flatten();
        [told.clone().copied().fold(low, f64::min), told.copied().fold(high, f64::max)]
    }
}

/// How long each leg is for the spline: the root of the time that its slowest axis takes at full speed. The centripetal
/// parameter of E. Lee, "Choosing nodes in parametric curve interpolation", 1989: legs of very unequal length overshoot
/// less than with their lengths, and the moves are faster.
fn legs(axes: &[Through]) -> Vec<f64> {
    let filled: Vec<Vec<f64>> = axes.iter().map(|axis| fair::filled(&axis.at)).collect();
    let count = axes.first().map_or(0, |axis| axis.at.len().saturating_sub(1));
    let way = |leg: usize| {
        let ways = filled.iter().zip(axes).map(|(at, axis)| (at[leg + 1] - at[leg]).abs() / axis.limits.speed);
        ways.fold(0.0, f64::max).sqrt()
    };
    (0..count).map(way).collect()
}

/// Marks between which nothing goes are one.
fn at_nodes(at: &[Option<f64>], node_of: &[usize]) -> Vec<Option<f64>> {
    let mut nodes = vec![None; node_of[node_of.len() - 1] + 1];
    for (&node, at) in node_of.iter().zip(at) {
        nodes[node] = nodes[node].or(*at);
    }
    nodes
}
