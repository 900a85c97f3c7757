use glam::DQuat;
use proptest::prelude::*;

use super::*;
use crate::show::Shape;
use crate::stage::Frame;

fn vector(size: f64) -> impl Strategy<Value = DVec3> {
    prop::array::uniform3(-size..size).prop_map(DVec3::from)
}

fn frame() -> impl Strategy<Value = Frame> {
    let turn = prop::array::uniform4(-1.0..1.0_f64)
        .prop_filter("has a direction", |q| q.iter().map(|x| x * x).sum::<f64>() > 1e-3)
        .prop_map(|q| DQuat::from_array(q).normalize());
    (turn, vector(3.0)).prop_map(|(turn, origin)| Frame { turn, origin })
}

fn shape() -> impl Strategy<Value = Shape> {
    let capsule =
        (vector(2.0), vector(2.0), 0.0..0.5).prop_map(|(from, to, radius)| Shape::Capsule { from, to, radius });
    let sphere = (vector(2.0), 0.0..1.0).prop_map(|(at, radius)| Shape::Sphere { at, radius });
    let block = (vector(2.0), prop::array::uniform3(0.01..2.0))
        .prop_map(|(min, size)| Shape::Box { min, max: min + DVec3::from(size) });
    prop_oneof![capsule, sphere, block]
}

fn solid() -> impl Strategy<Value = Solid> {
    (shape(), frame()).prop_map(|(shape, frame)| Solid::new(&shape, &frame))
}

/// The nearest point of a convex body to a point.
fn onto(core: &Core, point: DVec3) -> DVec3 {
    match core {
        Core::Point(at) => *at,
        Core::Segment(ends) => of_segments([point, point], *ends)[1],
        Core::Block { centre, edges, half } => {
            Block { centre: *centre, edges: *edges, half: *half }.nearest_to(point)
        }
    }
}

proptest! {
    /// Each point is the nearest of its core to the other, which for convex bodies is the nearest pair: both lie in
    /// the half-spaces across the way between them.
    #[test]
    fn the_points_are_nearest_to_each_other(a in solid(), b in solid()) {
        let found = gap(&a, &b);
        let [p, q] = found.points;
        prop_assert!(onto(&a.core, p).distance(p) < 1e-9 && onto(&b.core, q).distance(q) < 1e-9);
        if let Some(direction) = found.direction {
            let ahead = |core: &Core, along: DVec3| core.centre().dot(along) + core.reach(along);
            prop_assert!(ahead(&a.core, direction) <= p.dot(direction) + 1e-8);
            prop_assert!(ahead(&b.core, -direction) <= q.dot(-direction) + 1e-8);
        }
    }

    #[test]
    fn it_is_the_same_seen_from_the_other(a in solid(), b in solid()) {
        prop_assert!((gap(&a, &b).distance - gap(&b, &a).distance).abs() < 1e-9);
    }

    /// Moving one body by so much changes the distance by no more: what the whole proof stands on.
    #[test]
    fn it_changes_no_faster_than_the_bodies_move(
        shape in shape(), frame in frame(), by in vector(0.5), b in solid(),
    ) {
        let moved = Frame { origin: frame.origin + by, ..frame };
        let (before, after) = (gap(&Solid::new(&shape, &frame), &b), gap(&Solid::new(&shape, &moved), &b));
        prop_assert!((before.distance - after.distance).abs() <= by.length() + 1e-9);
    }
}

fn bar(from: [f64; 3], to: [f64; 3]) -> Solid {
    Solid { core: Core::Segment([DVec3::from(from), DVec3::from(to)]), radius: 0.0 }
}

fn cube(at: [f64; 3]) -> Solid {
    Solid::upright(DVec3::from(at) - 0.5, DVec3::from(at) + 0.5)
}

#[test]
fn known_distances() {
    let cases: [(Solid, Solid, f64); 9] = [
        // Crossed, parallel, end to end, end to side.
        (bar([-1.0, 0.0, 0.0], [1.0, 0.0, 0.0]), bar([0.0, -1.0, 0.7], [0.0, 1.0, 0.7]), 0.7),
        (bar([0.0, 0.0, 0.0], [4.0, 0.0, 0.0]), bar([1.0, 3.0, 4.0], [9.0, 3.0, 4.0]), 5.0),
        (bar([0.0, 0.0, 0.0], [1.0, 0.0, 0.0]), bar([3.0, 0.0, 0.0], [9.0, 0.0, 0.0]), 2.0),
        (bar([0.0, 2.0, 0.0], [0.0, 9.0, 0.0]), bar([-5.0, 0.0, 0.0], [5.0, 0.0, 0.0]), 2.0),
        // Face to face, edge to edge (parallel), corner to corner.
        (cube([0.0; 3]), cube([3.0, 0.2, 0.1]), 2.0),
        (cube([0.0; 3]), cube([4.0, 5.0, 0.3]), 5.0),
        (cube([0.0; 3]), cube([3.0, 3.0, 3.0]), 12.0_f64.sqrt()),
        // One box within another; a bar through a box.
        (Solid::upright(DVec3::splat(-3.0), DVec3::splat(3.0)), cube([0.1, 0.2, 0.3]), 0.0),
        (bar([-5.0, 0.1, 0.2], [5.0, 0.1, 0.2]), cube([0.0; 3]), 0.0),
    ];
    for (a, b, expected) in cases {
        for found in [gap(&a, &b).distance, gap(&b, &a).distance] {
            assert!((found - expected).abs() < 1e-12, "{a:?} {b:?}: expected {expected}, found {found}");
        }
    }
}

#[test]
fn edges_that_cross_in_the_air_are_nearest_at_the_crossing() {
    let eighth = Frame::WORLD.moved(DVec3::new(0.0, 0.0, 5.0)).turned(DVec3::X, std::f64::consts::FRAC_PI_4);
    let lying = Frame::WORLD.turned(DVec3::Y, std::f64::consts::FRAC_PI_4);
    let shape = Shape::Box { min: DVec3::splat(-1.0), max: DVec3::splat(1.0) };
    let found = gap(&Solid::new(&shape, &lying), &Solid::new(&shape, &eighth));
    assert!((found.distance - (5.0 - 2.0 * 2.0_f64.sqrt())).abs() < 1e-12, "{found:?}");
}
