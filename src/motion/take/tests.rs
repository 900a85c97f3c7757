use std::f64::consts::TAU;

use proptest::prelude::*;

use super::smooth::{knots, smooth};
use super::spline::{Deviation, Rests};
use super::*;
use crate::motion::{Curve, Violation, verify_curve};

/// The minnow's travel.
const LIMITS: Limits = Limits { speed: 0.4, acceleration: 0.4, jerk: 1.5 };
const TOLERANCE: f64 = 0.01;
const TRAVEL: [f64; 2] = [0.0, 3.0];

fn part(values: &[f64]) -> Part<'_> {
    Part { trace: Trace { values, tolerance: TOLERANCE, travel: TRAVEL }, limits: LIMITS }
}

/// Numbers that look random and are the same every day.
struct Chance(u64);

impl Chance {
    fn part(&mut self) -> f64 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 11) as f64 / (1_u64 << 53) as f64
    }

    /// Of mean 0 and deviation 1, near enough: the sum of twelve (Irwin and Hall).
    fn normal(&mut self) -> f64 {
        (0..12).map(|_| self.part()).sum::<f64>() - 6.0
    }
}

/// A recorder near 50 Hz that is uneven and drops one sample in fifty.
fn recorded(length: f64, noise: f64, seed: u64, motion: impl Fn(f64) -> f64) -> (Vec<f64>, Vec<f64>) {
    let mut chance = Chance(seed);
    let (mut times, mut values) = (Vec::new(), Vec::new());
    let mut time = 0.0;
    while time <= length {
        if chance.part() > 0.02 {
            times.push(time);
            values.push(motion(time) + noise * chance.normal());
        }
        time += 0.02 + 0.004 * (chance.part() - 0.5);
    }
    (times, values)
}

/// From 0 to 1 with the least jerk; at rest before and after.
fn ease(part: f64) -> f64 {
    let x = part.clamp(0.0, 1.0);
    x * x * x * (10.0 - 15.0 * x + 6.0 * x * x)
}

/// 2 m in 24 s, with three waves of the hand in it; at rest for a second at both ends.
fn crossing(time: f64) -> f64 {
    let along = ease((time - 1.0) / 22.0);
    2.4 - 2.0 * (along + 0.02 * (TAU * 3.0 * along).sin())
}

/// The greatest deviation of a path from what was meant, over the recorded time.
fn error(performed: &Performance, length: f64, motion: impl Fn(f64) -> f64) -> f64 {
    let looks = (0..=2000).map(|k| length * f64::from(k) / 2000.0);
    looks.map(|time| (performed.phrase.at(0, time).position - motion(time)).abs()).fold(0.0, f64::max)
}

fn verified(performed: &Performance) -> Result<(), Violation> {
    let open = Ceiling::NONE;
    performed.phrase.curves().try_for_each(|curve| verify_curve(&curve, open))
}

#[test]
fn a_known_motion_is_recovered_within_the_noise_and_without_its_roughness() {
    for (noise, seed) in [(0.0, 1), (0.0005, 2), (0.002, 3)] {
        let (times, values) = recorded(24.0, noise, seed, crossing);
        let performed = perform(&times, &[part(&values)], 0.0).unwrap();
        verified(&performed).unwrap();
        assert_eq!(performed.added, [0.0; 2]);
        assert_eq!(performed.phrase.duration(), times[times.len() - 1] - times[0]);
        // The first of the samples may have been dropped.
        let off = error(&performed, performed.phrase.duration(), |time| crossing(times[0] + time));
        assert!(off < 0.35 * TOLERANCE, "noise {noise}: off by {off}");
        // The motion's own peaks are 0.2187, 0.0917 and 0.1623, from its formula.
        let [speed, acceleration, jerk] = performed.phrase.peaks(0).map(|peak| peak.value);
        assert!((speed - 0.2187).abs() < 0.004, "noise {noise}: {speed}");
        assert!((acceleration - 0.0917).abs() < 0.006, "noise {noise}: {acceleration}");
        assert!((jerk - 0.1623).abs() < 0.03, "noise {noise}: {jerk}");
    }
}

