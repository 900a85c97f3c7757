use glam::DVec3;
use proptest::prelude::*;

use super::*;
use crate::show::InputId;
use crate::show::{
    Atom, AxisId, Direction, Guard, Input, Interlock, Mark, Nanos, Otherwise, Place, Truth, Unit, Zone,
};
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

/// What bars rigs by coming too near.
fn nears(planner: &PresetPlanner) -> Vec<(usize, Near)> {
    let near = |bar: Bar| match bar.by {
        Forbids::Near(near) => (bar.rig.index(), near),
        other => panic!("{other:?}"),
    };
    planner.bars().map(near).collect()
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
    let bars = nears(&planner);
    let rigs: Vec<_> = bars.iter().map(|(rig, near)| (*rig, near.parties.map(|party| party.rig()))).collect();
    let of = |index: usize| Some(RigId::new(index));
    assert_eq!(rigs, [(0, [of(0), of(1)]), (1, [of(1), of(0)])]);
    assert!(bars.iter().all(|(_, bar)| bar.distance == 0.0 && bar.margin == MARGIN), "{bars:?}");
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
    assert_eq!(nears(&planner)[0].1.parties[1], Party::Zone(0));
    assert_eq!(planned(&show, &along(&[0.0]), &along(&[0.75])).progress(), Progress::Found);
    // The ball, the margin and the tolerance: with a millimetre less it is too near.
    assert_eq!(planned(&show, &along(&[0.0]), &along(&[0.791])).progress(), Progress::Barred);
}

/// Guards one axis by a condition.
fn guard(show: &mut Show, axis: usize, direction: Option<Direction>, needs: Condition) {
    show.interlocks.push(Interlock {
        name: format!("guard of {axis}"),
        guards: vec![Guard { axis: AxisId::new(axis), direction }],
        needs,
        otherwise: Otherwise::Stop,
        place: Place::default(),
    });
}

fn leaf(show: &mut Show, atom: Atom) -> Condition {
    show.atoms.push(atom);
    Condition::Atom(AtomId::new(show.atoms.len() - 1))
}

#[test]
fn an_order_that_an_interlock_forbids_is_not_taken_and_what_it_asks_of_inputs_is_told() {
    let mut show = rail(2);
    let (from, to) = (along(&[0.0, 10.0]), along(&[-2.0, 12.0]));
    assert_eq!(order(&planned(&show, &from, &to)), [0, 1]);
    // The first goes back only with the second out of the way, and with an input.
    let beyond = leaf(&mut show, Atom::Above { axis: AxisId::new(2), limit: 11.0 });
    let gate = leaf(&mut show, Atom::Input(InputId::new(0)));
    show.inputs.push(Input {
        name: "gate".into(),
        max_age: Nanos::from_seconds(1.0),
        trips: false,
        source: None,
        place: Place::default(),
    });
    let needs = Condition::All(vec![gate.clone(), beyond.clone()]);
    guard(&mut show, 0, Some(Direction::Down), needs);
    let planner = planned(&show, &from, &to);
    assert_eq!(order(&planner), [1, 0]);
    let needs = Condition::All(vec![gate]);
    let asked = Proviso { rig: RigId::new(0), interlock: InterlockId::new(0), needs };
    assert_eq!(planner.provisos(&show), [asked]);
    // The other way nothing guards it.
    assert_eq!(order(&planned(&show, &from, &along(&[2.0, 12.0]))), [0, 1]);
    // And where the second does not go so far there is no order: the leaf that forbids it is named.
    let short = planned(&show, &from, &along(&[-2.0, 10.5]));
    assert_eq!(short.progress(), Progress::Barred);
    let Condition::Atom(atom) = beyond else { panic!() };
    let by = Forbids::Interlock { interlock: InterlockId::new(0), atom, stands: Some(10.5) };
    assert_eq!(short.bars().collect::<Vec<_>>(), [Bar { rig: RigId::new(0), by }]);
}

