//! Thousands of seeded cases of motion: each passes the verifier here, and is written down for an outside reference
//! if `BELLWIRE_MOTION_CASES` or `BELLWIRE_PASSAGE_CASES` names a file (`tests/outside/test_ruckig.py`,
//! `test_through.py` and `test_passages.py` read them). `BELLWIRE_PASSAGES` is the number of passages, if a million is wanted.

use std::fmt::Write as _;

use bellwire::motion::{
    Bounds, Ceiling, Passage, Path, Profile, Ramp, Range, State, Through, Verified, through, verify_curve,
    verify_profile, verify_ramp,
};
use bellwire::show::Limits;
use proptest::prelude::*;
use proptest::strategy::ValueTree;
use proptest::test_runner::TestRunner;
use serde_json::json;

const MOVES: usize = 4000;
const SPEED_CHANGES: usize = 4000;
const PASSAGES: usize = 4000;
const WAYS: usize = 200;

/// From a hundredth to a hundred, evenly over the decades, or a round number.
fn magnitude() -> impl Strategy<Value = f64> {
    prop_oneof![(-2.0..2.0_f64).prop_map(|decade| 10_f64.powf(decade)), (1..20_u8).prop_map(|n| f64::from(n) / 2.0)]
}

fn axis() -> impl Strategy<Value = (f64, Limits)> {
    let limits = (magnitude(), magnitude(), magnitude()).prop_map(|(speed, acceleration, jerk)| Limits {
        speed,
        acceleration,
        jerk,
    });
    (prop_oneof![magnitude(), magnitude().prop_map(|way| -way)], limits)
}

fn samples<S: Strategy>(strategy: &S, count: usize) -> Vec<S::Value> {
    let mut runner = TestRunner::deterministic();
    (0..count).map(|_| strategy.new_tree(&mut runner).unwrap().current()).collect()
}

fn straight_move(axes: &[(f64, Limits)]) -> serde_json::Value {
    let each = axes.iter().map(|&(way, limits)| Ceiling::over(limits, way));
    let ceiling = each.reduce(Ceiling::least).unwrap();
    let profile = Profile::fastest(ceiling);
    assert_eq!(verify_profile(&profile, ceiling), Ok(()), "{axes:?}");
    let axes: Vec<_> = axes
        .iter()
        .map(|(way, limits)| {
            json!({ "delta": way, "speed": limits.speed, "acceleration": limits.acceleration, "jerk": limits.jerk })
        })
        .collect();
    json!({ "kind": "move", "axes": axes, "duration": profile.duration() })
}

fn speed_change((v0, a0, v1, limit, jerk): (f64, f64, f64, f64, f64)) -> serde_json::Value {
    // Within its limit at the start, as the outside reference asks.
    let a0 = a0 * limit;
    let ramp = Ramp::new(v0, a0, v1, limit, jerk);
    assert_eq!(verify_ramp(&ramp, limit, jerk), Ok(()));
    json!({
        "kind": "speed-change", "v0": v0, "a0": a0, "v1": v1, "acceleration": limit, "jerk": jerk,
        "time": ramp.duration(), "distance": ramp.distance(),
    })
}

/// Axes of machines as they are: full speed takes them through their travel in 2 to 20 s, is reached in 0.3 to 3 s, and its
/// acceleration in 0.1 to 1 s.
fn through_axis(marks: usize) -> impl Strategy<Value = Through> {
    let places = prop::collection::vec(-0.9..0.9_f64, marks + 2);
    let times = [0.3..1.3_f64, -0.5..0.5, -1.0..0.0].map(|decade| decade.prop_map(|decade| 10_f64.powf(decade)));
    (places, times, magnitude()).prop_map(|(places, [across, rise, onset], span)| {
        let (speed, acceleration) = (2.0 * span / across, 2.0 * span / across / rise);
        Through {
            at: places.iter().map(|place| Some(place * span)).collect(),
            limits: Ceiling { speed, acceleration, jerk: acceleration / onset },
            travel: [-span, span],
        }
    })
}

fn way_through(axes: &[Through]) -> serde_json::Value {
    let way = through(axes).unwrap();
    let axes = axes.iter().zip(&way.curves).map(|(axis, curve)| {
        assert_eq!(verify_curve(curve, axis.limits), Ok(()), "{axes:?}");
        let path: Vec<f64> = curve.knots().iter().map(|knot| knot.state.position).collect();
        json!({ "speed": axis.limits.speed, "acceleration": axis.limits.acceleration, "path": path })
    });
    let axes: Vec<_> = axes.collect();
    let times: Vec<f64> = way.curves[0].knots().iter().map(|knot| knot.time).collect();
    json!({ "kind": "through", "axes": axes, "times": times, "duration": way.curves[0].duration() })
}

#[test]
fn every_case_passes_the_verifier_and_is_written_down() {
    let moves = samples(&prop::collection::vec(axis(), 1..6), MOVES);
    let to = prop_oneof![Just(0.0), -20.0..20.0_f64];
    let changes = samples(&(-20.0..20.0_f64, -1.0..1.0_f64, to, magnitude(), magnitude()), SPEED_CHANGES);
    // No move lasts an hour, and the reference gives up on those that last two.
    let lasts = |case: &serde_json::Value| case["duration"].as_f64().is_some_and(|time| time < 3600.0);
    let moves: Vec<_> = moves.iter().map(|axes| straight_move(axes)).filter(lasts).collect();
    assert!(moves.len() > MOVES / 2);
    let axes = (1..5_usize).prop_flat_map(|marks| prop::collection::vec(through_axis(marks), 1..4));
    let ways = samples(&axes, WAYS);
    let ways = ways.iter().map(|axes| way_through(axes));
    let cases = moves.into_iter().chain(changes.into_iter().map(speed_change)).chain(ways);
    let mut text = String::new();
    for case in cases {
        writeln!(text, "{case}").unwrap();
    }
    if let Ok(path) = std::env::var("BELLWIRE_MOTION_CASES") {
        std::fs::write(&path, text).unwrap_or_else(|error| panic!("{path}: {error}"));
    }
}

