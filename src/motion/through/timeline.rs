//! Several axes together in pieces of constant jerk.

use super::quickest::Rate;
use super::spline::Node;
use crate::motion::curve::{Curve, Knot};
use crate::motion::profile::{Ceiling, Sample};

/// From rest to rest.
#[derive(Clone, Debug)]
pub struct Timeline {
    /// Where the pieces end, s; the start, 0, first.
    ends: Vec<f64>,
    /// Where the legs end, as indices into `ends`; the start first.
    pub legs: Vec<usize>,
    /// By axis, at each of the ends.
    pub axes: Vec<Vec<Sample>>,
}

impl Timeline {
    /// Of splines: by axis their nodes at `ends`, between which the acceleration is linear.
    pub fn of(ends: Vec<f64>, legs: Vec<usize>, axes: &[Vec<Node>]) -> Timeline {
        let axes = axes.iter().map(|nodes| {
            let jerk = |piece: usize| match nodes.get(piece + 1) {
                Some(next) => (next[2] - nodes[piece][2]) / (ends[piece + 1] - ends[piece]),
                None => 0.0,
            };
            let states = nodes.iter().enumerate();
            let state = states.map(|(piece, &[position, speed, acceleration])| Sample {
                position,
                speed,
                acceleration,
                jerk: jerk(piece),
            });
            state.collect()
        });
        Timeline { axes: axes.collect(), ends, legs }
    }

    pub fn cells(&self) -> usize {
        self.ends.len() - 1
    }

    /// s, of a piece.
    pub fn length(&self, cell: usize) -> f64 {
        self.ends[cell + 1] - self.ends[cell]
    }

    /// s
    pub fn duration(&self) -> f64 {
        self.ends[self.cells()]
    }

    /// When each leg ends, s; the start first.
    pub fn leg_ends(&self) -> Vec<f64> {
        self.legs.iter().map(|&end| self.ends[end]).collect()
    }

    pub fn curve(&self, axis: usize) -> Curve {
        let knots = self.ends.iter().zip(&self.axes[axis]).map(|(&time, &state)| Knot { time, state });
        Curve::new(knots.collect())
    }

    /// At a steady rate, in the least time in which each axis keeps its limits.
    pub fn within(&self, limits: &[Ceiling]) -> Timeline {
        let least = limits.iter().enumerate().map(|(axis, limit)| {
            let peaks = self.curve(axis).peaks();
            let acceleration = (peaks.acceleration / limit.acceleration).sqrt();
            (peaks.speed / limit.speed).max(acceleration).max(libm::cbrt(peaks.jerk / limit.jerk))
        });
        let factor = least.fold(0.0, f64::max);
        let mut line = self.clone();
        line.ends.iter_mut().for_each(|end| *end *= factor);
        for state in line.axes.iter_mut().flatten() {
            state.speed /= factor;
            state.acceleration /= factor * factor;
            state.jerk /= factor * factor * factor;
        }
        line
    }

    /// The same, with pieces longer than `longest` s divided.
    pub fn divided(&self, longest: f64) -> Timeline {
        let mut line = Timeline { ends: Vec::new(), legs: vec![0], axes: vec![Vec::new(); self.axes.len()] };
        for cell in 0..self.cells() {
            let parts = (self.length(cell) / longest).ceil().max(1.0) as usize;
            for part in 0..parts {
                let into = self.length(cell) * part as f64 / parts as f64;
                line.ends.push(self.ends[cell] + into);
                for (states, whole) in line.axes.iter_mut().zip(&self.axes) {
                    states.push(whole[cell].after(into));
                }
            }
            if self.legs.binary_search(&(cell + 1)).is_ok() {
                line.legs.push(line.ends.len());
            }
        }
        line.ends.push(self.duration());
        for (states, whole) in line.axes.iter_mut().zip(&self.axes) {
            states.push(whole[self.cells()]);
        }
        line
    }

    /// Run through at a rate: the speed at a leg's end and the acceleration at every piece's end are what the rate makes them.
    pub fn at_rate(&self, rate: &Rate) -> Timeline {
        let mut line = self.clone();
        for (piece, time) in rate.times.iter().enumerate() {
            line.ends[piece + 1] = line.ends[piece] + time;
        }
        for states in &mut line.axes {
            for (state, &[square, slope]) in states.iter_mut().zip(&rate.squares) {
                state.acceleration = state.acceleration * square + state.speed * slope / 2.0;
                state.speed *= square.sqrt();
            }
            for leg in self.legs.windows(2) {
                join(&mut states[leg[0]..=leg[1]], &rate.times[leg[0]..leg[1]]);
            }
        }
        line
    }
}

/// Makes a leg of pieces so long, of constant jerk, out of the accelerations at their ends.
///
/// The jerk of each is the mean of what it stands for, so that it keeps that limit. What the mean loses in speed and way is
/// made good by bending the accelerations a little along the whole leg, so that it ends exactly where it did.
fn join(states: &mut [Sample], times: &[f64]) {
    let last = times.len();
    let (begin, end) = (states[0], states[last]);
    let total: f64 = times.iter().sum();
    let mut passed = 0.0;
    // An even and an odd one, both nothing at the ends.
    let mut bends = vec![[0.0; 2]];
    for time in &times[..last - 1] {
        passed += time / total;
        let bump = passed * (1.0 - passed);
        bends.push([bump, bump * (1.0 - 2.0 * passed)]);
    }
    bends.push([0.0; 2]);
    let [even, odd] = [0, 1].map(|which: usize| carried(times, 0.0, |at| bends[at][which]));
    let reached = carried(times, begin.speed, |at| states[at].acceleration);
    let off = [end.position - begin.position - reached[0], end.speed - reached[1]];
    let determinant = even[0] * odd[1] - odd[0] * even[1];
    let shares =
        [(off[0] * odd[1] - off[1] * odd[0]) / determinant, (off[1] * even[0] - off[0] * even[1]) / determinant];
    if shares.iter().all(|share| share.is_finite()) {
        for (state, bend) in states.iter_mut().zip(&bends) {
            state.acceleration += shares[0] * bend[0] + shares[1] * bend[1];
        }
    }
    for (piece, &time) in times.iter().enumerate() {
        let next = states[piece + 1].acceleration;
        states[piece].jerk = (next - states[piece].acceleration) / time;
        if piece + 1 < last {
            states[piece + 1] = Sample { acceleration: next, ..states[piece].after(time) };
        }
    }
}

/// How far, and to what speed, accelerations that are linear between these take an axis.
fn carried(times: &[f64], mut speed: f64, acceleration: impl Fn(usize) -> f64) -> [f64; 2] {
    let mut way = 0.0;
    for (piece, time) in times.iter().enumerate() {
        let (from, to) = (acceleration(piece), acceleration(piece + 1));
        way += time * (speed + time * (2.0 * from + to) / 6.0);
        speed += time * (from + to) / 2.0;
    }
    [way, speed]
}
