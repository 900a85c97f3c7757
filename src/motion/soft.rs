//! Moves softer than time-optimal: how the time of a straight move is shared out along its way.
//!
//! At softness 0 it is the double-S of [`super::Profile`], which begins and ends with the full jerk; at 1 the polynomial
//! of least integrated squared jerk, s = 10u³ - 15u⁴ + 6u⁵ (Flash and Hogan, *The coordination of arm movements*, Journal
//! of Neuroscience 5, 1985), whose acceleration comes and goes as smoothly as it can; between them a blend, in the jerk, of
//! the two at one and the same duration. Neither turns back, so that no blend does.
//!
//! A softer move has higher peaks, so that it needs more time for the same limits: the price of softness.

use super::curve::{Curve, Knot};
use super::profile::{Ceiling, Profile, Sample};

/// Pieces of constant jerk that stand for the polynomial, each the mean of the jerk over it.
const STEPS: usize = 64;

/// From 0 to 1 in one second, at rest at both ends; `sharpest` gives the double-S, of any duration above zero.
pub fn soft(sharpest: &Profile, softness: f64) -> Curve {
    let duration = sharpest.duration();
    // The first half; the second is its mirror image.
    let mut times: Vec<f64> = (0..STEPS / 2).map(|step| step as f64 / STEPS as f64).collect();
    times.extend(sharpest.breaks().map(|at| at / duration).into_iter().filter(|at| *at < 0.5));
    times.sort_by(f64::total_cmp);
    times.dedup();
    times.push(0.5);
    let jerks = times.windows(2).map(|piece| {
        let sharp = sharpest.at((piece[0] + piece[1]) / 2.0 * duration).jerk * duration * duration * duration;
        (1.0 - softness) * sharp + softness * mean_jerk(piece[0], piece[1])
    });
    let mut half = Vec::with_capacity(times.len());
    let mut state = Sample::default();
    for (piece, jerk) in times.windows(2).zip(jerks) {
        state.jerk = jerk;
        half.push(Knot { time: piece[0], state });
        state = state.after(piece[1] - piece[0]);
    }
    // The means of the polynomial's jerk miss the middle of the way by a few parts in ten thousand.
    let factor = 0.5 / state.position;
    half.iter_mut().for_each(|knot| knot.state = knot.state.times(factor));
    let jerk = |index: usize| half[index].state.jerk;
    let middle =
        Sample { position: 0.5, speed: state.speed * factor, acceleration: 0.0, jerk: jerk(half.len() - 1) };
    let mirrored = half.iter().enumerate().rev().map(|(index, knot)| Knot {
        time: 1.0 - knot.time,
        state: Sample {
            position: 1.0 - knot.state.position,
            speed: knot.state.speed,
            acceleration: -knot.state.acceleration,
            jerk: if index == 0 { 0.0 } else { jerk(index - 1) },
        },
    });
    let knots = half.iter().copied().chain([Knot { time: 0.5, state: middle }]).chain(mirrored);
    Curve::new(knots.collect())
}

/// s; the least in which a curve of one second keeps the ceiling (Biagiotti and Melchiorri, 2008, section 3.4.5).
pub fn least_time(peaks: Ceiling, ceiling: Ceiling) -> f64 {
    let speed = peaks.speed / ceiling.speed;
    let acceleration = (peaks.acceleration / ceiling.acceleration).sqrt();
    let jerk = libm::cbrt(peaks.jerk / ceiling.jerk);
    speed.max(acceleration).max(jerk)
}

/// Of the polynomial over a part of its second.
fn mean_jerk(from: f64, to: f64) -> f64 {
    let acceleration = |u: f64| u * (60.0 - u * (180.0 - 120.0 * u));
    (acceleration(to) - acceleration(from)) / (to - from)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::motion::{Path, verify_curve};

    /// 2 m at 0.5, 0.5, 1: example 3.4 of Biagiotti and Melchiorri scaled; 5.5 s.
    const CEILING: Ceiling = Ceiling { speed: 0.25, acceleration: 0.25, jerk: 0.5 };

    fn near(found: f64, expected: f64, part: f64) {
        assert!((found - expected).abs() <= part * expected.abs(), "found {found}, expected {expected}");
    }

    /// Peaks of the minimum-jerk move of D = 2.5 in T = 4: 1.875 D/T, (10/√3) D/T², 60 D/T³ (Flash and Hogan, 1985).
    #[test]
    fn the_softest_move_has_the_published_peaks_of_minimum_jerk() {
        let curve = soft(&Profile::fastest(CEILING), 1.0).stretched(4.0);
        let peaks = curve.peaks().times(2.5);
        near(peaks.speed, 1.171875, 1e-3);
        near(peaks.acceleration, 0.902_109_8, 1e-3);
        // The ends hold the highest jerk, and there its mean over a piece is a little less.
        assert!(peaks.jerk <= 2.343_750 && peaks.jerk > 0.95 * 2.343_750, "{peaks:?}");
        // s(T/4) = 0.103515625.
        near(curve.at(1.0).position, 0.103_515_625, 1e-3);
        for step in 0..=100 {
            let u = f64::from(step) / 100.0;
            let polynomial = u * u * u * (10.0 - u * (15.0 - 6.0 * u));
            assert!((curve.at(4.0 * u).position - polynomial).abs() < 2e-4, "{u}");
        }
    }

    #[test]
    fn the_sharpest_is_the_double_s_itself() {
        let sharpest = Profile::fastest(CEILING);
        let curve = soft(&sharpest, 0.0).stretched(sharpest.duration());
        near(least_time(soft(&sharpest, 0.0).peaks(), CEILING), sharpest.duration(), 1e-9);
        for step in 0..=1000 {
            let time = sharpest.duration() * f64::from(step) / 1000.0;
            let (found, expected) = (curve.at(time), sharpest.at(time));
            assert!((found.position - expected.position).abs() < 1e-12, "{time}");
            assert!((found.acceleration - expected.acceleration).abs() < 1e-9, "{time}");
        }
    }

    #[test]
    fn every_softness_keeps_its_limits_in_its_least_time_and_never_turns_back() {
        let limits = [1e-2, 0.05, 0.25, 3.0, 40.0];
        for speed in limits {
            for acceleration in limits {
                for jerk in limits {
                    let ceiling = Ceiling { speed, acceleration, jerk };
                    let sharpest = Profile::fastest(ceiling);
                    let mut before = 0.0;
                    for softness in [0.0, 0.1, 0.5, 0.9, 1.0] {
                        let unit = soft(&sharpest, softness);
                        let least = least_time(unit.peaks(), ceiling);
                        let curve = unit.stretched(least);
                        assert_eq!(verify_curve(&curve, ceiling), Ok(()), "{ceiling:?} {softness}");
                        // Beside its end it may, by the rounding.
                        let back = curve.turns().iter().find(|turn| (turn.position - 1.0).abs() > 1e-12);
                        assert_eq!(back, None, "{ceiling:?} {softness}");
                        // Softness is never had for nothing.
                        assert!(least >= before * (1.0 - 1e-9), "{ceiling:?} {softness}: {least} after {before}");
                        before = least;
                    }
                }
            }
        }
    }
}
