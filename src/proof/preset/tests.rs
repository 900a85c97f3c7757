use glam::DVec3;
use proptest::prelude::*;

use super::*;
use crate::show::{AxisId, Mark, Place, Unit, Zone};
use crate::stage::fixture::{add_axis, add_rig, empty_show, slide, sphere};
use crate::stage::random::{Links, add_links, links, own};
use crate::stage::{Frame, Stage, Strays, gap};

const MARGIN: f64 = 0.1;

/// Balls on one rail along x, another axis across it.
fn rail(count: usize) -> Show {
    let mut show = empty_show();
    show.settings.margin = MARGIN;
    for _ in 0..count {
        add_rig(&mut show, DVec3::ZERO, 0.0, None);
        add_axis(&mut show, Unit::Metre, slide(DVec3::X, DVec3::ZERO), Vec::new());
        add_axis(&mut show, Unit::Metre, slide(DVec3::Y, DVec3::ZERO), vec![sphere(DVec3::ZERO)]);
    }
    for axis in &mut show.axes {
        axis.tolerance = 0.01;
    }
    show
}

fn mark(show: &mut Show, rig: usize, pose: &[(usize, f64)]) {
    let pose = pose.iter().map(|&(axis, at)| (AxisId::new(axis), at)).collect();
    show.rigs[rig].marks.push(Mark { name: "aside".into(), pose, place: Place::default() });
}

/// Poses along the rail, each rig with nothing across.
fn along(places: &[f64]) -> Vec<f64> {
    places.iter().flat_map(|&x| [x, 0.0]).collect()
}

fn planned(show: &Show, from: &[f64], to: &[f64]) -> PresetPlanner {
    let mut planner = PresetPlanner::new(show);
    let rigs: Vec<RigId> = show.rig_ids().collect();
    planner.begin(from, to, &rigs);
    planner.finish(show);
    planner
}

fn order(planner: &PresetPlanner) -> Vec<usize> {
    planner.legs().map(|leg| leg.rig.index()).collect()
}

#[test]
fn the_order_preferred_is_kept_where_it_is_clear() {
    let show = rail(3);
    let planner = planned(&show, &along(&[0.0, 2.0, 4.0]), &along(&[0.5, 2.5, 4.5]));
    assert_eq!(planner.progress(), Progress::Found);
    assert_eq!(order(&planner), [0, 1, 2]);
}

#[test]
fn who_is_in_the_way_goes_first() {
    let show = rail(3);
    let planner = planned(&show, &along(&[0.0, 2.0, 4.0]), &along(&[2.0, 4.0, 6.0]));
    assert_eq!(order(&planner), [2, 1, 0]);
    // The first would bar the second for ever: it has to wait, though its own leg is clear.
    let show = rail(2);
    let planner = planned(&show, &[0.0, 1.0, 0.0, 0.0], &[1.0, 0.0, 2.0, 0.0]);
    assert_eq!(order(&planner), [1, 0]);
}

#[test]
fn two_that_change_places_bar_each_other_and_are_named() {
    let show = rail(4);
    let planner = planned(&show, &along(&[0.0, 2.0, 10.0, 20.0]), &along(&[2.0, 0.0, 12.0, 22.0]));
    assert_eq!(planner.progress(), Progress::Barred);
    let bars: Vec<Bar> = planner.bars().collect();
    let rigs: Vec<_> = bars.iter().map(|bar| (bar.rig.index(), bar.parties.map(|party| party.rig()))).collect();
    let of = |index: usize| Some(RigId::new(index));
    assert_eq!(rigs, [(0, [of(0), of(1)]), (1, [of(1), of(0)])]);
    assert!(bars.iter().all(|bar| bar.distance == 0.0 && bar.margin == MARGIN), "{bars:?}");
    assert_eq!(planner.legs().count(), 0);
}

