//! The way through the marks in joint space: for each axis the fairest cubic spline that keeps within its travel.
//!
//! Of all cubic splines on [`CELLS`] cells a leg that are at rest, in speed and acceleration, at both ends and pass exactly
//! through the marks it is the one of the least integral of the squared second derivative: with the marks alone for knots
//! the classical interpolating spline. Where that would leave the travel, the same integral is made least among the splines
//! whose coefficients all lie within it, since a spline lies within the hull of its coefficients. That is a convex quadratic
//! programme, solved by Newton's steps on a log barrier (Boyd and Vandenberghe, *Convex Optimization*, 2004, section 11.3).
//! There always is such a spline: three coefficients alike at every mark hold the axis still there.

use super::band::Band;
use super::spline::{Basis, Node};

/// Of a leg, from mark to mark.
pub const CELLS: usize = 8;
/// Half the band of the system, with the diagonal: four coefficients meet in a cell, and one that is tied to a mark stands
/// for its neighbours.
const BAND: usize = 7;
/// Part of the travel that a bent spline leaves free at either end, for what the timing adds.
const INSET: f64 = 1e-3;
/// How much more the integral weighs against the barrier from one round to the next.
const GROWTH: f64 = 6.0;
const ROUNDS: usize = 12;
const STEPS: usize = 16;

/// A coefficient as what is free makes it: a constant, and shares of at most two free numbers.
#[derive(Clone, Copy)]
struct Tied {
    constant: f64,
    by: [(usize, f64); 2],
}

impl Tied {
    fn shares(&self) -> impl Iterator<Item = (usize, f64)> + Clone + '_ {
        self.by.iter().copied().filter(|&(_, share)| share != 0.0)
    }

    fn value(&self, free: &[f64]) -> f64 {
        self.constant + self.shares().map(|(at, share)| share * free[at]).sum::<f64>()
    }
}

/// The ends of the cells of legs so long.
pub fn cell_ends(legs: &[f64]) -> Vec<f64> {
    let mut ends = vec![0.0];
    for &leg in legs {
        let begin = ends[ends.len() - 1];
        ends.extend((1..=CELLS).map(|cell| begin + leg * cell as f64 / CELLS as f64));
    }
    ends
}

/// The fairest spline at the ends of the cells, through what is asked at the ends of the legs (`None`: anywhere; something
/// at the first and the last), within `travel`.
pub fn fairest(ends: &[f64], asked: &[Option<f64>], travel: [f64; 2]) -> Vec<Node> {
    let mut told = asked.iter().flatten();
    if let Some(&first) = told.next()
        && told.all(|&at| at == first)
    {
        return vec![[first, 0.0, 0.0]; ends.len()];
    }
    let basis = Basis::new(ends);
    let problem = Problem::new(&basis, asked, travel);
    let [low, high] = problem.within;
    let mut coefficients = problem.coefficients(&problem.fairest());
    let strays = |(tied, value): (&Tied, &f64)| tied.shares().next().is_some() && !(low..=high).contains(value);
    if problem.tied.iter().zip(&coefficients).any(strays) {
        coefficients = problem.coefficients(&problem.bent());
    }
    let mut nodes: Vec<Node> = (0..=basis.cells()).map(|node| basis.node(node, &coefficients)).collect();
    // What rounding leaves is taken off: it is exactly where it is asked to be.
    for (leg, at) in asked.iter().enumerate() {
        nodes[leg * CELLS][0] = at.unwrap_or(nodes[leg * CELLS][0]);
    }
    nodes
}

/// Where nothing is asked, evenly between where something is.
pub fn filled(asked: &[Option<f64>]) -> Vec<f64> {
    let mut filled: Vec<f64> = Vec::with_capacity(asked.len());
    for (index, value) in asked.iter().enumerate() {
        let Some(value) = *value else { continue };
        let (begin, steps) = (filled.last().copied().unwrap_or(value), index + 1 - filled.len());
        filled.extend((1..steps).map(|step| begin + (value - begin) * step as f64 / steps as f64));
        filled.push(value);
    }
    filled
}

