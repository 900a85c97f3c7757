//! Thousands of seeded pairs of bodies, their distance written down for an outside reference if
//! `BELLWIRE_DISTANCE_CASES` names a file (`tests/outside/test_fcl.py` reads it).

use std::fmt::Write as _;

use bellwire::show::Shape;
use bellwire::stage::{Core, Frame, Solid, gap};
use glam::{DQuat, DVec3};
use proptest::prelude::*;
use proptest::strategy::ValueTree;
use proptest::test_runner::TestRunner;
use serde_json::{Value, json};

const PAIRS: usize = 6000;

fn vector(size: f64) -> impl Strategy<Value = DVec3> {
    prop::array::uniform3(-size..size).prop_map(DVec3::from)
}

fn shape() -> impl Strategy<Value = Shape> {
    let capsule =
        (vector(4.0), vector(4.0), 0.01..0.5).prop_map(|(from, to, radius)| Shape::Capsule { from, to, radius });
    let sphere = (vector(1.0), 0.05..1.0).prop_map(|(at, radius)| Shape::Sphere { at, radius });
    let size = prop::array::uniform3(prop_oneof![0.02..0.2_f64, 0.2..4.0_f64]);
    let block = (vector(1.0), size).prop_map(|(min, size)| Shape::Box { min, max: min + DVec3::from(size) });
    prop_oneof![capsule, sphere, block]
}

/// Turned anyhow, or by whole quarters, as most things on a stage stand: with parallel faces and edges.
fn frame() -> impl Strategy<Value = Frame> {
    let anyhow = prop::array::uniform4(-1.0..1.0_f64)
        .prop_filter("has a direction", |q| q.iter().map(|x| x * x).sum::<f64>() > 1e-3)
        .prop_map(|q| DQuat::from_array(q).normalize());
    let quarter = (0..4_u8).prop_map(|quarters| DQuat::from_rotation_z(f64::from(quarters).to_radians() * 90.0));
    (prop_oneof![anyhow, quarter], vector(2.0)).prop_map(|(turn, origin)| Frame { turn, origin })
}

fn solid() -> impl Strategy<Value = Solid> {
    (shape(), frame()).prop_map(|(shape, frame)| Solid::new(&shape, &frame))
}

fn written(solid: &Solid) -> Value {
    let points = |points: &[DVec3]| points.iter().map(DVec3::to_array).collect::<Vec<_>>();
    match solid.core {
        Core::Point(at) => json!({ "points": points(&[at]), "radius": solid.radius }),
        Core::Segment(ends) => json!({ "points": points(&ends), "radius": solid.radius }),
        Core::Block { centre, edges, half } => {
            let edges = [edges.x_axis, edges.y_axis, edges.z_axis];
            json!({ "centre": centre.to_array(), "edges": points(&edges), "half": half.to_array() })
        }
    }
}

#[test]
fn distances_of_pairs_are_written_down() {
    let mut runner = TestRunner::deterministic();
    let mut text = String::new();
    let mut apart = 0;
    for _ in 0..PAIRS {
        let (a, b) = (solid(), solid()).new_tree(&mut runner).unwrap().current();
        let found = gap(&a, &b);
        assert!(found.distance.is_finite());
        apart += usize::from(found.distance > 0.0);
        let case = json!({
            "a": written(&a), "b": written(&b), "distance": found.distance,
            "points": [found.points[0].to_array(), found.points[1].to_array()],
        });
        writeln!(text, "{case}").unwrap();
    }
    assert!((PAIRS / 4..PAIRS).contains(&apart), "{apart} pairs are apart");
    if let Ok(path) = std::env::var("BELLWIRE_DISTANCE_CASES") {
        std::fs::write(&path, text).unwrap_or_else(|error| panic!("{path}: {error}"));
    }
}