#[test]
fn an_interlock_that_is_false_for_a_moment_of_a_leg_forbids_it() {
    let mut show = rail(1);
    let slit = leaf(&mut show, Atom::Within { axis: AxisId::new(0), from: 0.5, to: 0.500_001, modulo: None });
    guard(&mut show, 0, None, Condition::Not(Box::new(slit)));
    let planner = planned(&show, &along(&[0.0]), &along(&[1.0]));
    let Forbids::Interlock { stands: Some(at), .. } = planner.bars().next().unwrap().by else { panic!() };
    assert!((at - 0.5).abs() < 1e-5, "{at}");
    assert_eq!(planned(&show, &along(&[0.0]), &along(&[0.4])).progress(), Progress::Found);
    // A mark beside it does not lead past it, but one on the other axis is no way round either.
    mark(&mut show, 0, &[(1, 2.0)]);
    assert_eq!(planned(&show, &along(&[0.0]), &along(&[1.0])).progress(), Progress::Barred);
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

/// A condition on the four axes of a rail of two rigs, thresholds in halves.
fn any_needs() -> impl Strategy<Value = (Vec<Atom>, Condition)> {
    let atom = |kind: bool, axis: usize, limit: i32| {
        let (axis, limit) = (AxisId::new(axis), f64::from(limit) / 2.0);
        if kind {
            Atom::Above { axis, limit }
        } else {
            Atom::Within { axis, from: limit, to: limit + 0.5, modulo: None }
        }
    };
    let atoms = prop::collection::vec((any::<bool>(), 0..6usize, -4..4i32), 3);
    let leaf = (0..3usize).prop_map(|at| Condition::Atom(AtomId::new(at)));
    let needs = leaf.prop_recursive(2, 6, 3, |part| {
        prop_oneof![
            prop::collection::vec(part.clone(), 1..3).prop_map(Condition::All),
            prop::collection::vec(part.clone(), 1..3).prop_map(Condition::Any),
            part.prop_map(|part| Condition::Not(Box::new(part))),
        ]
    });
    (atoms, needs).prop_map(move |(atoms, needs)| {
        (atoms.into_iter().map(|(kind, axis, limit)| atom(kind, axis, limit)).collect(), needs)
    })
}

fn placed(needs: &Condition, first: usize) -> Condition {
    let all = |parts: &[Condition]| parts.iter().map(|part| placed(part, first)).collect();
    match needs {
        Condition::Atom(id) => Condition::Atom(AtomId::new(id.index() + first)),
        Condition::All(parts) => Condition::All(all(parts)),
        Condition::Any(parts) => Condition::Any(all(parts)),
        Condition::Not(part) => Condition::Not(Box::new(placed(part, first))),
    }
}

/// Whether samples of the rig's straight leg see no interlock false that guards what moves; then it stands at its goal.
fn permitted(show: &Show, rig: usize, stands: &mut [f64], to: &[f64]) -> bool {
    let begin = stands.to_vec();
    let axes: Vec<usize> = show.rigs[rig].axes.clone().map(usize::from).collect();
    let goes = |guard: &Guard| {
        let axis = guard.axis.index();
        let way = to[axis] - begin[axis];
        axes.contains(&axis)
            && match guard.direction {
                None => way != 0.0,
                Some(Direction::Up) => way > 0.0,
                Some(Direction::Down) => way < 0.0,
            }
    };
    let guarding: Vec<&Interlock> =
        show.interlocks.iter().filter(|interlock| interlock.guards.iter().any(goes)).collect();
    let mut permitted = true;
    for sample in 0..=400 {
        let part = f64::from(sample) / 400.0;
        axes.iter().for_each(|&axis| stands[axis] = begin[axis] + part * (to[axis] - begin[axis]));
        let truth =
            |atom: AtomId| show.atoms[atom.index()].of_pose(show, &|axis| Some(stands[axis.index()])).unwrap();
        permitted &= guarding.iter().all(|interlock| interlock.needs.judge(&truth) == Truth::True);
    }
    axes.iter().for_each(|&axis| stands[axis] = to[axis]);
    permitted
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(256))]

    /// There is an order if, and only if, samples find one of all orders permitted.
    #[test]
    fn interlocks_forbid_the_orders_that_samples_find_forbidden(
        interlocks in prop::collection::vec((any_needs(), 0..6usize, 0..3usize), 1..4),
        numbers in prop::array::uniform2(prop::collection::vec(-39..39i32, 6)),
    ) {
        // Far apart, so that bodies forbid nothing.
        let mut show = rail(3);
        show.rigs.iter_mut().enumerate().for_each(|(at, rig)| rig.at.z = 5.0 * at as f64);
        for ((atoms, needs), axis, direction) in &interlocks {
            let first = show.atoms.len();
            show.atoms.extend(atoms.iter().cloned());
            let direction = [None, Some(Direction::Up), Some(Direction::Down)][*direction];
            guard(&mut show, *axis, direction, placed(needs, first));
        }
        // Beside every threshold.
        let pose = |numbers: &Vec<i32>| -> Vec<f64> { numbers.iter().map(|&at| (f64::from(at) + 0.3) / 20.0).collect() };
        let [from, to] = [pose(&numbers[0]), pose(&numbers[1])];
        let permits = |order: &[usize]| {
            let mut stands = from.clone();
            order.iter().all(|&rig| permitted(&show, rig, &mut stands, &to))
        };
        let planner = planned(&show, &from, &to);
        if planner.progress() == Progress::Found {
            prop_assert!(permits(&order(&planner)), "{:?}", order(&planner));
        } else {
            let permitted = permutations(3).into_iter().find(|order| permits(order));
            prop_assert_eq!(permitted, None);
            let bars: Vec<bool> = planner.bars().map(|bar| matches!(bar.by, Forbids::Interlock { .. })).collect();
            prop_assert!(!bars.is_empty() && bars.iter().all(|by_interlock| *by_interlock));
        }
    }
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