#[test]
fn where_no_straight_order_is_clear_a_rig_goes_through_a_mark() {
    let mut show = rail(2);
    // The second has to come past the first, which stays where it is.
    let (from, to) = (along(&[0.0, 1.0]), along(&[0.0, -1.0]));
    assert_eq!(planned(&show, &from, &to).progress(), Progress::Barred);
    mark(&mut show, 1, &[(2, 3.0)]);
    assert_eq!(planned(&show, &from, &to).progress(), Progress::Barred, "a mark that does not help");
    mark(&mut show, 1, &[(2, 0.0), (3, 2.0)]);
    let planner = planned(&show, &from, &to);
    let legs: Vec<PresetLeg> = planner.legs().collect();
    let leg = |rig: usize, via: Option<usize>| PresetLeg { rig: RigId::new(rig), via };
    assert_eq!(legs, [leg(0, None), leg(1, Some(1))]);
    let mut plan = empty_way(&show);
    planner.write(&show, false, &mut plan);
    assert_eq!(plan.end, to);
    let steps: Vec<_> = plan.moves.iter().filter(|step| !step.axes.is_empty()).collect();
    assert!(steps.len() == 2 && steps[0].end() < steps[1].delay && plan.duration == steps[1].end());
    planner.write(&show, true, &mut plan);
    assert_eq!(plan.end, [0.0, 0.0, 0.0, 2.0]);
    assert!(plan.duration > 0.0 && plan.moves.iter().filter(|step| !step.axes.is_empty()).count() == 1);
}

#[test]
fn a_zone_on_the_way_bars_it() {
    let mut show = rail(1);
    show.zones.push(Zone {
        name: "pit".into(),
        keep: crate::show::Keep::Out,
        min: DVec3::new(1.0, -1.0, -1.0),
        max: DVec3::new(1.0001, 1.0, 1.0),
        rigs: vec![RigId::new(0)],
        margin: 0.1,
        place: Place::default(),
    });
    let planner = planned(&show, &along(&[0.0]), &along(&[400.0]));
    assert_eq!(planner.progress(), Progress::Barred);
    assert_eq!(planner.bars().next().unwrap().parties[1], Party::Zone(0));
    assert_eq!(planned(&show, &along(&[0.0]), &along(&[0.75])).progress(), Progress::Found);
    // The ball, the margin and the tolerance: with a millimetre less it is too near.
    assert_eq!(planned(&show, &along(&[0.0]), &along(&[0.791])).progress(), Progress::Barred);
}

#[test]
fn a_ring_of_three_is_found_out_beside_twenty_that_have_nothing_to_do_with_it() {
    let mut show = rail(23);
    let (mut from, mut to) = (Vec::new(), Vec::new());
    for rig in 0..23 {
        // Far apart across the rail, but for the first three, each of which goes to where the next one stands.
        let far = if rig < 3 { 0.0 } else { 10.0 * rig as f64 };
        from.extend([rig as f64, far]);
        to.extend(if rig < 3 { [((rig + 1) % 3) as f64, far] } else { [rig as f64 + 1.0, far] });
    }
    show.axes.iter_mut().for_each(|axis| axis.tolerance = 0.001);
    let planner = planned(&show, &from, &to);
    assert_eq!(planner.progress(), Progress::Barred);
    assert!(!planner.search.is_full(), "all orders were ruled out");
    let rigs: Vec<usize> = planner.bars().map(|bar| bar.rig.index()).collect();
    assert_eq!(rigs, [0, 1, 2]);
}

#[test]
fn portions_make_no_difference() {
    let show = rail(5);
    let (from, to) = (along(&[0.0, 1.0, 2.0, 3.0, 4.0]), along(&[1.0, 2.0, 3.0, 4.0, 5.0]));
    let whole = planned(&show, &from, &to);
    let mut bit_by_bit = whole.clone();
    let rigs: Vec<RigId> = show.rig_ids().collect();
    bit_by_bit.begin(&from, &to, &rigs);
    let mut portions = 0;
    while bit_by_bit.advance(&show, 3) == Progress::Working {
        portions += 1;
    }
    assert!(portions > 10);
    assert_eq!(order(&whole), [4, 3, 2, 1, 0]);
    assert_eq!(order(&whole), order(&bit_by_bit));
}

