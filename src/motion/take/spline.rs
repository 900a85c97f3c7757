//! A cubic spline through noisy samples: uniform knots, and as little jerk as a penalty asks for.
//!
//! P-splines (Eilers and Marx, "Flexible smoothing with B-splines and penalties", Statistical Science 11, 1996) with
//! cubic B-splines and the third difference of their coefficients. That difference over the cube of the knots' spacing
//! is the spline's jerk, piece by piece, so that the penalty is the integral of the squared jerk itself. The normal
//! equations have seven diagonals; they are factored as L·D·Lᵀ in time that grows with the number of knots alone.

use crate::motion::profile::Sample;

/// Diagonals beside the main one.
const BAND: usize = 3;
const ORDER: usize = BAND + 1;
/// The third difference.
const DIFFERENCE: [f64; ORDER] = [-1.0, 3.0, -3.0, 1.0];

/// What a spline does at its first and at its last instant: whether it is at rest there, without acceleration.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Rests {
    pub start: bool,
    pub end: bool,
}

/// Uniform knots.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Knots {
    /// s
    pub spacing: f64,
    pub pieces: usize,
}

/// A cubic spline on uniform knots.
#[derive(Clone, Debug)]
pub struct Spline {
    /// s, between two knots.
    pub spacing: f64,
    /// Of the B-splines, three more than it has pieces.
    coefficients: Vec<f64>,
}

impl Spline {
    pub fn pieces(&self) -> usize {
        self.coefficients.len() - BAND
    }

    /// Its state at a knot, with the jerk of the piece that follows; of the last knot, of the piece before.
    pub fn at_knot(&self, knot: usize) -> Sample {
        let [a, b, c] = [0, 1, 2].map(|k| self.coefficients[knot + k]);
        let h = self.spacing;
        let piece = knot.min(self.pieces() - 1);
        let jerk: f64 = DIFFERENCE.iter().zip(&self.coefficients[piece..]).map(|(d, c)| d * c).sum();
        Sample {
            position: (a + 4.0 * b + c) / 6.0,
            speed: (c - a) / (2.0 * h),
            acceleration: (a - 2.0 * b + c) / (h * h),
            jerk: jerk / (h * h * h),
        }
    }
}

/// The four B-splines that are not zero at a part `u` of the way from one knot to the next.
fn basis(u: f64) -> [f64; ORDER] {
    let v = 1.0 - u;
    [
        v * v * v / 6.0,
        (4.0 - 6.0 * u * u + 3.0 * u * u * u) / 6.0,
        (4.0 - 6.0 * v * v + 3.0 * v * v * v) / 6.0,
        u * u * u / 6.0,
    ]
}

/// Samples on their way to a spline.
#[derive(Clone, Debug)]
pub struct Fitting<'a> {
    values: &'a [f64],
    /// Of each sample: the first of the four B-splines that reach it, and their weights.
    weights: Vec<(usize, [f64; ORDER])>,
    knots: Knots,
    rests: Rests,
    /// Where the coefficients are kept: a spline lies within the hull of them.
    hull: Option<[f64; 2]>,
    /// Of the least squares and of the penalty, by rows: the main diagonal, then those below it.
    squares: Vec<[f64; ORDER]>,
    penalty: Vec<[f64; ORDER]>,
    right: Vec<f64>,
    /// Makes a penalty of 1 weigh as much as the samples.
    scale: f64,
}

