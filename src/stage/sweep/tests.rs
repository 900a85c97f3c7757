use proptest::prelude::*;

use super::*;
use crate::show::{AxisId, Joint, JointKind, Shape, Show};
use crate::stage::fixture::{add_rig, empty_show};
use crate::stage::random::{Links, add_links, direction, links, own};
use crate::stage::{Core, Stage};

/// A rig of these links, and another that rides on one of its axes.
fn show_of(carrier: &Links, rider: &Links) -> Show {
    let mut show = empty_show();
    add_rig(&mut show, DVec3::new(1.0, 0.0, 0.0), 30.0, None);
    add_links(&mut show, carrier);
    let mount = AxisId::new(carrier.len() / 2);
    add_rig(&mut show, DVec3::new(0.0, 0.5, 0.0), -70.0, Some(mount));
    add_links(&mut show, rider);
    show
}

/// Ends or corners, which no other point of the core outruns.
fn points(core: &Core) -> Vec<DVec3> {
    match *core {
        Core::Point(at) => vec![at],
        Core::Segment(ends) => ends.to_vec(),
        Core::Block { centre, edges, half } => (0..8)
            .map(|bits: usize| {
                let sign = |bit: usize| if bits >> bit & 1 == 0 { -1.0 } else { 1.0 };
                centre + edges * (half * DVec3::new(sign(0), sign(1), sign(2)))
            })
            .collect(),
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(512))]

    /// With every joint anywhere within what it may stray, no point of any body is further than the bound, nor
    /// further along any direction.
    #[test]
    fn no_point_outruns_its_bound(
        carrier in links(),
        rider in links(),
        at in prop::collection::vec(-2.0..2.0_f64, 8),
        motion in prop::collection::vec(0.0..0.8_f64, 8),
        tolerance in prop::collection::vec(0.0..0.1_f64, 8),
        part in prop::collection::vec(-1.0..1.0_f64, 16),
        along in direction(),
    ) {
        let show = show_of(&carrier, &rider);
        let stage = Stage::new(&show);
        let each = |of: &dyn Fn(usize) -> f64| -> Vec<f64> {
            show.axes.iter().enumerate().map(|(index, axis)| own(axis, of(index))).collect()
        };
        let (pose, motion, tolerance) = (each(&|i| at[i]), each(&|i| motion[i]), each(&|i| tolerance[i]));
        let within = |shares: &dyn Fn(usize) -> (f64, f64)| -> Vec<f64> {
            let place = |i: usize| pose[i] + shares(i).0 * motion[i] + shares(i).1 * tolerance[i];
            (0..pose.len()).map(place).collect()
        };
        let strays = Strays { motion: &motion, tolerance: &tolerance };
        let sweeps_at = |pose: &[f64]| -> Vec<Sweep> {
            let mut frames = Vec::new();
            stage.frames(pose, &mut frames);
            stage.bodies().iter().map(|body| stage.sweep(body, &frames, strays)).collect()
        };
        let middle = sweeps_at(&pose);
        for shares in [&(|i: usize| (part[i], part[i + 8])) as &dyn Fn(usize) -> (f64, f64), &|i| {
            (part[i].signum(), part[i + 8].signum())
        }] {
            for (sweep, found) in middle.iter().zip(sweeps_at(&within(shares))) {
                for (before, after) in points(&sweep.solid.core).into_iter().zip(points(&found.solid.core)) {
                    let way = after - before;
                    prop_assert!(way.length() <= sweep.shift + sweep.growth + 1e-9);
                    prop_assert!(way.dot(along).abs() <= sweep.along(along) + 1e-9);
                }
            }
        }
        // By tolerance alone.
        for (sweep, found) in middle.iter().zip(sweeps_at(&within(&|i| (0.0, part[i + 8])))) {
            for (before, after) in points(&sweep.solid.core).into_iter().zip(points(&found.solid.core)) {
                prop_assert!((after - before).dot(along).abs() <= sweep.growth_along(along) + 1e-9);
                prop_assert!((after - before).length() <= sweep.growth + 1e-9);
            }
        }
    }
}

#[test]
fn what_no_joint_carries_does_not_move() {
    let links = |level: bool| {
        let at = DVec3::new(2.0, 0.0, 0.0);
        let turn = |at: DVec3| Some(Joint { kind: JointKind::Turn, direction: DVec3::NEG_Y, at, level });
        vec![
            (turn(DVec3::ZERO), Shape::Sphere { at, radius: 0.1 }),
            (turn(at), Shape::Sphere { at: DVec3::ZERO, radius: 0.1 }),
        ]
    };
    for level in [false, true] {
        let mut show = empty_show();
        add_rig(&mut show, DVec3::ZERO, 0.0, None);
        add_links(&mut show, &links(level));
        let stage = Stage::new(&show);
        let mut frames = Vec::new();
        stage.frames(&[0.0, 0.0], &mut frames);
        let sweep = |motion: &[f64]| {
            let strays = Strays { motion, tolerance: &[0.0, 0.0] };
            stage.sweep(&stage.bodies()[1], &frames, strays)
        };
        // The sphere at the tip is on its own axis; the boom swings it up and down, by the arc and no more.
        assert_eq!(sweep(&[0.0, 30.0]).shift, 0.0);
        let arc = 2.0 * 1.0_f64.to_radians();
        assert!((sweep(&[1.0, 0.0]).shift - arc).abs() < 1e-12);
        assert!(sweep(&[1.0, 0.0]).along(DVec3::Y) < 1e-12);
        assert!(sweep(&[1.0, 0.0]).along(DVec3::X) < 1e-3);
        assert!((sweep(&[1.0, 0.0]).along(DVec3::Z) - arc).abs() < 1e-3);
    }
}
