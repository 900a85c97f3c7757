//! Profiles against published values, and against the verifier over random limits.

use proptest::prelude::*;

use super::*;

/// Rest to rest over `h` under v, a, j.
fn rest_to_rest(h: f64, v: f64, a: f64, j: f64) -> (Profile, Ceiling) {
    let ceiling = Ceiling { speed: v / h, acceleration: a / h, jerk: j / h };
    let profile = Profile::fastest(ceiling);
    verify_profile(&profile, ceiling).unwrap();
    (profile, ceiling)
}

fn close(found: f64, published: f64) {
    assert!((found - published).abs() < 1e-6, "found {found}, published {published}");
}

/// Numbers computed from the double-S formulas of Biagiotti and Melchiorri, 2008, section 3.4; durations also from
/// ruckig 0.19.
#[test]
fn published_profiles() {
    let (profile, _) = rest_to_rest(2.0, 0.5, 0.5, 1.0);
    close(profile.jerk_time(), 0.5);
    close(profile.rise_time(), 1.5);
    close(profile.cruise_time(), 2.5);
    close(profile.duration(), 5.5);

    let (profile, _) = rest_to_rest(2.0, 0.2, 1.0, 1.0);
    close(profile.jerk_time(), 0.447_213_6);
    close(profile.duration(), 10.894_427_2);

    let (profile, _) = rest_to_rest(0.3, 1.0, 0.5, 1.0);
    close(profile.duration(), 2.127_882_1);
    close(profile.peaks().speed * 0.3, 0.281_970_5);

    let (profile, _) = rest_to_rest(0.05, 1.0, 1.0, 2.0);
    close(profile.duration(), 0.928_317_8);
    close(profile.peaks().speed * 0.05, 0.107_721_7);

    let (profile, _) = rest_to_rest(90.0, 30.0, 40.0, 120.0);
    close(profile.rise_time(), 1.083_333_3);
    close(profile.duration(), 4.083_333_3);
}

/// Example 3.13 of the book, from rest.
#[test]
fn published_example_3_13() {
    let (profile, _) = rest_to_rest(10.0, 10.0, 20.0, 30.0);
    close(profile.jerk_time(), 0.550_321_2);
    close(profile.duration(), 2.201_284_8);
    close(profile.peaks().speed * 10.0, 9.085_603_0);
}

/// Section 3.4.5 of the book: stretched by λ, speed, acceleration and jerk fall by λ, λ², λ³.
#[test]
fn stretching_scales_by_the_powers_of_its_factor() {
    let (profile, _) = rest_to_rest(2.0, 0.5, 0.5, 1.0);
    let (fast, slow) = (profile.peaks(), profile.stretched(1.25).peaks());
    close(profile.stretched(1.25).duration(), 5.5 * 1.25);
    close(slow.speed, fast.speed / 1.25);
    close(slow.acceleration, fast.acceleration / 1.25_f64.powi(2));
    close(slow.jerk, fast.jerk / 1.25_f64.powi(3));
}

fn limits() -> impl Strategy<Value = Ceiling> {
    let decades = -4.0..4.0_f64;
    (decades.clone(), decades.clone(), decades).prop_map(|(v, a, j)| Ceiling {
        speed: 10_f64.powf(v),
        acceleration: 10_f64.powf(a),
        jerk: 10_f64.powf(j),
    })
}

proptest! {
    #[test]
    fn every_profile_passes_the_verifier(ceiling in limits(), factor in 1.0..50.0_f64) {
        let profile = Profile::fastest(ceiling);
        prop_assert_eq!(verify_profile(&profile, ceiling), Ok(()));
        prop_assert_eq!(verify_profile(&profile.stretched(factor), ceiling), Ok(()));
    }

    /// `at` tells the same story as the verifier's integration: continuous, its own derivatives, 0 to 1.
    #[test]
    fn samples_are_continuous_and_consistent(ceiling in limits()) {
        let profile = Profile::fastest(ceiling);
        let (duration, peaks) = (profile.duration(), profile.peaks());
        let steps = 1000;
        let step = duration / f64::from(steps);
        for i in 0..steps {
            let (a, b) = (profile.at(f64::from(i) * step), profile.at(f64::from(i + 1) * step));
            prop_assert!(b.position >= a.position - 1e-12);
            prop_assert!((b.speed - a.speed).abs() <= peaks.acceleration * step * (1.0 + 1e-6) + 1e-12 * peaks.speed);
            let mean = (a.speed + b.speed) / 2.0;
            let curve = peaks.jerk * step * step * step / 12.0 + peaks.acceleration * step * step / 2.0;
            prop_assert!((b.position - a.position - mean * step).abs() <= curve + 1e-12);
        }
        prop_assert_eq!(profile.at(duration).position, 1.0);
        prop_assert_eq!(profile.at(0.0).position, 0.0);
    }

    #[test]
    fn every_ramp_passes_the_verifier(
        v0 in -10.0..10.0_f64, a0 in -10.0..10.0_f64, v1 in -10.0..10.0_f64,
        limit in 0.01..10.0_f64, jerk in 0.01..100.0_f64,
    ) {
        let ramp = Ramp::new(v0, a0, v1, limit, jerk);
        prop_assert_eq!(verify_ramp(&ramp, limit, jerk), Ok(()));
    }
}

/// A verifier that accepts everything proves nothing: each limit, broken by a thousandth, is seen.
#[test]
fn the_verifier_sees_each_broken_limit() {
    let (profile, _) = rest_to_rest(2.0, 0.5, 0.5, 1.0);
    let peaks = profile.peaks();
    let less = 1.0 - 1e-3;
    let speed = Ceiling { speed: peaks.speed * less, ..peaks };
    let acceleration = Ceiling { acceleration: peaks.acceleration * less, ..peaks };
    let jerk = Ceiling { jerk: peaks.jerk * less, ..peaks };
    assert!(matches!(verify_profile(&profile, speed), Err(Violation::Speed { .. })));
    assert!(matches!(verify_profile(&profile, acceleration), Err(Violation::Acceleration { .. })));
    assert!(matches!(verify_profile(&profile, jerk), Err(Violation::Jerk { .. })));
    let ramp = Ramp::new(1.0, 0.0, 0.0, 0.8, 2.0);
    assert!(matches!(verify_ramp(&ramp, 0.79, 2.0), Err(Violation::Acceleration { .. })));
    assert!(matches!(verify_ramp(&ramp, 0.8, 1.99), Err(Violation::Jerk { .. })));
}