struct Problem<'a> {
    basis: &'a Basis,
    tied: Vec<Tied>,
    /// How many numbers are free.
    free: usize,
    /// Where the coefficients of a bent spline lie.
    within: [f64; 2],
    /// The free numbers of a spline that holds still at each mark.
    still: Vec<f64>,
}

/// What is known of a coefficient before anything is made fair.
#[derive(Clone, Copy)]
enum Known {
    Nothing,
    /// Around a place where the axis stands still.
    Fixed(f64),
    /// In the middle of a node where the axis passes.
    Passes(f64),
}

impl<'a> Problem<'a> {
    fn new(basis: &'a Basis, asked: &[Option<f64>], [low, high]: [f64; 2]) -> Problem<'a> {
        let inset = INSET * (high - low);
        let within = [low + inset, high - inset];
        // Nearer to that than this nothing may pass: what holds still there would have no room on one side.
        let gap = 1e-3 * (within[1] - within[0]);
        let room = [within[0] + gap, within[1] - gap];
        let last = asked.len() - 1;
        let mut known = vec![Known::Nothing; basis.coefficients()];
        for (leg, at) in asked.iter().enumerate() {
            let Some(at) = *at else { continue };
            let around = &mut known[leg * CELLS..leg * CELLS + 3];
            // Whoever goes to the very edge of the travel and on has to turn there.
            if leg == 0 || leg == last || at < room[0] || at > room[1] {
                around.fill(Known::Fixed(at));
            } else {
                around[1] = Known::Passes(at);
            }
        }
        let mut index = Vec::with_capacity(known.len());
        let mut still = Vec::new();
        let filled = filled(asked);
        for (coefficient, known) in known.iter().enumerate() {
            index.push(still.len());
            if matches!(known, Known::Nothing) {
                still.push(stands(&filled, coefficient).clamp(room[0], room[1]));
            }
        }
        let plain = |coefficient: usize| match known[coefficient] {
            Known::Fixed(value) | Known::Passes(value) => Tied { constant: value, by: [(0, 0.0); 2] },
            Known::Nothing => Tied { constant: 0.0, by: [(index[coefficient], 1.0), (0, 0.0)] },
        };
        let tied = (0..known.len()).map(|coefficient| match known[coefficient] {
            Known::Fixed(_) | Known::Nothing => plain(coefficient),
            Known::Passes(at) => {
                let [before, own, after] = basis.weights(coefficient - 1)[0];
                let sides = [(before / own, plain(coefficient - 1)), (after / own, plain(coefficient + 1))];
                let constant = at / own - sides.iter().map(|(by, side)| by * side.constant).sum::<f64>();
                Tied { constant, by: sides.map(|(by, side)| (side.by[0].0, -by * side.by[0].1)) }
            }
        });
        Problem { basis, tied: tied.collect(), free: still.len(), within, still }
    }

    fn coefficients(&self, free: &[f64]) -> Vec<f64> {
        self.tied.iter().map(|tied| tied.value(free)).collect()
    }

    /// The integral is the sum of the squares of these rows by the coefficients from the first on. The second derivative is
    /// linear in a cell, for which two points of Gauss's rule are exact.
    fn rows(&self) -> impl Iterator<Item = (usize, [f64; 4])> + '_ {
        (0..self.basis.cells()).flat_map(|cell| {
            let [from, to] = [cell, cell + 1].map(|node| self.basis.weights(node)[1]);
            let scale = (self.basis.length(cell) / 2.0).sqrt();
            let aside = 0.5 / 3.0_f64.sqrt();
            [0.5 - aside, 0.5 + aside].map(|place| {
                let left = 1.0 - place;
                let between = [left * from[1] + place * to[0], left * from[2] + place * to[1]];
                (cell, [left * from[0], between[0], between[1], place * to[2]].map(|weight| scale * weight))
            })
        })
    }

    /// A row by the free numbers: a constant and shares.
    fn row(&self, first: usize, row: [f64; 4]) -> (f64, Vec<(usize, f64)>) {
        let terms = row.iter().zip(&self.tied[first..]);
        let constant = terms.clone().map(|(weight, tied)| weight * tied.constant).sum();
        (constant, terms.flat_map(|(weight, tied)| tied.shares().map(move |(at, by)| (at, weight * by))).collect())
    }

