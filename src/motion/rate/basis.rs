//! The basis functions of a cubic spline of equal pieces from 0 to 1.

/// Pieces of a spline.
pub(super) const PIECES: usize = 20;
pub(super) const COEFFICIENTS: usize = PIECES + 3;

/// What each basis function is multiplied by; the first and the last are the spline's values at its ends.
pub(super) type Coefficients = [f64; COEFFICIENTS];

/// The four functions that are not zero within one piece, and their first two derivatives, at one place of it.
#[derive(Clone, Copy)]
pub(super) struct Basis {
    /// The first of the four.
    pub first: usize,
    pub value: [f64; 4],
    pub slope: [f64; 4],
    pub bend: [f64; 4],
}

/// The ends and the middle of every piece,
pub(super) const INSTANTS: usize = 2 * PIECES + 1;
/// and what is between two of them.
const APART: f64 = 1.0 / (INSTANTS - 1) as f64;

/// The functions at each of them.
pub(super) static AT: [Basis; INSTANTS] = {
    let mut at = [Basis::at(0, 0.0); INSTANTS];
    let mut instant = 1;
    while instant < INSTANTS {
        let piece = if instant == INSTANTS - 1 { PIECES - 1 } else { instant / 2 };
        at[instant] = Basis::at(piece, instant as f64 * APART);
        instant += 1;
    }
    at
};

/// The integrals of all functions up to each of them.
pub(super) static WAYS: [Coefficients; INSTANTS] = {
    // Gauss's rule of two points, which lie so far from the middle, is exact for cubics.
    let off = 0.288_675_134_594_812_9;
    let mut ways = [[0.0; COEFFICIENTS]; INSTANTS];
    let mut instant = 1;
    while instant < INSTANTS {
        ways[instant] = ways[instant - 1];
        let piece = (instant - 1) / 2;
        let middle = instant as f64 - 0.5;
        let [before, after] = [Basis::at(piece, (middle - off) * APART), Basis::at(piece, (middle + off) * APART)];
        let mut index = 0;
        while index < 4 {
            ways[instant][piece + index] += (before.value[index] + after.value[index]) * APART / 2.0;
            index += 1;
        }
        instant += 1;
    }
    ways
};

/// The ends are met by as many knots as it takes.
pub(super) const fn knot(index: usize) -> f64 {
    let from = index.saturating_sub(3);
    (if from < PIECES { from } else { PIECES }) as f64 / PIECES as f64
}

impl Basis {
    /// By the recursion of Cox and de Boor (de Boor, *A Practical Guide to Splines*, 1978, chapter 10).
    pub const fn at(piece: usize, place: f64) -> Basis {
        let span = piece + 3;
        let mut orders = [[0.0; 4]; 4];
        orders[0][0] = 1.0;
        let mut order = 1;
        while order < 4 {
            let (mut carried, mut index) = (0.0, 0);
            while index < order {
                let (right, left) = (knot(span + index + 1), knot(span + 1 + index - order));
                let share = orders[order - 1][index] / (right - left);
                orders[order][index] = carried + (right - place) * share;
                carried = (place - left) * share;
                index += 1;
            }
            orders[order][order] = carried;
            order += 1;
        }
        Basis {
            first: piece,
            value: orders[3],
            slope: slopes(span, 3, orders[2]),
            bend: slopes(span, 3, slopes(span, 2, orders[1])),
        }
    }

    pub fn value(&self, coefficients: &Coefficients) -> f64 {
        self.sum(self.value, coefficients)
    }

    pub fn slope(&self, coefficients: &Coefficients) -> f64 {
        self.sum(self.slope, coefficients)
    }

    pub fn bend(&self, coefficients: &Coefficients) -> f64 {
        self.sum(self.bend, coefficients)
    }

    fn sum(&self, functions: [f64; 4], coefficients: &Coefficients) -> f64 {
        functions.iter().zip(&coefficients[self.first..]).map(|(function, value)| function * value).sum()
    }
}

/// The derivatives of functions of one order, or what becomes of them: differences of those of the order below.
const fn slopes(span: usize, order: usize, lower: [f64; 4]) -> [f64; 4] {
    let mut slopes = [0.0; 4];
    let mut index = 0;
    while index <= order {
        let at = span + index - order;
        let before = if index > 0 { lower[index - 1] / (knot(at + order) - knot(at)) } else { 0.0 };
        let after = if index < order { lower[index] / (knot(at + order + 1) - knot(at + 1)) } else { 0.0 };
        slopes[index] = order as f64 * (before - after);
        index += 1;
    }
    slopes
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A spline through the coefficients of a cubic (its blossom at three knots) is that cubic.
    #[test]
    fn a_cubic_and_its_derivatives_are_met_everywhere() {
        let mut coefficients = [0.0; COEFFICIENTS];
        for (index, value) in coefficients.iter_mut().enumerate() {
            let [a, b, c] = [1, 2, 3].map(|next| knot(index + next));
            *value = 2.0 - (a + b + c) / 3.0 + 4.0 * (a * b + b * c + c * a) / 3.0 - 5.0 * a * b * c;
        }
        for piece in 0..PIECES {
            for part in [0.0, 0.3, 1.0] {
                let x = (piece as f64 + part) / PIECES as f64;
                let basis = Basis::at(piece, x);
                let off = [
                    basis.value(&coefficients) - (2.0 - x + 4.0 * x * x - 5.0 * x * x * x),
                    basis.slope(&coefficients) - (-1.0 + 8.0 * x - 15.0 * x * x),
                    basis.bend(&coefficients) - (8.0 - 30.0 * x),
                ];
                assert!(off.into_iter().all(|off| off.abs() < 1e-9), "{x}: {off:?}");
            }
        }
    }

    /// The functions add up to 1 everywhere, and so do their integrals to what has gone by.
    #[test]
    fn all_functions_together_are_one() {
        for (instant, (basis, ways)) in AT.iter().zip(&WAYS).enumerate() {
            let gone = instant as f64 * APART;
            assert!((basis.value.iter().sum::<f64>() - 1.0).abs() < 1e-12);
            assert!((ways.iter().sum::<f64>() - gone).abs() < 1e-12, "{instant}");
        }
    }
}
