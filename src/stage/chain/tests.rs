use super::*;
use crate::stage::fixture::{add_axis, add_rig, empty_show, slide, sphere, turn};
use proptest::prelude::*;

fn vec(x: f64, y: f64, z: f64) -> DVec3 {
    DVec3::new(x, y, z)
}

/// The centres of all spheres at a pose.
fn centres(show: &Show, pose: &[f64]) -> Vec<DVec3> {
    let mut placed = Vec::new();
    Stage::new(show).place(pose, &mut placed);
    placed
        .iter()
        .map(|placed| match placed.shape {
            WorldShape::Sphere { at, .. } => at,
            WorldShape::Capsule { .. } | WorldShape::Box { .. } => panic!("only spheres here"),
        })
        .collect()
}

fn assert_close(found: DVec3, expected: DVec3) {
    assert!(found.distance(expected) < 1e-9, "found {found}, expected {expected}");
}

/// A jib 1 m high that faces upstage: swing about z, boom about −y with its tip 4 m out, and a head on the tip that
/// pans about z and carries a lens 0.5 m before it.
fn jib(level: bool) -> Show {
    let mut show = empty_show();
    add_rig(&mut show, vec(10.0, 0.0, 0.0), 90.0, None);
    add_axis(&mut show, Unit::Degree, turn(DVec3::Z, vec(0.0, 0.0, 1.0)), vec![]);
    let mut boom = turn(DVec3::NEG_Y, DVec3::ZERO);
    boom.as_mut().unwrap().level = level;
    add_axis(&mut show, Unit::Degree, boom, vec![sphere(vec(4.0, 0.0, 0.0))]);
    let pan = turn(DVec3::Z, vec(4.0, 0.0, 0.0));
    add_axis(&mut show, Unit::Degree, pan, vec![sphere(vec(0.5, 0.0, 0.0))]);
    show
}

#[test]
fn a_boom_that_turns_about_minus_y_rises_with_positive_values() {
    let [tip, lens] = centres(&jib(false), &[0.0, 30.0, 0.0])[..] else { panic!("two bodies") };
    // 4 m at 30 degrees: 3.4641 m out along +y (the jib faces upstage), 2 m up from 1 m.
    assert_close(tip, vec(10.0, 12.0_f64.sqrt(), 3.0));
    // 4.5 m at 30 degrees.
    assert_close(lens, vec(10.0, 4.5 * 0.75_f64.sqrt(), 3.25));
}

#[test]
fn a_levelled_head_rides_on_the_tip_and_stays_level() {
    for boom in [-40.0, 0.0, 30.0, 75.0] {
        let [tip, lens] = centres(&jib(true), &[0.0, boom, 0.0])[..] else { panic!("two bodies") };
        assert_close(lens, tip + vec(0.0, 0.5, 0.0));
    }
    // Panned by 90 degrees it looks along −x, whatever the boom does.
    let [tip, lens] = centres(&jib(true), &[0.0, 30.0, 90.0])[..] else { panic!("two bodies") };
    assert_close(lens, tip + vec(-0.5, 0.0, 0.0));
}

#[test]
fn swing_turns_all_that_comes_after_it() {
    // Facing 90 and swung by −90: the arm lies along +x.
    let [tip, lens] = centres(&jib(true), &[-90.0, 0.0, 0.0])[..] else { panic!("two bodies") };
    assert_close(tip, vec(14.0, 0.0, 1.0));
    assert_close(lens, vec(14.5, 0.0, 1.0));
}

#[test]
fn two_whole_turns_are_none() {
    let mut show = empty_show();
    add_rig(&mut show, vec(0.0, 5.6, 0.0), 0.0, None);
    add_axis(&mut show, Unit::Degree, turn(DVec3::Z, DVec3::ZERO), vec![sphere(vec(0.0, 1.6, 1.5))]);
    assert_close(centres(&show, &[720.0])[0], vec(0.0, 7.2, 1.5));
    assert_close(centres(&show, &[810.0])[0], centres(&show, &[90.0])[0]);
    show.axes[0].unit = Unit::Turn;
    assert_close(centres(&show, &[2.25])[0], vec(-1.6, 5.6, 1.5));
}

#[test]
fn a_rig_on_a_wagon_rides_with_it_wherever_it_stands_in_the_list() {
    for wagon_first in [true, false] {
        let mut show = empty_show();
        let wagon_axis = AxisId::new(if wagon_first { 0 } else { 1 });
        let wagon = |show: &mut Show| {
            add_rig(show, vec(0.0, 1.0, 0.0), 90.0, None);
            add_axis(show, Unit::Metre, slide(DVec3::X, DVec3::ZERO), vec![]);
        };
        let rider = |show: &mut Show| {
            let rig = add_rig(show, vec(1.0, 0.0, 0.5), -90.0, Some(wagon_axis));
            show.rigs[rig.index()].bodies = vec![sphere(DVec3::ZERO)];
            add_axis(show, Unit::Millimetre, slide(DVec3::X, DVec3::ZERO), vec![sphere(DVec3::ZERO)]);
        };
        let pose = if wagon_first {
            wagon(&mut show);
            rider(&mut show);
            [3.0, 250.0]
        } else {
            rider(&mut show);
            wagon(&mut show);
            [250.0, 3.0]
        };
        let [base, slider] = centres(&show, &pose)[..] else { panic!("two bodies") };
        // The wagon faces upstage and has run 3 m; the rider stands 1 m before its middle and faces along +x.
        assert_close(base, vec(0.0, 5.0, 0.5));
        assert_close(slider, vec(0.25, 5.0, 0.5));
    }
}

#[test]
fn a_ring_turns_nothing() {
    let mut show = jib(false);
    add_axis(&mut show, Unit::Percent, None, vec![sphere(DVec3::ZERO)]);
    let near = centres(&show, &[0.0, 0.0, 0.0, 0.0]);
    assert_eq!(near, centres(&show, &[0.0, 0.0, 0.0, 100.0]));
    assert_close(near[2], vec(10.0, 4.0, 1.0));
}

#[test]
fn bodies_are_told_apart() {
    let mut show = jib(false);
    show.rigs[0].bodies = vec![sphere(DVec3::ZERO), sphere(DVec3::Z)];
    let mut placed = Vec::new();
    Stage::new(&show).place(&[0.0; 3], &mut placed);
    let names: Vec<_> = placed.iter().map(|body| (body.axis, body.body)).collect();
    assert_eq!(names, [(None, 0), (None, 1), (Some(AxisId(1)), 0), (Some(AxisId(2)), 0)]);
}

proptest! {
    /// The lens is 0.5 m from the tip, and the tip 4 m from the pivot, at every pose.
    #[test]
    fn arms_keep_their_lengths(swing in -720.0..720.0, boom in -180.0..180.0, pan in -720.0..720.0, level: bool) {
        let centres = centres(&jib(level), &[swing, boom, pan]);
        prop_assert!((centres[0].distance(centres[1]) - 0.5).abs() < 1e-9);
        prop_assert!((centres[0].distance(vec(10.0, 0.0, 1.0)) - 4.0).abs() < 1e-9);
        // Levelled, the lens is as high as the tip.
        if level {
            prop_assert!((centres[0].z - centres[1].z).abs() < 1e-9);
        }
    }
}
