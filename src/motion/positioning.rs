//! How well an axis comes back to a place: the figures of a positioning test.
//!
//! The names and formulas are those of ISO 230-2 (from memory): of n approaches from one side with deviations x from the place,
//! mean m = Σx / n and s² = Σ(x − m)² / (n − 1); the unidirectional repeatability of that side is 4 s; the reversal value is the
//! mean from below less the mean from above; the bidirectional repeatability is the greatest of 2 s↑ + 2 s↓ + |reversal| and of
//! either side's own.

use arrayvec::ArrayVec;
use serde::{Deserialize, Serialize};

/// Approaches from either side.
pub const APPROACHES_LEAST: usize = 2;
pub const APPROACHES_MAX: usize = 10;

/// From where a place is approached: going up from below it, or down from above it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Side {
    Below,
    Above,
}

/// Deviations as they are measured, in the axis's own unit: where it stands less where it was told to stand.
#[derive(Clone, Debug, Default)]
pub struct Approaches {
    below: ArrayVec<f64, APPROACHES_MAX>,
    above: ArrayVec<f64, APPROACHES_MAX>,
}

impl Approaches {
    /// What finds no room is not taken.
    pub fn add(&mut self, side: Side, deviation: f64) {
        let list = match side {
            Side::Below => &mut self.below,
            Side::Above => &mut self.above,
        };
        let _ = list.try_push(deviation);
    }

    /// `None` with fewer than [`APPROACHES_LEAST`] from either side.
    pub fn positioning(&self) -> Option<Positioning> {
        let (below, above) = (Sided::of(&self.below)?, Sided::of(&self.above)?);
        let reversal = below.mean - above.mean;
        let (low, high) = (4.0 * below.deviation, 4.0 * above.deviation);
        let both = 2.0 * below.deviation + 2.0 * above.deviation + reversal.abs();
        let farthest = |side: &Sided| side.mean.abs() + 2.0 * side.deviation;
        Some(Positioning {
            approaches: self.below.len().min(self.above.len()) as u8,
            means: [below.mean, above.mean],
            repeatability: [low, high],
            reversal,
            bidirectional: both.max(low).max(high),
            farthest: farthest(&below).max(farthest(&above)),
        })
    }
}

/// In the axis's own unit; of pairs, first that of the approaches from below.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Positioning {
    /// From either side.
    pub approaches: u8,
    /// Mean deviations.
    pub means: [f64; 2],
    /// Unidirectional.
    pub repeatability: [f64; 2],
    pub reversal: f64,
    pub bidirectional: f64,
    /// From the place: the greater of |mean| + 2 s of either side. A start pose may be off by the axis's tolerance.
    pub farthest: f64,
}

struct Sided {
    mean: f64,
    deviation: f64,
}

impl Sided {
    fn of(found: &[f64]) -> Option<Sided> {
        if found.len() < APPROACHES_LEAST {
            return None;
        }
        let count = found.len() as f64;
        let mean = found.iter().sum::<f64>() / count;
        let squares: f64 = found.iter().map(|one| (one - mean) * (one - mean)).sum();
        Some(Sided { mean, deviation: (squares / (count - 1.0)).sqrt() })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Worked out by hand from the formulas above.
    #[test]
    fn the_figures_are_those_of_the_formulas() {
        let mut approaches = Approaches::default();
        for deviation in [1.0, 2.0, 3.0] {
            approaches.add(Side::Below, deviation);
        }
        for deviation in [-1.0, -1.0] {
            assert_eq!(approaches.positioning(), None);
            approaches.add(Side::Above, deviation);
        }
        let found = approaches.positioning().unwrap();
        assert_eq!((found.approaches, found.means, found.repeatability), (2, [2.0, -1.0], [4.0, 0.0]));
        assert_eq!((found.reversal, found.bidirectional, found.farthest), (3.0, 5.0, 4.0));
        // What has no spread but one side's is at least that side's own.
        let mut one = Approaches::default();
        for below in [-1.0, 1.0] {
            one.add(Side::Below, below);
            one.add(Side::Above, 0.0);
        }
        let found = one.positioning().unwrap();
        assert_eq!(found.bidirectional, found.repeatability[0]);
        (0..20).for_each(|_| one.add(Side::Above, 0.0));
        assert_eq!(one.positioning().unwrap().approaches, 2);
    }
}