/// A passage between two moving states: what kind of case it is, both ends, and the bounds.
type Ends = (&'static str, State, State, Bounds);

/// Sizes of limits, shares of them and positions, all of one kind.
fn passages_of(
    kind: &'static str,
    size: BoxedStrategy<f64>,
    share: BoxedStrategy<f64>,
    position: BoxedStrategy<f64>,
    outside: f64,
    unequal: bool,
) -> BoxedStrategy<Ends> {
    let way = move || (size.clone(), size.clone()).prop_map(move |(a, b)| if unequal { (a, b) } else { (a, a) });
    let shares = prop::array::uniform4(share);
    // The outside reference knows no unequal jerk.
    let limits = (way(), way(), way().prop_map(|(jerk, _)| (jerk, jerk)));
    (limits, shares, position.clone(), position)
        .prop_map(move |((speed, acceleration, jerk), [v0, a0, v1, a1], from, to)| {
            let of = |share: f64, (least, most): (f64, f64)| if share < 0.0 { share * least } else { share * most };
            let span = |(least, most): (f64, f64)| Range { low: -least, high: most };
            let bounds = Bounds::new(span(speed), span(acceleration), span(jerk)).unwrap();
            let begin = |share: f64| share * outside;
            let from =
                State { position: from, speed: of(begin(v0), speed), acceleration: of(begin(a0), acceleration) };
            let to = State { position: to, speed: of(v1, speed), acceleration: of(a1, acceleration) };
            (kind, from, to, bounds)
        })
        .boxed()
}

fn passages() -> impl Strategy<Value = Ends> {
    let decades = |most: f64| (-most..most).prop_map(|decade| 10_f64.powf(decade)).boxed();
    let share = || prop_oneof![1 => Just(0.0), 3 => -1.0..1.0_f64].boxed();
    let way = || (-20.0..20.0_f64).boxed();
    let quarters = |most: i32| (-most..=most).prop_map(|n| f64::from(n) / 4.0);
    let round_size = || prop::sample::select(vec![0.25, 0.5, 1.0, 2.0, 3.0, 4.0]).boxed();
    let round_share = || prop_oneof![1 => Just(0.0), 3 => quarters(4)].boxed();
    let round_way = || quarters(16).boxed();
    let far = || (-3.0..3.0_f64, prop::bool::ANY).prop_map(|(d, up)| 10_f64.powf(d) * if up { 1.0 } else { -1.0 });
    prop_oneof![
        3 => passages_of("ordinary", decades(1.0), share(), way(), 1.0, false),
        3 => passages_of("round", round_size(), round_share(), round_way(), 1.0, false),
        2 => passages_of("outside", decades(1.0), share(), way(), 2.0, false),
        2 => passages_of("round-outside", round_size(), round_share(), round_way(), 2.0, false),
        1 => passages_of("unequal", decades(1.0), share(), way(), 1.0, true),
        1 => passages_of("round-unequal", round_size(), round_share(), round_way(), 2.0, true),
        1 => passages_of("wide", decades(3.0), share(), far().boxed(), 1.0, false),
    ]
}

/// Kind, both ends, bounds (speed, acceleration, jerk), duration, then the pieces as time and jerk.
fn write_passage(text: &mut String, (kind, from, to, bounds): &Ends, passage: &Passage) {
    let Range { low: least, high: most } = bounds.speed();
    let (pull, jerk) = (bounds.acceleration(), bounds.jerk().high);
    let ends = [*from, *to].map(|end| format!("{} {} {}", end.position, end.speed, end.acceleration)).join(" ");
    write!(text, "{kind} {ends} {least} {most} {} {} {jerk} {}", pull.low, pull.high, passage.duration()).unwrap();
    for (begin, time) in passage.pieces().filter(|(_, time)| *time > 0.0) {
        write!(text, " {time} {}", begin.jerk).unwrap();
    }
    text.push('\n');
}

#[test]
fn every_passage_passes_the_verifier_and_is_written_down() {
    let count = std::env::var("BELLWIRE_PASSAGES").map_or(PASSAGES, |count| count.parse().unwrap());
    let strategy = passages();
    let mut runner = TestRunner::deterministic();
    let (mut text, mut planned) = (String::new(), 0);
    while planned < count {
        let case = strategy.new_tree(&mut runner).unwrap().current();
        let (_, from, to, bounds) = case;
        // Some targets would break a speed limit before or after.
        if let Ok(plan) = Passage::verified(from, to, &bounds) {
            let Verified::Arrives(passage) = plan else { panic!("{case:?}: {plan:?}") };
            write_passage(&mut text, &case, &passage);
            planned += 1;
        }
    }
    if let Ok(path) = std::env::var("BELLWIRE_PASSAGE_CASES") {
        std::fs::write(&path, text).unwrap_or_else(|error| panic!("{path}: {error}"));
    }
}
