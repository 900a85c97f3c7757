//! Moves through marks: exact, within every limit and the travel, and as fast as that allows.

use proptest::prelude::*;
use proptest::test_runner::Config;

use super::*;
use crate::motion::{Path, Profile, verify_curve};

const LIMITS: Ceiling = Ceiling { speed: 0.5, acceleration: 0.4, jerk: 0.8 };

fn axis(at: &[f64], travel: [f64; 2]) -> Through {
    Through { at: at.iter().copied().map(Some).collect(), limits: LIMITS, travel }
}

/// Verified, within travel, at rest at both ends, and at each mark exactly where that says.
fn kept(axes: &[Through]) -> Way {
    let way = through(axes).unwrap();
    for (axis, curve) in axes.iter().zip(&way.curves) {
        assert_eq!(verify_curve(curve, axis.limits), Ok(()), "{axes:?}");
        let (range, slack) = (curve.positions(0.0, curve.duration()), 1e-9 * (axis.travel[1] - axis.travel[0]));
        let [low, high] = axis.travel;
        assert!(range.low >= low - slack && range.high <= high + slack, "{range:?} of {axes:?}");
        assert_eq!(curve.duration(), way.curves[0].duration());
        for (time, at) in way.times.iter().zip(&axis.at).filter_map(|(time, at)| Some((time, (*at)?))) {
            assert_eq!(curve.at(*time).position, at, "at {time} s of {axes:?}");
        }
    }
    assert!(way.times.is_sorted());
    way
}

/// The part of the time in which some axis uses nine tenths of one of its limits, or more.
fn busy(axes: &[Through], way: &Way) -> f64 {
    let steps = 4000;
    let duration = way.curves[0].duration();
    let loaded = |step: usize| {
        let time = duration * (step as f64 + 0.5) / steps as f64;
        axes.iter().zip(&way.curves).any(|(axis, curve)| {
            let state = curve.at(time);
            let load =
                (state.speed / axis.limits.speed).abs().max((state.acceleration / axis.limits.acceleration).abs());
            load.max((state.jerk / axis.limits.jerk).abs()) > 0.9
        })
    };
    (0..steps).filter(|&step| loaded(step)).count() as f64 / steps as f64
}

/// One axis that goes one way has one path, whatever it passes: the double-S is the least time (Biagiotti and Melchiorri,
/// 2008, section 3.4), with every phase of it and without a full speed.
#[test]
fn a_mark_on_a_straight_way_costs_next_to_nothing() {
    for (way, middle) in [(4.0, 1.0), (4.0, 2.0), (0.4, 0.3), (1.2, 0.5)] {
        let found = kept(&[axis(&[0.0, middle, way], [-5.0, 5.0])]);
        let least = Profile::fastest(LIMITS.times(1.0 / way)).duration();
        let ratio = found.curves[0].duration() / least;
        assert!((1.0 - 1e-9..1.005).contains(&ratio), "{way} by {middle}: {ratio}");
    }
}

#[test]
fn some_limit_is_met_nearly_all_the_time() {
    let axes = [
        axis(&[0.0, 1.0, 1.5, 0.2, -1.0], [-2.0, 2.0]),
        Through { limits: LIMITS.times(20.0), ..axis(&[10.0, -20.0, 5.0, 30.0, 0.0], [-40.0, 40.0]) },
        axis(&[0.0, 0.1, 0.7, 0.8, 0.9], [-2.0, 2.0]),
    ];
    let busy = busy(&axes, &kept(&axes));
    assert!(busy > 0.9, "{busy}");
}

/// With room the fairest way swings out past its marks; without, it is bent, and still passes them.
#[test]
fn a_way_that_would_leave_the_travel_is_bent() {
    let reach = |travel: [f64; 2]| {
        let axes = [axis(&[0.0, 0.9, 0.9, 0.0], travel), axis(&[0.0, 0.1, 0.9, 1.0], [-2.0, 2.0])];
        let curve = kept(&axes).curves.remove(0);
        curve.positions(0.0, curve.duration()).high
    };
    let (free, bent) = (reach([-2.0, 2.0]), reach([-2.0, 0.96]));
    assert!(free > 0.97 && bent > 0.9 && bent <= 0.96, "{free}, {bent}");
    // At the very edge it turns: there it stands for an instant.
    let way = kept(&[axis(&[0.0, 1.0, 0.5], [0.0, 1.0]), axis(&[0.0, 0.5, 1.0], [0.0, 1.0])]);
    assert_eq!(way.curves[0].at(way.times[1]).speed, 0.0);
    assert!(way.curves[1].at(way.times[1]).speed > 0.1);
}