#[test]
fn no_sample_is_farther_from_the_path_than_the_tolerance() {
    for seed in 0..20 {
        let (times, values) = recorded(12.0, 0.0025, seed, |time| crossing(2.0 * time));
        let performed = perform(&times, &[part(&values)], 0.0).unwrap();
        for (time, value) in times.iter().zip(&values) {
            let off = performed.phrase.at(0, time - times[0]).position - value;
            assert!(off.abs() <= TOLERANCE, "seed {seed}: off by {off} at {time}");
        }
    }
}

#[test]
fn the_least_stretch_brings_the_tightest_limit_to_exactly_itself() {
    for (length, limit) in [(8.0, Derivative::Speed), (24.0, Derivative::Speed), (1.4, Derivative::Jerk)] {
        let (times, values) = recorded(length, 0.0005, 4, |time| {
            // The shorter, the smaller.
            crossing(time * 24.0 / length) * if length < 2.0 { 0.1 } else { 1.0 }
        });
        let performed = perform(&times, &[part(&values)], 0.0).unwrap();
        let tightest = tightest(&performed.phrase, &[part(&values)]).unwrap();
        assert_eq!(tightest.limit, limit, "{tightest:?}");
        let curve = performed.phrase.curves().next().unwrap().stretched(tightest.stretch);
        let ceiling = Ceiling::over(LIMITS, 1.0);
        verify_curve(&curve, ceiling).unwrap();
        let peaks = curve.peaks();
        let use_of = [peaks.speed / 0.4, peaks.acceleration / 0.4, peaks.jerk / 1.5];
        assert!((use_of.into_iter().fold(0.0, f64::max) - 1.0).abs() < 1e-9, "{use_of:?}");
        assert!(verify_curve(&curve.stretched(0.999), ceiling).is_err());
    }
}

/// A performance that is cut out of a longer one.
fn in_motion(time: f64) -> f64 {
    1.5 + 1.0 * (0.3 * time).sin()
}

#[test]
fn what_begins_and_ends_in_motion_gets_a_run_in_and_a_run_out_along_its_way() {
    let (times, values) = recorded(20.0, 0.0005, 5, in_motion);
    let performed = perform(&times, &[part(&values)], 0.0).unwrap();
    verified(&performed).unwrap();
    let [run_in, run_out] = performed.added;
    // From 0.3 m/s at no more than 0.4 m/s² and 1.5 m/s³, times the pace: half of about 1.875·0.3/0.28 s is added.
    assert!((0.6..1.3).contains(&run_in) && (0.6..1.3).contains(&run_out), "{:?}", performed.added);
    let recorded_time = times[times.len() - 1] - times[0];
    assert!((performed.phrase.duration() - recorded_time - run_in - run_out).abs() < 1e-9);
    // It begins in its first pose, and goes through where it was performed, later by what is added.
    assert!((performed.phrase.at(0, 0.0).position - in_motion(times[0])).abs() < TOLERANCE);
    for k in 0..100 {
        let time = 2.0 * run_in + (recorded_time - run_in - run_out) * f64::from(k) / 100.0;
        let meant = in_motion(times[0] + time - run_in);
        assert!((performed.phrase.at(0, time).position - meant).abs() < 0.5 * TOLERANCE);
        assert!((performed.recorded(time) - (time - run_in)).abs() < 1e-12);
    }
    // Along the leads its clock is bent, and the way is the same.
    for k in 0..=200 {
        let time = performed.phrase.duration() * f64::from(k) / 200.0;
        let recorded = performed.recorded(time);
        let meant = in_motion(times[0] + recorded);
        assert!((performed.phrase.at(0, time).position - meant).abs() < TOLERANCE, "{time}");
        if (1..200).contains(&k) {
            assert!((performed.played(recorded) - time).abs() < 1e-3, "{time}");
        }
    }
    assert_eq!(performed.recorded(0.0), 0.0);
    assert!((performed.recorded(performed.phrase.duration()) - recorded_time).abs() < 1e-9);
    // Neither asks for more than the performance, or than a take at seven tenths.
    let tightest = tightest(&performed.phrase, &[part(&values)]).unwrap();
    assert!(tightest.stretch < 0.85, "{tightest:?}");
}