    /// Adds `weight` times half the integral to a system: its second derivatives, and its slope where the free numbers are so.
    fn add_integral(&self, free: &[f64], weight: f64, system: &mut System) {
        for (first, row) in self.rows() {
            let (constant, terms) = self.row(first, row);
            let value = constant + terms.iter().map(|&(at, by)| by * free[at]).sum::<f64>();
            system.add(terms.iter().copied(), weight * value, weight);
        }
    }

    fn fairest(&self) -> Vec<f64> {
        let mut system = System::new(self.free);
        self.add_integral(&vec![0.0; self.free], 1.0, &mut system);
        system.step().map_or_else(|| self.still.clone(), |(step, _)| step)
    }

    /// Among those whose coefficients lie within.
    fn bent(&self) -> Vec<f64> {
        let mut free = self.still.clone();
        let values = self.rows().map(|(first, row)| {
            let (constant, terms) = self.row(first, row);
            let value = constant + terms.iter().map(|&(at, by)| by * free[at]).sum::<f64>();
            value * value
        });
        let mut weight = 1.0 / values.sum::<f64>().max(f64::MIN_POSITIVE);
        for _ in 0..ROUNDS {
            for _ in 0..STEPS {
                if !self.bend(&mut free, weight) {
                    break;
                }
            }
            weight *= GROWTH;
        }
        free
    }

    /// One step towards the least of `weight` times half the integral less the logarithms of what is left of the travel;
    /// false once there is next to nothing to gain.
    fn bend(&self, free: &mut [f64], weight: f64) -> bool {
        let [low, high] = self.within;
        let mut system = System::new(self.free);
        self.add_integral(free, weight, &mut system);
        let now = self.coefficients(free);
        for (tied, value) in self.tied.iter().zip(&now) {
            let (up, down) = (1.0 / (high - value), 1.0 / (value - low));
            system.add(tied.shares(), up - down, up * up + down * down);
        }
        let Some((step, gain)) = system.step() else { return false };
        let ahead: Vec<f64> = free.iter().zip(&step).map(|(free, step)| free + step).collect();
        let mut part = if gain > 0.25 { 1.0 / (1.0 + gain.sqrt()) } else { 1.0 };
        for (from, to) in now.iter().zip(self.coefficients(&ahead)) {
            let room = if to > *from { high - from } else { from - low };
            if to != *from {
                part = part.min(0.95 * room / (to - from).abs());
            }
        }
        free.iter_mut().zip(&step).for_each(|(free, step)| *free += part * step);
        gain > 1e-8
    }
}

/// Around a mark as at the mark, and evenly on to the next.
fn stands(filled: &[f64], coefficient: usize) -> f64 {
    let last = filled.len() - 1;
    let along = (coefficient as f64 - 1.0) / CELLS as f64;
    let nearest = (along.round().max(0.0) as usize).min(last);
    if (along - nearest as f64).abs() * CELLS as f64 <= 1.5 {
        return filled[nearest];
    }
    let leg = (along as usize).min(last - 1);
    filled[leg] + (along - leg as f64) * (filled[leg + 1] - filled[leg])
}

/// Second derivatives and slope of what is made least.
struct System {
    matrix: Band<BAND>,
    slope: Vec<f64>,
}

impl System {
    fn new(size: usize) -> System {
        System { matrix: Band::zero(size), slope: vec![0.0; size] }
    }

    /// Of a function of one number that is made up of these shares: its slope and its curvature.
    fn add(&mut self, shares: impl Iterator<Item = (usize, f64)> + Clone, slope: f64, curvature: f64) {
        for (at, by) in shares.clone() {
            self.slope[at] += by * slope;
            for (other, share) in shares.clone().filter(|&(other, _)| other <= at) {
                self.matrix.add(at, other, by * share * curvature);
            }
        }
    }

    /// Newton's step, and twice what it promises to gain.
    fn step(self) -> Option<(Vec<f64>, f64)> {
        let step = self.matrix.solve(self.slope.iter().map(|slope| -slope).collect())?;
        let gain = -step.iter().zip(&self.slope).map(|(step, slope)| step * slope).sum::<f64>();
        Some((step, gain))
    }
}
