//! Thousands of seeded cases of motion: each passes the verifier here, and is written down for an outside reference
//! if `BELLWIRE_MOTION_CASES` names a file (`tests/outside/test_ruckig.py` reads it).

use std::fmt::Write as _;

use bellwire::motion::{Ceiling, Profile, Ramp, verify_profile, verify_ramp};
use bellwire::show::Limits;
use proptest::prelude::*;
use proptest::strategy::ValueTree;
use proptest::test_runner::TestRunner;
use serde_json::json;

const MOVES: usize = 4000;
const SPEED_CHANGES: usize = 4000;

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

#[test]
fn every_case_passes_the_verifier_and_is_written_down() {
    let moves = samples(&prop::collection::vec(axis(), 1..6), MOVES);
    let to = prop_oneof![Just(0.0), -20.0..20.0_f64];
    let changes = samples(&(-20.0..20.0_f64, -1.0..1.0_f64, to, magnitude(), magnitude()), SPEED_CHANGES);
    // No move lasts an hour, and the reference gives up on those that last two.
    let lasts = |case: &serde_json::Value| case["duration"].as_f64().is_some_and(|time| time < 3600.0);
    let moves: Vec<_> = moves.iter().map(|axes| straight_move(axes)).filter(lasts).collect();
    assert!(moves.len() > MOVES / 2);
    let cases = moves.into_iter().chain(changes.into_iter().map(speed_change));
    let mut text = String::new();
    for case in cases {
        writeln!(text, "{case}").unwrap();
    }
    if let Ok(path) = std::env::var("BELLWIRE_MOTION_CASES") {
        std::fs::write(&path, text).unwrap_or_else(|error| panic!("{path}: {error}"));
    }
}
