//! Random rigs, for the tests of this room and the rooms below.

use glam::DVec3;
use proptest::prelude::*;

use super::fixture::add_axis;
use crate::show::{Axis, Displacement, Joint, JointKind, Metres, Radians, Shape, Show, Unit};

pub fn vector(size: f64) -> impl Strategy<Value = DVec3> {
    prop::array::uniform3(-size..size).prop_map(DVec3::from)
}

pub fn direction() -> impl Strategy<Value = DVec3> {
    vector(1.0).prop_filter("has a direction", |v| v.length() > 0.1).prop_map(DVec3::normalize)
}

fn joint() -> impl Strategy<Value = Option<Joint>> {
    let kind = prop_oneof![Just(JointKind::Turn), Just(JointKind::Slide)];
    let joint = (kind, direction(), vector(2.0), any::<bool>())
        .prop_map(|(kind, direction, at, level)| Some(Joint { kind, direction, at, level }));
    prop_oneof![1 => Just(None), 6 => joint]
}

fn body() -> impl Strategy<Value = Shape> {
    let capsule = (vector(1.0), vector(1.0)).prop_map(|(from, to)| Shape::Capsule { from, to, radius: 0.1 });
    let sphere = vector(1.0).prop_map(|at| Shape::Sphere { at, radius: 0.2 });
    let block = (vector(1.0), vector(1.0)).prop_map(|(a, b)| Shape::Box { min: a.min(b), max: a.max(b) });
    prop_oneof![capsule, sphere, block]
}

/// The axes of a rig, each with what hangs on it.
pub type Links = Vec<(Option<Joint>, Shape)>;

pub fn links() -> impl Strategy<Value = Links> {
    prop::collection::vec((joint(), body()), 1..5)
}

/// To the rig that was added last.
pub fn add_links(show: &mut Show, links: &Links) {
    for (joint, shape) in links {
        let unit = match joint.as_ref().map(|joint| joint.kind) {
            None => Unit::Percent,
            Some(JointKind::Turn) => Unit::Degree,
            Some(JointKind::Slide) => Unit::Millimetre,
        };
        add_axis(show, unit, joint.clone(), vec![shape.clone()]);
    }
}

/// In the axis's own unit, of so many metres or radians.
pub fn own(axis: &Axis, share: f64) -> f64 {
    match axis.unit.displacement(1.0) {
        Displacement::Slide(Metres(scale)) | Displacement::Turn(Radians(scale)) => share / scale,
        Displacement::None => share,
    }
}
