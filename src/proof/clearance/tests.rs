use glam::DVec3;
use proptest::prelude::*;

use super::search::Found;
use super::*;
use crate::proof::bodies::Stagehand;
use crate::proof::fixture::{plan, sampled};
use crate::proof::plan::CuePlan;
use crate::show::{AxisId, Keep, Pair, Place, RigId, Shape, Show, Unit, Zone};
use crate::stage::Stage;
use crate::stage::fixture::{add_axis, add_rig, empty_show, slide, turn};
use crate::stage::random::{add_links, links, own};

fn found(show: &Show, plan: &CuePlan) -> Found {
    clearance(&Stagehand::new(show), plan)
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(96))]

    /// No sample, wherever the tolerances put the axes, lies below what was proved; and what is told as the least is
    /// found where and when it is told.
    #[test]
    fn no_sample_lies_below_what_is_proved(
        rigs in prop::collection::vec((links(), prop::array::uniform3(-2.5..2.5_f64)), 2..4),
        from in prop::collection::vec(-1.0..1.0_f64, 12),
        way in prop::collection::vec(-1.5..1.5_f64, 12),
        moves in prop::collection::vec(any::<bool>(), 12),
        off in prop::collection::vec(-1.0..1.0_f64, 12),
        exact in any::<bool>(),
        margin in 0.0..0.5_f64,
    ) {
        let mut show = empty_show();
        show.settings.margin = margin;
        for (links, at) in &rigs {
            add_rig(&mut show, DVec3::from(*at) * 2.0, 20.0, None);
            add_links(&mut show, links);
        }
        for axis in &mut show.axes {
            axis.tolerance = if exact { 0.0 } else { own(axis, 0.01) };
        }
        let each = |of: &dyn Fn(usize) -> f64| -> Vec<f64> {
            show.axes.iter().enumerate().map(|(index, axis)| own(axis, of(index))).collect()
        };
        let start = each(&|i| from[i]);
        let end = each(&|i| from[i] + if moves[i] { way[i] } else { 0.0 });
        let plan = plan(&show, 4.0, &start, &end);
        // Only bodies that move are proved; here every rig's first axis does.
        let found = found(&show, &plan);
        let hand = Stagehand::new(&show);
        prop_assert_eq!(keeps_margins(&hand, &plan, &|_| true), found.short.is_empty());
        for short in &found.short {
            let same = |group: &Group| (group.rig, group.other) == (short.group.rig, short.group.other);
            prop_assert!(!keeps_margins(&hand, &plan, &same));
            let [alone] = &clearance_of(&hand, &plan, &same).short[..] else { panic!("{short:?}") };
            prop_assert!((alone.closest.value - short.closest.value).abs() <= BRACKET, "{alone:?}, {short:?}");
        }
        let Some(closest) = found.closest else { return Ok(()) };
        let stage = Stage::new(&show);
        let mut pose = start.clone();
        let everything_moves = show.rigs.iter().all(|rig| {
            let first = AxisId(rig.axes.start);
            moves[first.index()] && show.axis(first).joint.is_some()
        });
        for step in 0..=100 {
            plan.pose_at(0.04 * f64::from(step), &mut pose);
            for (position, (axis, off)) in pose.iter_mut().zip(show.axes.iter().zip(&off)) {
                *position += off * axis.tolerance;
            }
            let distance = sampled(&show, &stage, &pose);
            if everything_moves {
                prop_assert!(distance >= closest.value - BRACKET - 1e-9, "{distance} at step {step}, {closest:?}");
                prop_assert!(distance >= margin - SLACK - 1e-9 || !found.short.is_empty(), "{distance} at {step}");
            }
        }
        if exact {
            plan.pose_at(closest.time, &mut pose);
            let distance = sampled(&show, &stage, &pose);
            prop_assert!(distance <= closest.value + 1e-9, "{distance}, {closest:?}");
            prop_assert!(!everything_moves || distance >= closest.value - 1e-9, "{distance}, {closest:?}");
        }
        for short in &found.short {
            prop_assert!(short.seen && short.closest.value < margin);
        }
    }
}

/// A post, and an arm of 8 m that turns past it through a whole turn in two seconds; both 2 mm thick.
fn thin(height: f64, post: f64, margin: f64) -> (Show, CuePlan) {
    let mut show = empty_show();
    show.settings.margin = margin;
    let rod = |from, to| Shape::Capsule { from, to, radius: 0.001 };
    add_rig(&mut show, DVec3::ZERO, 0.0, None);
    let arm = rod(DVec3::ZERO, DVec3::new(8.0, 0.0, 0.0));
    add_axis(&mut show, Unit::Degree, turn(DVec3::Z, DVec3::new(0.0, 0.0, height)), vec![arm]);
    add_rig(&mut show, DVec3::ZERO, post, None);
    show.rigs[1].bodies = vec![rod(DVec3::new(7.5, 0.0, 0.0), DVec3::new(7.5, 0.0, 2.0))];
    show.axes[0].tolerance = 0.0;
    let plan = plan(&show, 2.0, &[0.0], &[360.0]);
    (show, plan)
}

#[test]
fn a_thin_fast_body_is_found_that_samples_of_a_millisecond_step_over() {
    let mut missed = 0;
    for post in (40..320).step_by(7) {
        let (show, plan) = thin(1.0, f64::from(post), 0.0005);
        let found = found(&show, &plan);
        let [short] = &found.short[..] else { panic!("at {post}°: {:?}", found.closest) };
        assert!(short.seen && short.closest.value < BRACKET, "at {post}°: {short:?}");
        let stage = Stage::new(&show);
        let sample = |ms: i32| {
            let mut pose = [0.0];
            plan.pose_at(f64::from(ms) / 1000.0, &mut pose);
            sampled(&show, &stage, &pose)
        };
        missed += usize::from((0..=2000).map(sample).all(|distance| distance > show.settings.margin));
        // A hand's breadth higher it passes over the post.
        let (show, plan) = thin(2.1, f64::from(post), 0.09);
        assert!(clearance(&Stagehand::new(&show), &plan).short.is_empty());
    }
    assert!(missed > 20, "samples missed only {missed} of 40");
}