/// What a mark leaves out is anywhere there, on the fairest way.
#[test]
fn an_axis_that_a_mark_leaves_out_is_not_bound_by_it() {
    let mut axes = [axis(&[0.0, 1.0, 0.5], [-2.0, 2.0]), axis(&[0.0, 0.0, 1.0], [-2.0, 2.0])];
    axes[1].at[1] = None;
    let way = kept(&axes);
    let there = way.curves[1].at(way.times[1]).position;
    assert!(there > 0.2 && there < 0.8, "{there}");
    assert!(way.curves[1].turns().is_empty());
}

#[test]
fn a_mark_where_it_already_is_adds_nothing() {
    let once = kept(&[axis(&[0.0, 1.0, 0.5], [-2.0, 2.0])]);
    let again = kept(&[axis(&[0.0, 0.0, 1.0, 1.0, 0.5, 0.5], [-2.0, 2.0])]);
    assert_eq!(once.curves, again.curves);
    assert_eq!(again.times, [0, 0, 1, 1, 2, 2].map(|node: usize| once.times[node]));
    assert_eq!(through(&[axis(&[0.0, 0.0, 1.0], [-2.0, 2.0])]), None);
    assert_eq!(through(&[axis(&[1.0, 1.0, 1.0], [-2.0, 2.0])]), None);
    assert!(
        kept(&[axis(&[1.0, 0.5, 1.0], [-2.0, 2.0]), axis(&[0.3; 3], [-2.0, 2.0])]).curves[1].peaks().speed == 0.0
    );
}

fn any_axis(marks: usize) -> impl Strategy<Value = Through> {
    let decade = || (-3.0..3.0_f64).prop_map(|decade| 10_f64.powf(decade));
    // Also at the very ends of the travel, twice the same, and not named.
    let place = prop_oneof![4 => 0.0..1.0_f64, 1 => Just(0.0), 1 => Just(1.0), 1 => Just(0.25)];
    let between = proptest::collection::vec(prop_oneof![5 => place.clone().prop_map(Some), 1 => Just(None)], marks);
    (place.clone(), between, place, [decade(), decade(), decade(), decade()], -100.0..100.0_f64).prop_map(
        |(start, between, end, [span, speed, acceleration, jerk], low)| {
            let at = [Some(start)].into_iter().chain(between).chain([Some(end)]);
            let at = at.map(|at| at.map(|part| if part == 1.0 { low + span } else { low + part * span }));
            Through { at: at.collect(), limits: Ceiling { speed, acceleration, jerk }, travel: [low, low + span] }
        },
    )
}

/// Legs between two named marks that some axis needs more than next to no time for.
fn legs_that_go(axes: &[Through]) -> usize {
    let spans = axes.iter().map(|axis| (axis.travel[1] - axis.travel[0]) / axis.limits.speed);
    let longest = spans.fold(0.0, f64::max);
    let goes = |leg: usize| {
        axes.iter().any(|axis| match [axis.at[leg], axis.at[leg + 1]] {
            [Some(from), Some(to)] => (to - from).abs() / axis.limits.speed > 1e-10 * longest,
            [_, _] => false,
        })
    };
    (0..axes[0].at.len() - 1).filter(|&leg| goes(leg)).count()
}

proptest! {
    #![proptest_config(Config::with_cases(100))]
    /// Over six decades of travel and of each limit.
    #[test]
    fn whatever_the_limits_every_limit_is_kept(axes in (1..6_usize).prop_flat_map(|marks| proptest::collection::vec(any_axis(marks), 1..4))) {
        // With one leg at most it goes straight, which is planned elsewhere.
        if legs_that_go(&axes) > 1 || through(&axes).is_some() {
            kept(&axes);
        }
    }
}

/// Found by chance: marks at the very edges of the travel, two of them alike, beside another axis.
#[test]
fn marks_at_the_edges_of_the_travel_have_a_way_too() {
    let slow = Ceiling { speed: 0.005_709_380_528_489_311, acceleration: 1.0, jerk: 1.0 };
    let first =
        Through { limits: slow, ..axis(&[0.0, 0.0, 0.0, 0.105_664_198_420_873_31, 1.0, 1.0, 0.0], [0.0, 1.0]) };
    let at = [
        60.616_199_106_347_494,
        60.623_313_378_588_946,
        60.617_977_674_407_854,
        60.616_199_106_347_494,
        60.623_303_127_384_055,
        60.618_908_048_593_99,
        60.617_977_674_407_854,
    ];
    let limits = Ceiling { speed: 0.007, acceleration: 959.0, jerk: 0.003 };
    kept(&[first, Through { limits, ..axis(&at, [60.616_199_106_347_494, 60.623_313_378_588_946]) }]);
}
