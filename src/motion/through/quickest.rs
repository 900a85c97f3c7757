//! How fast a way can be run through: the time-optimal rate along a timeline that runs through it anyhow.
//!
//! Time-optimal path parameterisation in the form of Verscheure et al., "Time-optimal path tracking for robots: a convex
//! optimization approach", 2009: the square b of the rate is the unknown, a quadratic spline along the path, by which limits
//! on speed and acceleration are linear and the time is convex. A limit on jerk, |q'''b + 3/2 q''b' + 1/2 q'b''| ≤ J/√b, is a
//! difference of convex functions; as in Debrouwere et al., "Time-optimal path following for robots with convex-concave
//! constraints using sequential convex programming", 2013, each step replaces 1/√b by its tangent, which lies below it. So
//! every rate on the way keeps all limits at the points that are looked at, and is better than the one before. The steps are
//! Newton's on a log barrier; since a coefficient reaches three cells only, a step takes time in proportion to the length.
//!
//! The timeline already begins and ends at rest with bounded jerk, so that the rate has no poles there: the ends of the way
//! need nothing special.

use super::band::Band;
use super::timeline::Timeline;
use crate::motion::profile::{Ceiling, Sample};

/// Places in a cell at which limits are looked at.
const PLACES: [f64; 3] = [0.0, 0.5, 1.0];
/// Of Simpson's rule.
const WEIGHTS: [f64; 3] = [1.0 / 6.0, 4.0 / 6.0, 1.0 / 6.0];
/// Where it begins: a timeline that just keeps its limits keeps them with room at this rate.
const BEGINS: f64 = 0.96;
/// How much more the time weighs against the barrier from one round to the next.
const GROWTH: f64 = 16.0;
const ROUNDS: usize = 4;
const STEPS: usize = 20;
/// Twice what a step has to promise at least, in the barrier's own units.
const LITTLE: f64 = 2.0;

/// The rate over the cells of a timeline.
pub struct Rate {
    /// Its square and the slope of that by the timeline's time, at the end of each cell, the start first.
    pub squares: Vec<[f64; 2]>,
    /// What each cell takes, s.
    pub times: Vec<f64>,
}

/// The fastest along a timeline that keeps its limits at a steady rate of 1. One that is nearly the fastest itself, as found
/// before, takes fewer rounds.
pub fn quickest(line: &Timeline, limits: &[Ceiling], nearly: bool) -> Rate {
    let search = Search::new(line, limits);
    let mut squares = vec![BEGINS; line.cells() + 2];
    let first = (line.cells() * PLACES.len()) as f64 / line.duration();
    let weights = std::iter::successors(Some(first), |weight| Some(weight * GROWTH)).take(ROUNDS);
    for weight in weights.skip(if nearly { ROUNDS / 2 } else { 0 }) {
        for _ in 0..STEPS {
            if !search.improve(&mut squares, weight) {
                break;
            }
        }
    }
    search.rate(&squares)
}

/// How b, b' and b'' at a place come from the three coefficients that reach it.
type Reach = [[f64; 3]; 3];

struct Search<'a> {
    line: &'a Timeline,
    places: Vec<Place>,
    limits: &'a [Ceiling],
}

struct Place {
    /// The first of its coefficients.
    cell: usize,
    reach: Reach,
    /// s, what it stands for in the time.
    lasts: f64,
    /// By axis.
    states: Vec<Sample>,
}

/// Slopes and curvature by b, b' and b'', the lower half.
#[derive(Default)]
struct Bend {
    slope: [f64; 3],
    curvature: [[f64; 3]; 3],
}