impl<'a> Fitting<'a> {
    /// `times` rise from 0 to the last of the knots; at least six pieces.
    pub fn new(
        times: &[f64],
        values: &'a [f64],
        knots: Knots,
        rests: Rests,
        hull: Option<[f64; 2]>,
    ) -> Fitting<'a> {
        let weights = |&time: &f64| {
            let along = time / knots.spacing;
            let first = (along.max(0.0) as usize).min(knots.pieces - 1);
            (first, basis(along - first as f64))
        };
        let unknowns = knots.pieces + BAND - 2 * (usize::from(rests.start) + usize::from(rests.end));
        let zeros = vec![[0.0; ORDER]; unknowns];
        let mut fitting = Fitting {
            values,
            weights: times.iter().map(weights).collect(),
            knots,
            rests,
            hull,
            squares: zeros.clone(),
            penalty: zeros,
            right: vec![0.0; unknowns],
            scale: 1.0,
        };
        for (sample, value) in values.iter().enumerate() {
            let (first, weights) = fitting.weights[sample];
            let unknowns = fitting.unknowns(first);
            for (unknown, weight) in unknowns.into_iter().zip(weights) {
                fitting.right[unknown] += weight * (value - values[0]);
            }
            add_product(&mut fitting.squares, unknowns, weights);
        }
        for piece in 0..knots.pieces {
            let unknowns = fitting.unknowns(piece);
            add_product(&mut fitting.penalty, unknowns, DIFFERENCE);
        }
        let trace = |rows: &[[f64; ORDER]]| rows.iter().map(|row| row[0]).sum::<f64>();
        fitting.scale = trace(&fitting.squares) / trace(&fitting.penalty);
        fitting
    }

    /// The unknown that a coefficient is: at rest, the first or the last three are one.
    fn unknown(&self, coefficient: usize) -> usize {
        let index = if self.rests.start { coefficient.saturating_sub(2) } else { coefficient };
        index.min(self.right.len() - 1)
    }

    fn unknowns(&self, first: usize) -> [usize; ORDER] {
        [0, 1, 2, 3].map(|k| self.unknown(first + k))
    }

    /// The spline of the least sum of squared deviations plus so much of the squared jerk.
    pub fn spline(&self, penalty: f64) -> Spline {
        let penalty = penalty * self.scale;
        let add = |(a, b): (&[f64; ORDER], &[f64; ORDER])| [0, 1, 2, 3].map(|k| a[k] + penalty * b[k]);
        let rows = self.squares.iter().zip(&self.penalty).map(add).collect();
        let unknowns = solve(rows, self.right.clone());
        let coefficient = |k: usize| {
            let free = self.values[0] + unknowns[self.unknown(k)];
            self.hull.map_or(free, |[low, high]| free.clamp(low, high))
        };
        let coefficients = (0..self.knots.pieces + BAND).map(coefficient).collect();
        Spline { spacing: self.knots.spacing, coefficients }
    }

    /// How far the samples are from a spline.
    pub fn deviation(&self, spline: &Spline) -> Deviation {
        let mut found = Deviation { mean: 0.0, most: 0.0, sample: 0 };
        for (sample, (value, (first, weights))) in self.values.iter().zip(&self.weights).enumerate() {
            let there: f64 = weights.iter().zip(&spline.coefficients[*first..]).map(|(w, c)| w * c).sum();
            let off = value - there;
            found.mean += off * off;
            if off.abs() > found.most {
                (found.most, found.sample) = (off.abs(), sample);
            }
        }
        found.mean = (found.mean / self.values.len() as f64).sqrt();
        found
    }
}

/// How far samples are from a curve.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Deviation {
    /// Root of the mean square.
    pub mean: f64,
    pub most: f64,
    /// The one that is farthest.
    pub sample: usize,
}

/// Adds w·wᵀ.
fn add_product(rows: &mut [[f64; ORDER]], unknowns: [usize; ORDER], weights: [f64; ORDER]) {
    for (i, a) in unknowns.into_iter().zip(weights) {
        for (j, b) in unknowns.into_iter().zip(weights) {
            if i >= j {
                rows[i][i - j] += a * b;
            }
        }
    }
}

/// Solves a symmetric, positive definite system, given by rows: the main diagonal, then those below it.
fn solve(mut rows: Vec<[f64; ORDER]>, mut right: Vec<f64>) -> Vec<f64> {
    let size = rows.len();
    for i in 0..size {
        // Below the diagonal the factor L, on it D.
        for j in i.saturating_sub(BAND)..i {
            let shared = i.saturating_sub(BAND)..j;
            let less: f64 = shared.map(|k| rows[i][i - k] * rows[j][j - k] * rows[k][0]).sum();
            rows[i][i - j] = (rows[i][i - j] - less) / rows[j][0];
        }
        let less: f64 = (i.saturating_sub(BAND)..i).map(|k| rows[i][i - k] * rows[i][i - k] * rows[k][0]).sum();
        rows[i][0] -= less;
        let less: f64 = (i.saturating_sub(BAND)..i).map(|k| rows[i][i - k] * right[k]).sum();
        right[i] -= less;
    }
    for i in (0..size).rev() {
        let less: f64 = (i + 1..size.min(i + ORDER)).map(|k| rows[k][k - i] * right[k]).sum();
        right[i] = right[i] / rows[i][0] - less;
    }
    right
}
