use glam::DVec3;
use proptest::prelude::*;

use super::*;
use crate::proof::fixture::plan;
use crate::show::Unit;
use crate::stage::fixture::{add_axis, add_rig, empty_show, slide, sphere, turn};
use crate::stage::gap;
use crate::stage::random::{add_links, links, own};

const MARGIN: f64 = 0.2;

/// As much work as it takes, in portions.
fn proved(show: &Show, cue: &CuePlan, part: [f64; 2], standing: Standing, portion: usize) -> LiveProof {
    let mut proof = LiveProof::new(show);
    proof.begin(show, cue, part, standing);
    while proof.advance(cue, portion) == Verdict::Working {}
    proof
}

/// The least distance of the bodies of one rig from those of others that a joint carries.
fn distance(stage: &Stage, rig: RigId, pose: &[f64]) -> f64 {
    let none = vec![0.0; pose.len()];
    let mut frames = Vec::new();
    stage.frames(pose, &mut frames);
    let strays = Strays { motion: &none, tolerance: &none };
    let sweep = |body: &Body| stage.sweep(body, &frames, strays);
    let of_rig: Vec<Sweep> = stage.bodies().iter().filter(|body| body.rig == rig).map(sweep).collect();
    let others = stage.bodies().iter().filter(|body| body.rig != rig && !body.carriers.is_empty());
    let nearest = |other: &Body| {
        let other = sweep(other);
        of_rig.iter().map(|one| gap(&one.solid, &other.solid).distance.max(0.0)).fold(f64::INFINITY, f64::min)
    };
    others.map(nearest).fold(f64::INFINITY, f64::min)
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(96))]

    /// Two rigs are moved by a cue and one is not; wherever that stands within its bounds, no sample comes too near if
    /// nothing was found to; what was found is there; and how the work is portioned changes nothing.
    #[test]
    fn no_sample_within_the_bounds_comes_nearer_than_is_proved(
        rigs in prop::collection::vec((links(), prop::array::uniform3(-2.5..2.5_f64)), 3),
        from in prop::collection::vec(-1.0..1.0_f64, 12),
        way in prop::collection::vec(0.2..1.5_f64, 12),
        off in prop::collection::vec(prop::array::uniform3(-1.0..1.0_f64), 12),
        bounds in prop::sample::select(vec![0.0, 0.05, 0.4]),
        part in prop::sample::select(vec![[0.0, 4.0], [0.0, 1.5], [1.5, 4.0]]),
        portion in 1..200_usize,
    ) {
        let mut show = empty_show();
        show.settings.margin = MARGIN;
        for (links, at) in &rigs {
            add_rig(&mut show, DVec3::from(*at) * 2.0, 20.0, None);
            add_links(&mut show, links);
        }
        for axis in &mut show.axes {
            axis.tolerance = own(axis, 0.01);
        }
        let each = |of: &dyn Fn(usize) -> f64| -> Vec<f64> {
            show.axes.iter().enumerate().map(|(index, axis)| own(axis, of(index))).collect()
        };
        let (at, end, strays) = (each(&|i| from[i]), each(&|i| from[i] + way[i]), each(&|_| bounds));
        let mut cue = plan(&show, 4.0, &at, &end);
        let still = RigId::new(2);
        cue.moves.retain(|step| step.rig != still);
        let standing = Standing { at: &at, strays: &strays, rigs: &[false, false, true] };
        let proof = proved(&show, &cue, part, standing, usize::MAX);
        prop_assert_eq!(proof.verdict(), proved(&show, &cue, part, standing, portion).verdict());
        prop_assert_eq!(proof.verdict(), proof.beside(still));

        let stage = Stage::new(&show);
        let near = |pose: &[f64]| distance(&stage, still, pose);
        let mut pose = at.clone();
        for (step, corner) in (0..=40).zip([0, 1, 2].into_iter().cycle()) {
            let time = part[0] + (part[1] - part[0]) * f64::from(step) / 40.0;
            cue.pose_at(time, &mut pose);
            for axis in show.rig(still).axis_ids() {
                pose[axis.index()] += off[axis.index()][corner] * strays[axis.index()];
            }
            for (index, axis) in show.axes.iter().enumerate() {
                pose[index] += off[index][2 - corner] * axis.tolerance;
            }
            let distance = near(&pose);
            if let Verdict::Clear { by } = proof.verdict() {
                prop_assert!(by >= MARGIN - SLACK && distance >= by - 1e-9, "{distance} at {time} s, {by}");
            }
        }
        if let Verdict::Near(approach) = proof.verdict() {
            prop_assert!((part[0]..=part[1]).contains(&approach.time) && approach.parties[1].rig() == Some(still));
            cue.pose_at(approach.time, &mut pose);
            // The tolerances may take off 1 cm or so at each joint.
            let distance = near(&pose);
            prop_assert!(distance >= approach.distance - 1e-9 && distance < MARGIN + 0.6, "{distance}, {approach:?}");
        }
    }
}