impl Search<'_> {
    fn new<'a>(line: &'a Timeline, limits: &'a [Ceiling]) -> Search<'a> {
        let places = (0..line.cells()).flat_map(|cell| {
            let length = line.length(cell);
            // As if the first and the last cell went on beyond the ends.
            let before = line.length(cell.saturating_sub(1));
            let after = line.length((cell + 1).min(line.cells() - 1));
            PLACES.iter().zip(WEIGHTS).map(move |(place, weight)| Place {
                cell,
                reach: reach([before, length, after], *place),
                lasts: length * weight,
                states: line.axes.iter().map(|axis| axis[cell].after(place * length)).collect(),
            })
        });
        Search { line, places: places.collect(), limits }
    }

    /// One step towards the least of `weight` times the time less the logarithms of what is left of all limits; false once
    /// there is little to gain.
    fn improve(&self, squares: &mut [f64], weight: f64) -> bool {
        let (mut matrix, mut slope) = (Band::<3>::zero(squares.len()), vec![0.0; squares.len()]);
        for place in &self.places {
            let bend = self.bend(place, place.at(squares), weight);
            for row in 0..3 {
                let by = |order: usize| place.reach[order][row];
                slope[place.cell + row] += (0..3).map(|order| bend.slope[order] * by(order)).sum::<f64>();
                // The curvature along this coefficient, by b, b' and b''.
                let along = [0, 1, 2].map(|other: usize| {
                    (0..3).map(|order| by(order) * bend.curvature[order.max(other)][order.min(other)]).sum::<f64>()
                });
                for column in 0..=row {
                    let value = (0..3).map(|other| along[other] * place.reach[other][column]).sum();
                    matrix.add(place.cell + row, place.cell + column, value);
                }
            }
        }
        let Some(step) = matrix.solve(slope.iter().map(|slope| -slope).collect()) else { return false };
        let gain = -step.iter().zip(&slope).map(|(step, slope)| step * slope).sum::<f64>();
        if gain.is_nan() || gain < LITTLE {
            return false;
        }
        let now = self.value(squares, weight);
        let mut part = 1.0;
        while part > 1e-6 {
            let next: Vec<f64> = squares.iter().zip(&step).map(|(square, step)| square + part * step).collect();
            if self.value(&next, weight) < now - 0.1 * part * gain {
                squares.copy_from_slice(&next);
                return true;
            }
            part *= 0.6;
        }
        false
    }

    fn bend(&self, place: &Place, at: [f64; 3], weight: f64) -> Bend {
        let mut bend = Bend::default();
        let time = weight * place.lasts / (at[0] * at[0].sqrt());
        bend.slope[0] = -0.5 * time;
        bend.curvature[0][0] = 0.75 * time / at[0];
        self.visit_slacks(place, at, |slack, by| {
            let by = by.map(|by| by / slack);
            for order in 0..3 {
                bend.slope[order] -= by[order];
                for other in 0..=order {
                    bend.curvature[order][other] += by[order] * by[other];
                }
            }
        });
        bend
    }

    /// Infinite where a limit is broken.
    fn value(&self, squares: &[f64], weight: f64) -> f64 {
        let (mut time, mut logarithms, mut product) = (0.0, 0.0, 1.0_f64);
        for place in &self.places {
            let at = place.at(squares);
            if at[0] <= 0.0 {
                return f64::INFINITY;
            }
            time += place.lasts / at[0].sqrt();
            let mut least = f64::INFINITY;
            self.visit_slacks(place, at, |slack, _| {
                least = least.min(slack);
                product *= slack;
            });
            if least <= 0.0 {
                return f64::INFINITY;
            }
            // One logarithm for many.
            if !(1e-100..1e100).contains(&product) {
                logarithms += libm::log(product);
                product = 1.0;
            }
        }
        weight * time - logarithms - libm::log(product)
    }

    /// What is left of each limit, and its slope by b, b' and b''.
    fn visit_slacks(&self, place: &Place, [square, slope, bend]: [f64; 3], mut visit: impl FnMut(f64, [f64; 3])) {
        let allowed = 1.0 / square.sqrt();
        let falls = -0.5 * allowed / square;
        for (state, limit) in place.states.iter().zip(self.limits) {
            let speed = state.speed / limit.speed;
            visit(1.0 - speed * speed * square, [-speed * speed, 0.0, 0.0]);
            let by = [state.acceleration / limit.acceleration, 0.5 * state.speed / limit.acceleration];
            let acceleration = by[0] * square + by[1] * slope;
            visit(1.0 - acceleration, [-by[0], -by[1], 0.0]);
            visit(1.0 + acceleration, [by[0], by[1], 0.0]);
            let by = [state.jerk, 1.5 * state.acceleration, 0.5 * state.speed].map(|by| by / limit.jerk);
            let jerk = by[0] * square + by[1] * slope + by[2] * bend;
            visit(allowed - jerk, [falls - by[0], -by[1], -by[2]]);
            visit(allowed + jerk, [falls + by[0], by[1], by[2]]);
        }
    }

    fn rate(&self, squares: &[f64]) -> Rate {
        let per_cell = PLACES.len();
        let start = self.places[0].at(squares);
        let ends = self.places.iter().skip(per_cell - 1).step_by(per_cell).map(|place| place.at(squares));
        let ends = [start].into_iter().chain(ends).map(|[square, slope, _]| [square, slope]);
        let firsts = self.places.iter().step_by(per_cell);
        let times = firsts.map(|place| time_of(place.at(squares), self.line.length(place.cell)));
        Rate { squares: ends.collect(), times: times.collect() }
    }
}

impl Place {
    /// b, b' and b''.
    fn at(&self, squares: &[f64]) -> [f64; 3] {
        let squares = &squares[self.cell..self.cell + 3];
        self.reach.map(|by| by[0] * squares[0] + by[1] * squares[1] + by[2] * squares[2])
    }
}

/// By the lengths of a cell and of those beside it.
fn reach([before, length, after]: [f64; 3], place: f64) -> Reach {
    let value = [length / (before + length), before / (before + length), 0.0];
    let (first, last) = (2.0 / (before + length), 2.0 / (length + after));
    let begins = [-first, first, 0.0];
    let ends = [0.0, -last, last];
    let bend = [0, 1, 2].map(|at: usize| (ends[at] - begins[at]) / length);
    let along = place * length;
    [
        [0, 1, 2].map(|at: usize| value[at] + along * (begins[at] + along * bend[at] / 2.0)),
        [0, 1, 2].map(|at: usize| begins[at] + along * bend[at]),
        bend,
    ]
}

/// s, of a cell so long at whose beginning b, b' and b'' are so: the integral of 1/√b by four points of Gauss's rule.
fn time_of([square, slope, bend]: [f64; 3], length: f64) -> f64 {
    const POINTS: [[f64; 2]; 2] = [
        [0.069_431_844_202_973_71, 0.173_927_422_568_726_92],
        [0.330_009_478_207_571_87, 0.326_072_577_431_273_05],
    ];
    let inverse = |place: f64| {
        let along = place * length;
        1.0 / (square + along * (slope + along * bend / 2.0)).sqrt()
    };
    length * POINTS.map(|[place, weight]| weight * (inverse(place) + inverse(1.0 - place))).iter().sum::<f64>()
}