#[test]
fn a_take_is_entered_where_it_was_at_that_time() {
    let (times, values) = recorded(24.0, 0.0005, 6, crossing);
    let whole = perform(&times, &[part(&values)], 0.0).unwrap();
    let entered = perform(&times, &[part(&values)], 9.0).unwrap();
    verified(&entered).unwrap();
    assert_eq!((entered.added[1], entered.entered), (0.0, 9.0));
    assert!(entered.added[0] > 0.1);
    let (at_once, there) = (entered.phrase.at(0, 0.0).position, whole.phrase.at(0, 9.0).position);
    assert!((at_once - there).abs() < 0.1 * TOLERANCE);
    let last = |performed: &Performance| performed.phrase.at(0, performed.phrase.duration()).position;
    assert!((last(&entered) - last(&whole)).abs() < 0.1 * TOLERANCE);
    let length = whole.phrase.duration() - 9.0 + entered.added[0];
    assert!((entered.phrase.duration() - length).abs() < 1e-9);
}

#[test]
fn a_path_that_has_to_begin_a_little_aside_fades_into_the_recorded_one() {
    let (times, values) = recorded(24.0, 0.0005, 7, crossing);
    let performed = perform(&times, &[part(&values)], 0.0).unwrap();
    let aside = Performance {
        phrase: performed.phrase.beginning_off(&[0.004], performed.phrase.duration()),
        ..performed.clone()
    };
    verified(&aside).unwrap();
    let off = |time: f64| aside.phrase.at(0, time).position - performed.phrase.at(0, time).position;
    assert!(
        (off(0.0) - 0.004).abs() < 1e-12
            && off(performed.phrase.duration()).abs() < 1e-12
            && (off(12.0) - 0.002).abs() < 1e-4
    );
}

#[test]
fn several_axes_keep_together_and_one_that_stands_still_stays() {
    let (times, values) = recorded(20.0, 0.0005, 8, in_motion);
    let still = vec![1.25; times.len()];
    let parts = [part(&values), part(&still)];
    let performed = perform(&times, &parts, 0.0).unwrap();
    verified(&performed).unwrap();
    assert_eq!(performed.phrase.peaks(1).map(|peak| peak.value < 1e-9), [true; 3]);
    let alone = perform(&times, &parts[..1], 0.0).unwrap();
    assert_eq!(performed.phrase.states[0], alone.phrase.states[0]);
    assert_eq!(
        tightest(&perform(&times, &parts[1..], 0.0).unwrap().phrase, &parts[1..])
            .map_or(0.0, |t| t.stretch.round()),
        0.0
    );
}

#[test]
fn a_glitch_is_told_by_its_sample_and_so_is_noise_beyond_the_tolerance() {
    let (times, mut values) = recorded(24.0, 0.0005, 9, crossing);
    values[400] += 0.05;
    let told = perform(&times, &[part(&values)], 0.0).unwrap_err();
    assert!(matches!(told, (0, Rough::Glitch { sample: 400, off }) if (off - 0.05).abs() < 0.005), "{told:?}");
    let (times, values) = recorded(24.0, 0.006, 10, crossing);
    let told = perform(&times, &[part(&values)], 0.0).unwrap_err();
    assert!(matches!(told, (0, Rough::Noise { deviation, .. }) if (deviation - 0.006).abs() < 0.0006), "{told:?}");
}