/// Four rigs, of which the last may ride on the first, and two poses.
fn company() -> impl Strategy<Value = (Show, Vec<f64>, Vec<f64>)> {
    let rigs = prop::collection::vec((links(), prop::array::uniform3(-2.0..2.0_f64)), 4);
    let numbers = || prop::collection::vec(-1.0..1.0_f64, 16);
    (rigs, numbers(), numbers(), any::<bool>()).prop_map(
        |(rigs, from, to, rides): (Vec<(Links, [f64; 3])>, _, _, _)| {
            let mut show = empty_show();
            show.settings.margin = MARGIN;
            for (index, (links, at)) in rigs.iter().enumerate() {
                let mount = (rides && index == 3).then(|| AxisId::new(0));
                add_rig(&mut show, DVec3::from(*at) * if mount.is_some() { 0.5 } else { 1.5 }, 40.0, mount);
                add_links(&mut show, links);
            }
            for axis in &mut show.axes {
                axis.tolerance = own(axis, 0.001);
            }
            let pose =
                |numbers: &[f64]| show.axes.iter().zip(numbers).map(|(axis, x)| own(axis, 1.5 * x)).collect();
            let (from, to) = (pose(&from), pose(&to));
            (show, from, to)
        },
    )
}

/// The least distance of anything that a leg of the rig moves to anything else.
fn near(show: &Show, stage: &Stage, rig: RigId, pose: &[f64]) -> f64 {
    let none = vec![0.0; pose.len()];
    let mut frames: Vec<Frame> = Vec::new();
    stage.frames(pose, &mut frames);
    let strays = Strays { motion: &none, tolerance: &none };
    let bodies = stage.bodies();
    let solids: Vec<_> = bodies.iter().map(|body| stage.sweep(body, &frames, strays).solid).collect();
    let moved = |at: usize| bodies[at].carriers.iter().any(|carrier| show.axis(carrier.axis).rig == rig);
    let mut least = f64::INFINITY;
    for (at, solid) in solids.iter().enumerate().filter(|(at, _)| moved(*at)) {
        for (other, beside) in solids.iter().enumerate() {
            if !show.same_carriage(bodies[at].rig, bodies[other].rig) {
                least = least.min(gap(solid, beside).distance);
            }
        }
    }
    least
}

/// The least over a straight leg of the rig, from `stands`, which then has it at its goal.
fn sampled_leg(show: &Show, stage: &Stage, rig: usize, stands: &mut [f64], to: &[f64]) -> f64 {
    let begin = stands.to_vec();
    let mut least = f64::INFINITY;
    for sample in 0..=80 {
        for axis in show.rigs[rig].axes.clone().map(usize::from) {
            stands[axis] = begin[axis] + f64::from(sample) / 80.0 * (to[axis] - begin[axis]);
        }
        least = least.min(near(show, stage, RigId::new(rig), stands));
    }
    least
}

fn permutations(rigs: usize) -> Vec<Vec<usize>> {
    let mut all = vec![Vec::new()];
    for rig in 0..rigs {
        all = all
            .iter()
            .flat_map(|order: &Vec<usize>| {
                (0..=order.len()).map(move |at| {
                    let mut longer = order.clone();
                    longer.insert(at, rig);
                    longer
                })
            })
            .collect();
    }
    all
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(96))]

    /// What was found is clear by sampling; where nothing was found, samples show every order to be barred.
    #[test]
    fn no_sample_belies_an_order((show, from, to) in company(), off in prop::collection::vec(-1.0..1.0_f64, 16)) {
        let stage = Stage::new(&show);
        let planner = planned(&show, &from, &to);
        if planner.progress() == Progress::Found {
            let mut stands: Vec<f64> = from.clone();
            let shifted = |pose: &[f64]| -> Vec<f64> {
                pose.iter().zip(&show.axes).zip(&off).map(|((at, axis), off)| at + off * axis.tolerance).collect()
            };
            let goal = shifted(&to);
            stands.copy_from_slice(&shifted(&from));
            for rig in order(&planner) {
                let least = sampled_leg(&show, &stage, rig, &mut stands, &goal);
                prop_assert!(least >= MARGIN - 1e-6, "rig {rig}: {least}");
            }
        } else {
            for order in permutations(show.rigs.len()) {
                let mut stands = from.clone();
                let legs = order.iter().map(|&rig| sampled_leg(&show, &stage, rig, &mut stands, &to));
                let least = legs.fold(f64::INFINITY, f64::min);
                // Tolerances take a little; samples miss a little.
                prop_assert!(least < MARGIN + 0.1, "{order:?} is clear by {least}");
            }
        }
    }
}
