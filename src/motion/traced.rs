//! A path that is known only by looking where it is at one instant after the other, made a curve.

use super::clamped::spline_through;
use super::curve::{Curve, Knot};
use super::profile::Sample;
use super::rate::Path;

/// So many looks are given for each piece of the curve: those at the knots are met, those between tell how near it keeps.
pub const PARTS: usize = 4;

/// The curve of `duration` s, at rest at both ends, through every fourth of positions that lie evenly in time, and how far it is
/// from the farthest of the others. At least five pieces.
///
/// A cubic spline: it misses what it follows by about the fourth power of a piece's length, so that twice
/// as many looks come sixteen times as near (de Boor, *A Practical Guide to Splines*, 1978, chapter V).
pub fn traced(positions: &[f64], duration: f64) -> (Curve, f64) {
    let pieces = (positions.len() - 1) / PARTS;
    let step = duration / pieces as f64;
    let rest = |at: usize| Sample { position: positions[at * PARTS], ..Sample::default() };
    let wanted: Vec<Sample> = (0..=pieces).map(rest).collect();
    let states = spline_through(&wanted, step);
    let knots = states.into_iter().enumerate().map(|(at, state)| Knot { time: at as f64 * step, state });
    let curve = Curve::new(knots.collect());
    let look = duration / (positions.len() - 1) as f64;
    let off =
        positions.iter().enumerate().map(|(at, &wanted)| (curve.at(at as f64 * look).position - wanted).abs());
    let farthest = off.fold(0.0, f64::max);
    (curve, farthest)
}

/// What is left, `time` s on, of an error in position, speed and acceleration that goes to nothing in `length` s: the polynomial
/// of the fifth degree that begins with the error and ends with none of it. Of an error in position alone it is the one of least
/// jerk (Flash and Hogan, Journal of Neuroscience 5, 1985).
pub fn fade(error: Sample, length: f64, time: f64) -> f64 {
    if time >= length {
        return 0.0;
    }
    let u = (time / length).max(0.0);
    let rest = 1.0 - u;
    let cube = rest * rest * rest;
    let place = cube * (1.0 + 3.0 * u + 6.0 * u * u);
    let speed = u * cube * (1.0 + 3.0 * u);
    let acceleration = u * u * cube / 2.0;
    error.position * place + error.speed * length * speed + error.acceleration * length * length * acceleration
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::motion::{Ceiling, verify_curve};

    /// A way from rest to rest whose jerk changes all along: the polynomial of least jerk and a swing beside it.
    fn way(u: f64) -> f64 {
        let (rest, square) = (1.0 - u, u * u);
        3.0 * u * square * (10.0 - u * (15.0 - 6.0 * u)) + 40.0 * square * square * rest * rest * rest * rest
    }

    fn looks(pieces: usize) -> Vec<f64> {
        (0..=PARTS * pieces).map(|at| way(at as f64 / (PARTS * pieces) as f64)).collect()
    }

    #[test]
    fn twice_as_many_looks_come_nearer_by_far_and_the_pieces_fit() {
        let mut before = f64::INFINITY;
        for pieces in [8, 16, 32, 64] {
            let (curve, off) = traced(&looks(pieces), 6.0);
            let peaks = curve.peaks();
            assert_eq!(verify_curve(&curve, Ceiling { ..peaks }), Ok(()));
            let [begin, end] = [curve.at(0.0), curve.at(6.0)];
            assert_eq!((begin.position, begin.speed, begin.acceleration), (0.0, 0.0, 0.0));
            assert!((end.position - 3.0).abs() < 1e-12);
            assert!(off < before / 6.0, "{pieces}: {off} after {before}");
            // Told by looks that the curve was not made of.
            let seen =
                (0..=1000).map(|k| f64::from(k) / 1000.0).map(|u| (curve.at(6.0 * u).position - way(u)).abs());
            let seen = seen.fold(0.0, f64::max);
            assert!(seen < 1.5 * off, "{pieces}: {seen}, told {off}");
            before = off;
        }
    }

    #[test]
    fn an_error_fades_from_all_of_it_to_nothing_without_a_jump() {
        let error = Sample { position: 2.0, speed: -3.0, acceleration: 5.0, jerk: 0.0 };
        let (length, h) = (4.0, 1e-3);
        let at = |time: f64| fade(error, length, time);
        let differences = |time: f64| {
            let [before, here, after] = [at(time - h), at(time), at(time + h)];
            [here, (after - before) / (2.0 * h), (before - 2.0 * here + after) / (h * h)]
        };
        for (found, expected) in differences(h).into_iter().zip([2.0 - 3.0 * h, -3.0 + 5.0 * h, 5.0]) {
            assert!((found - expected).abs() < 0.05, "{found}, {expected}");
        }
        for found in differences(length - h) {
            assert!(found.abs() < 0.05, "{found}");
        }
        assert_eq!((at(4.0), at(9.0)), (0.0, 0.0));
    }
}