fn slab(size: f64) -> Vec<Shape> {
    vec![Shape::Box { min: DVec3::new(-size, -size, 0.0), max: DVec3::new(size, size, 1.0) }]
}

/// A wagon of 2 m that rolls along x, `gap` above a flush lift; the wagon's tolerance is 0.2 m.
fn wagon(gap: f64) -> Show {
    let mut show = empty_show();
    show.settings.margin = 0.25;
    add_rig(&mut show, DVec3::new(0.0, 0.0, gap), 0.0, None);
    add_axis(&mut show, Unit::Metre, slide(DVec3::X, DVec3::ZERO), slab(1.0));
    show.axes[0].tolerance = 0.2;
    add_rig(&mut show, DVec3::new(0.0, 0.0, -1.0), 0.0, None);
    add_axis(&mut show, Unit::Metre, slide(DVec3::Z, DVec3::ZERO), slab(1.5));
    show.axes[1].tolerance = 0.01;
    show
}

#[test]
fn a_wagon_that_rolls_along_its_margin_passes() {
    // The lift's tolerance takes a centimetre off, the wagon's, which is across, nothing.
    let show = wagon(0.26);
    let over = plan(&show, 10.0, &[-1.0, 0.0], &[1.0, 0.0]);
    let clear = found(&show, &over);
    assert!(clear.short.is_empty(), "{:?}", clear.short);
    assert!((clear.closest.unwrap().value - 0.25).abs() < 1e-9);
    let show = wagon(0.259);
    let short = found(&show, &over).short;
    assert_eq!(short.len(), 1);
    assert!((short[0].closest.value - 0.249).abs() < 1e-9 && short[0].seen);
}

#[test]
fn a_pair_has_its_own_margin_and_riders_are_one_rig_with_what_carries_them() {
    let mut show = wagon(0.1);
    let over = |show: &Show| plan(show, 10.0, &vec![-5.0; show.axes.len()], &vec![5.0; show.axes.len()]);
    let only_wagon = plan(&show, 10.0, &[-5.0, 0.0], &[5.0, 0.0]);
    assert_eq!(found(&show, &only_wagon).short.len(), 1);
    let rigs = [RigId(1), RigId(0)];
    show.pairs.push(Pair { rigs, margin: 0.09, because: None, place: Place::default() });
    assert_eq!(found(&show, &only_wagon).short.len(), 0);
    show.pairs.clear();
    show.rigs[1].mount = Some(AxisId(0));
    let found = found(&show, &over(&show));
    assert!(found.short.is_empty() && found.closest.is_none());
}

fn zone(keep: Keep, min: [f64; 3], max: [f64; 3]) -> Zone {
    Zone {
        name: "pit".into(),
        keep,
        min: min.into(),
        max: max.into(),
        rigs: vec![RigId(0)],
        margin: 0.1,
        place: Place::default(),
    }
}

#[test]
fn zones_are_kept_out_of_and_kept_in() {
    let mut show = empty_show();
    add_rig(&mut show, DVec3::ZERO, 0.0, None);
    let ball = Shape::Sphere { at: DVec3::ZERO, radius: 0.5 };
    add_axis(&mut show, Unit::Metre, slide(DVec3::X, DVec3::ZERO), vec![ball]);
    show.axes[0].tolerance = 0.0;
    let to = |x: f64| plan(&show, 5.0, &[0.0], &[x]);
    let least = |zone: Zone, plan: &CuePlan| {
        let mut show = show.clone();
        show.zones.push(zone);
        let found = found(&show, plan);
        (found.closest.unwrap().value, found.short.len())
    };
    let near = |found: f64, expected: f64| (found - expected).abs() < 1e-9;
    let out = || zone(Keep::Out, [3.0, -1.0, -1.0], [5.0, 1.0, 1.0]);
    assert!(matches!(least(out(), &to(2.4)), (value, 0) if near(value, 0.1)));
    assert!(matches!(least(out(), &to(2.45)), (value, 1) if near(value, 0.05)));
    assert_eq!(least(out(), &to(9.0)), (0.0, 1));
    let within = || zone(Keep::In, [-2.0, -2.0, -0.7], [3.0, 2.0, 2.0]);
    // Below, the ball is 0.2 m from the zone's floor all the time.
    assert!(matches!(least(within(), &to(2.1)), (value, 0) if near(value, 0.2)));
    assert!(matches!(least(within(), &to(2.45)), (value, 1) if near(value, 0.05)));
    assert_eq!(least(within(), &to(3.4)), (0.0, 1));
}

#[test]
fn a_cue_is_proved_against_rigs_where_the_list_leaves_them() {
    let mut show = empty_show();
    for at in [0.0, 3.0] {
        add_rig(&mut show, DVec3::new(at, 0.0, 0.0), 0.0, None);
        let ball = Shape::Sphere { at: DVec3::ZERO, radius: 0.5 };
        add_axis(&mut show, Unit::Metre, slide(DVec3::Y, DVec3::ZERO), vec![ball]);
    }
    show.axes.iter_mut().for_each(|axis| axis.tolerance = 0.0);
    let mut there = plan(&show, 5.0, &[0.0, 4.0], &[4.0, 4.0]);
    there.moves.pop();
    let closest = found(&show, &there).closest.unwrap();
    assert!((closest.value - 2.0).abs() < BRACKET && closest.time > 4.0, "{closest:?}");
}