/// A hand that shakes at 6 and at 8 Hz: knots a tenth of a second apart pass it by, closer ones follow it.
#[test]
fn knots_stand_closer_where_the_motion_asks_for_it() {
    for (hertz, size) in [(6.0, 0.03), (8.0, 0.02)] {
        let shaken =
            |time: f64| crossing(time) + size * ease(time) * ease(24.0 - time) * (TAU * hertz * time).sin();
        let (times, values) = recorded(24.0, 0.0002, 16, shaken);
        let from_zero: Vec<f64> = times.iter().map(|time| time - times[0]).collect();
        let first = knots(&from_zero).next().unwrap();
        let coarse = smooth(&from_zero, part(&values).trace, 0.0, first, Rests { start: false, end: false });
        assert!(matches!(coarse, Err(Deviation { most, .. }) if most > TOLERANCE), "{hertz} Hz: {coarse:?}");
        let performed = perform(&times, &[part(&values)], 0.0).unwrap();
        verified(&performed).unwrap();
        let found = performed.phrase.times[1];
        assert!(found < 0.6 * first.spacing, "{hertz} Hz: {found} s apart");
        let off = error(&performed, performed.phrase.duration(), |time| shaken(times[0] + time));
        assert!(off < TOLERANCE, "{hertz} Hz: off by {off}");
    }
}

/// A jolt that its scatter nearly explains, so that it is no glitch, and neither is all of it noise; no spline of ours follows it.
#[test]
fn what_no_knots_follow_is_told_by_its_sample_and_how_far_it_is() {
    let (times, values) = recorded(24.0, 0.003, 17, |time| crossing(time) + if time < 12.0 { 0.0 } else { 0.05 });
    let told = perform(&times, &[part(&values)], 0.0).unwrap_err();
    let (0, Rough::Beyond { sample, off }) = told else { panic!("{told:?}") };
    assert!((times[sample] - 12.0).abs() < 0.1 && off > TOLERANCE && off < 0.04, "{told:?}");
}

/// Gasser, Sroka and Jennen-Steinmetz take out what is smooth: what is left is the noise, whatever the motion.
#[test]
fn noise_is_estimated_whatever_moves_under_it() {
    for (seed, deviation) in [(11, 0.0005), (12, 0.002), (13, 0.02)] {
        let (times, values) = recorded(60.0, deviation, seed, |time| 1.5 + 0.5 * (1.7 * time).sin());
        let found = super::noise::noise(&times, &values);
        assert!((found / deviation - 1.0).abs() < 0.08, "{found} of {deviation}");
    }
}

#[test]
fn a_performance_to_the_end_of_travel_stays_inside() {
    let (times, values) = recorded(20.0, 0.001, 14, |time| 3.0 * ease((time - 1.0) / 18.0));
    assert!(values.iter().any(|&value| value > 3.0), "the noise goes beyond the end");
    let performed = perform(&times, &[part(&values)], 0.0).unwrap();
    let looks = (0..=4000).map(|k| performed.phrase.at(0, f64::from(k) * 0.005).position);
    assert!(looks.into_iter().all(|position| (0.0..=3.0).contains(&position)));
}

/// The normal equations against elimination without any structure, and a straight line, which no penalty touches.
#[test]
fn the_spline_is_that_of_the_normal_equations() {
    let (times, values) = recorded(3.0, 0.01, 15, |time| 0.2 * time);
    let times: Vec<f64> = times.iter().map(|time| time - times[0]).collect();
    let pieces = 10;
    let spacing = times[times.len() - 1] / pieces as f64;
    let knots = Knots { spacing, pieces };
    let fitting = super::spline::Fitting::new(&times, &values, knots, Rests { start: false, end: false }, None);
    // Of the least penalty the plain least squares: the residual has nothing of any of the splines left in it.
    let spline = fitting.spline(1e-12);
    let value = |time: f64| {
        let knot = ((time / spacing) as usize).min(pieces - 1);
        spline.at_knot(knot).after(time - knot as f64 * spacing).position
    };
    for power in 0..4 {
        let left = times.iter().zip(&values).map(|(&t, v)| (v - value(t)) * t.powi(power)).sum::<f64>();
        assert!(left.abs() < 1e-6, "of power {power}: {left}");
    }
    let line: Vec<f64> = times.iter().map(|time| 1.0 + 0.3 * time).collect();
    let fitting = super::spline::Fitting::new(&times, &line, knots, Rests { start: false, end: false }, None);
    let stiff = fitting.spline(1e6);
    assert!(fitting.deviation(&stiff).most < 1e-9);
}