/// A boom that passes a ball on a rail of its own across its way, 4 m along.
fn boom() -> (Show, CuePlan) {
    let mut show = empty_show();
    show.settings.margin = MARGIN;
    for across in [0.0, 0.0] {
        add_rig(&mut show, DVec3::new(0.0, across, 0.0), 0.0, None);
        let direction = if show.rigs.len() == 1 { DVec3::X } else { DVec3::Y };
        add_axis(&mut show, Unit::Metre, slide(direction, DVec3::ZERO), vec![sphere(DVec3::ZERO)]);
    }
    show.rigs[1].at = DVec3::new(4.0, 0.0, 0.0);
    show.axes.iter_mut().for_each(|axis| axis.tolerance = 0.0);
    let mut cue = plan(&show, 8.0, &[0.0, 0.0], &[8.0, 0.0]);
    cue.moves.truncate(1);
    (show, cue)
}

fn beside(ball: f64, stray: f64, part: [f64; 2]) -> Verdict {
    let (show, cue) = boom();
    let standing = Standing { at: &[0.0, ball], strays: &[0.0, stray], rigs: &[false, true] };
    proved(&show, &cue, part, standing, 7).verdict()
}

#[test]
fn only_what_is_left_of_the_cue_counts() {
    // The profile of the fixture goes 1 m in each of its 8 s but for what it takes to begin and end.
    let (_, cue) = boom();
    let passes = |time: f64| cue.moves[0].at(&cue.moves[0].axes[0], time).position;
    let past = (0..800).map(|step| f64::from(step) / 100.0).find(|&time| passes(time) > 4.5).unwrap();
    assert!(matches!(beside(0.0, 0.0, [0.0, 8.0]), Verdict::Near(Approach { distance: 0.0, .. })));
    assert!(matches!(beside(0.0, 0.0, [past, 8.0]), Verdict::Clear { by } if by > 0.29));
    // On its way back it comes by.
    assert!(matches!(beside(0.0, 0.0, [0.0, past]), Verdict::Near(_)));
}

#[test]
fn what_stands_is_given_all_of_its_bounds() {
    // Two radii and the margin are 0.4 m.
    assert!(matches!(beside(0.41, 0.0, [0.0, 8.0]), Verdict::Clear { by } if (0.2..=0.21 + 1e-9).contains(&by)));
    assert!(matches!(beside(0.5, 0.09, [0.0, 8.0]), Verdict::Clear { by } if (0.2..=0.21 + 1e-9).contains(&by)));
    assert!(!matches!(beside(0.5, 0.11, [0.0, 8.0]), Verdict::Clear { .. }));
    assert!(!matches!(beside(0.0, 0.39, [0.0, 8.0]), Verdict::Clear { .. }));
}

#[test]
fn each_rig_that_stands_is_told_by_itself() {
    let (mut show, _) = boom();
    add_rig(&mut show, DVec3::new(6.0, 0.0, 0.0), 0.0, None);
    add_axis(&mut show, Unit::Metre, slide(DVec3::Y, DVec3::ZERO), vec![sphere(DVec3::ZERO)]);
    show.axes[2].tolerance = 0.0;
    let mut cue = plan(&show, 8.0, &[0.0; 3], &[8.0, 0.0, 0.0]);
    cue.moves.truncate(1);
    let standing = Standing { at: &[0.0, 2.0, 0.3], strays: &[0.0; 3], rigs: &[false, true, true] };
    let proof = proved(&show, &cue, [0.0, 8.0], standing, 5);
    assert!(matches!(proof.beside(RigId::new(1)), Verdict::Clear { .. }));
    let Verdict::Near(approach) = proof.beside(RigId::new(2)) else { panic!() };
    assert!((approach.distance - 0.1).abs() < BRACKET, "{approach:?}");
    assert_eq!(proof.verdict(), Verdict::Near(approach));
}

#[test]
fn of_a_rig_that_a_stall_may_part_from_what_it_rides_on_nothing_is_proved() {
    let mut show = empty_show();
    add_rig(&mut show, DVec3::ZERO, 0.0, None);
    let wagon = add_axis(&mut show, Unit::Metre, slide(DVec3::X, DVec3::ZERO), vec![sphere(DVec3::ZERO)]);
    add_rig(&mut show, DVec3::ZERO, 0.0, Some(wagon));
    add_axis(&mut show, Unit::Degree, turn(DVec3::Z, DVec3::ZERO), vec![sphere(DVec3::X)]);
    add_rig(&mut show, DVec3::new(0.0, 50.0, 0.0), 0.0, None);
    add_axis(&mut show, Unit::Metre, slide(DVec3::X, DVec3::ZERO), vec![sphere(DVec3::ZERO)]);
    let mut cue = plan(&show, 4.0, &[0.0; 3], &[2.0, 40.0, 0.0]);
    cue.moves.truncate(2);
    let standing = Standing { at: &[0.0; 3], strays: &[0.0; 3], rigs: &[false, false, true] };
    assert_eq!(proved(&show, &cue, [0.0, 4.0], standing, 9).verdict(), Verdict::Unproved);
    // With the wagon alone under way what rides on it stays where it is on it.
    cue.moves.truncate(1);
    assert!(matches!(proved(&show, &cue, [0.0, 4.0], standing, 9).verdict(), Verdict::Clear { .. }));
}