/// Within a tolerance far above all that was recorded, a path stands but for the last digits of its positions. Where its pieces
/// meet to those digits of what was recorded they meet.
fn verified_but_for_rounding(curve: &Curve, ceiling: Ceiling, [low, high]: [f64; 2]) -> Result<(), Violation> {
    match verify_curve(curve, ceiling) {
        Err(Violation::Jump { gap, .. }) if gap.abs() <= 1e-9 * (high - low) => Ok(()),
        verified => verified,
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]
    /// Whatever was recorded, there is a path near it or a reason.
    #[test]
    fn any_recording_has_an_answer(
        steps in prop::collection::vec((1e-4_f64..0.5, -1.0_f64..1.0), 10..120),
        (speed, acceleration, jerk) in (-6.0_f64..4.0, -6.0_f64..4.0, -6.0_f64..4.0),
        (scale, tolerance) in (-6.0_f64..6.0, -6.0_f64..6.0),
        travel in (0.0_f64..1.5, 0.0_f64..1.5),
        enter in prop_oneof![Just(0.0), 0.0_f64..0.5],
    ) {
        let [scale, tolerance] = [scale, tolerance].map(|power| 10_f64.powf(power));
        let limits = Limits { speed: 10_f64.powf(speed), acceleration: 10_f64.powf(acceleration), jerk: 10_f64.powf(jerk) };
        let (mut time, mut value) = (1e9, 0.0);
        let (times, values): (Vec<f64>, Vec<f64>) = steps.into_iter().map(|(step, change)| {
            time += step;
            value += scale * change;
            (time, value)
        }).unzip();
        let length = time - times[0];
        // Of what was recorded it holds all, or less.
        let recorded = values.iter().fold([0.0_f64; 2], |[low, high], value| [low.min(*value), high.max(*value)]);
        let travel = [recorded[0] * travel.0 - tolerance * 1e-3, recorded[1] * travel.1 + tolerance * 1e-3];
        let trace = Trace { values: &values, tolerance, travel };
        let part = Part { trace, limits };
        if let Ok(performed) = perform(&times, &[part], enter * length) {
            let curves: Vec<_> = performed.phrase.curves().collect();
            prop_assert!(performed.phrase.times.windows(2).all(|pair| pair[0] < pair[1]));
            prop_assert_eq!(verified_but_for_rounding(&curves[0], Ceiling::NONE, recorded), Ok(()));
            let inside = values.iter().all(|value| (travel[0] - tolerance..=travel[1] + tolerance).contains(value));
            let range = curves[0].positions(0.0, performed.phrase.duration());
            let slack = 1e-9 * (recorded[1] - recorded[0]);
            prop_assert!(!inside || range.low >= travel[0] - slack && range.high <= travel[1] + slack, "{range:?}");
            if enter == 0.0 && performed.added == [0.0; 2] {
                for (time, value) in times.iter().zip(&values) {
                    let off = performed.phrase.at(0, time - times[0]).position - value;
                    prop_assert!(off.abs() <= tolerance * (1.0 + 1e-6) + 1e-9 * scale, "{off}");
                }
            }
            let least = tightest(&performed.phrase, &[part]).map_or(0.0, |tightest| tightest.stretch);
            prop_assert!(least.is_finite());
            // Any less stretch would be too little, and so much is enough.
            if least > 0.0 {
                let stretched = curves[0].stretched(least);
                prop_assert_eq!(verified_but_for_rounding(&stretched, Ceiling::over(limits, 1.0), recorded), Ok(()));
                prop_assert!(verify_curve(&curves[0].stretched(0.999 * least), Ceiling::over(limits, 1.0)).is_err());
            }
        }
    }
}
