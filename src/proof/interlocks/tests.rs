use proptest::prelude::*;

use super::deadlock::Witness;
use super::*;
use crate::proof::maps::Maps;
use crate::show::{Guard, Interlock, Otherwise, Place, Truth, Unit};
use crate::stage::fixture::{add_axis, add_rig, empty_show, slide};
use glam::DVec3;

/// Axes with a travel of 0 to 3, a rig each, that stand at 0.5 when the show opens.
fn axes(count: usize) -> Show {
    let mut show = empty_show();
    for _ in 0..count {
        add_rig(&mut show, DVec3::ZERO, 0.0, None);
        add_axis(&mut show, Unit::Metre, slide(DVec3::X, DVec3::ZERO), Vec::new());
    }
    for axis in &mut show.axes {
        (axis.travel, axis.start, axis.tolerance) = ([0.0, 3.0], 0.5, 0.01);
    }
    show
}

fn above(axis: usize, limit: f64) -> Atom {
    Atom::Above { axis: AxisId::new(axis), limit }
}

fn below(axis: usize, limit: f64) -> Atom {
    Atom::Below { axis: AxisId::new(axis), limit }
}

/// Guards an axis by all of these.
fn guard(show: &mut Show, axis: usize, direction: Option<Direction>, needs: &[Atom]) {
    let first = show.atoms.len();
    show.atoms.extend(needs.iter().cloned());
    let leaves = (first..show.atoms.len()).map(|at| Condition::Atom(AtomId::new(at)));
    add(show, axis, direction, Condition::All(leaves.collect()));
}

fn add(show: &mut Show, axis: usize, direction: Option<Direction>, needs: Condition) {
    show.interlocks.push(Interlock {
        name: format!("{}", show.interlocks.len()),
        guards: vec![Guard { axis: AxisId::new(axis), direction }],
        needs,
        otherwise: Otherwise::Stop,
        place: Place::default(),
    });
}

/// Members and pose of every deadlock, with where that comes from.
fn found(show: &Show) -> Vec<(Vec<usize>, Vec<f64>, Witness)> {
    let plan = Plan { cues: Vec::new(), maps: Maps::default() };
    let waits = waits(show);
    let all: Vec<InterlockId> = (0..show.interlocks.len()).map(InterlockId::new).collect();
    let mut told = Vec::new();
    for circle in circles(&waits, &all) {
        let grid = Grid::new(show, &concerned(show, &circle)).unwrap();
        for found in deadlocks(show, &plan, &grid, &waits, &circle) {
            let mut pose: Vec<f64> = show.axes.iter().map(|axis| axis.start).collect();
            found.pose.iter().for_each(|(axis, at)| pose[axis.index()] = *at);
            told.push((found.members.iter().map(|id| id.index()).collect(), pose, found.found));
        }
    }
    told
}

#[test]
fn two_that_wait_on_each_other_are_found_at_the_opening_or_at_a_place_that_is_made() {
    let mut show = axes(2);
    guard(&mut show, 0, None, &[above(1, 1.0)]);
    guard(&mut show, 1, None, &[above(0, 1.0)]);
    assert_eq!(found(&show), [(vec![0, 1], vec![0.5, 0.5], Witness::Opening)]);
    show.axes[1].start = 2.5;
    assert_eq!(found(&show), [(vec![0, 1], vec![0.5, 1.0], Witness::Made)]);
    // Down is no way out.
    show.interlocks[1].guards[0].direction = Some(Direction::Up);
    assert_eq!(found(&show).len(), 1);
    // Up is.
    show.interlocks[1].guards[0].direction = Some(Direction::Down);
    assert_eq!(found(&show), []);
}

#[test]
fn a_circle_in_the_names_is_none_where_no_place_makes_both_false() {
    let mut show = axes(2);
    guard(&mut show, 0, None, &[above(1, 1.0)]);
    guard(&mut show, 1, None, &[above(0, 1.0)]);
    // One of them is true all along the travel of what it asks for.
    show.axes[1].travel = [1.5, 3.0];
    show.axes[1].start = 2.0;
    assert_eq!(found(&show), []);
    // Or the second, which is true wherever the first is false.
    show.axes[1].travel = [0.0, 3.0];
    let atom = show.atoms.len();
    show.atoms.push(below(1, 1.5));
    let needs = show.interlocks[1].needs.clone();
    show.interlocks[1].needs = Condition::Any(vec![needs, Condition::Atom(AtomId::new(atom))]);
    assert_eq!(found(&show), []);
}

#[test]
fn a_way_out_by_another_axis_is_found_and_one_that_is_barred_itself_is_none() {
    let mut show = axes(3);
    guard(&mut show, 0, None, &[above(1, 1.0)]);
    add(&mut show, 1, None, Condition::All(Vec::new()));
    let atoms = [above(0, 1.0), above(2, 1.0)].map(|atom| {
        show.atoms.push(atom);
        Condition::Atom(AtomId::new(show.atoms.len() - 1))
    });
    show.interlocks[1].needs = Condition::Any(atoms.to_vec());
    assert_eq!(found(&show), []);
    // The third goes up only with the first there.
    guard(&mut show, 2, Some(Direction::Up), &[above(0, 1.0)]);
    let [(members, ..)] = &found(&show)[..] else { panic!("{:?}", found(&show)) };
    assert_eq!(members, &[0, 1, 2]);
}

#[test]
fn one_that_nothing_could_make_true_waits_on_nobody() {
    let mut show = axes(2);
    guard(&mut show, 0, None, &[above(1, 1.0)]);
    guard(&mut show, 1, None, &[above(0, 7.0)]);
    assert_eq!(found(&show), []);
}

/// Positions that every place of the grid has some of.
const STEPS: usize = 7;

fn at(step: usize) -> f64 {
    step as f64 / 2.0
}

/// By state: which interlocks can come about by motion; steps of all axes, the first the fastest.
fn brute(show: &Show, ignored: usize) -> Vec<usize> {
    let axes = show.axes.len();
    let states = STEPS.pow(axes as u32);
    let step = |state: usize, axis: usize| state / STEPS.pow(axis as u32) % STEPS;
    let holds = |state: usize| -> usize {
        let truth = |atom: AtomId| {
            show.atoms[atom.index()]
                .of_pose(show, &|axis: AxisId| Some(at(step(state, axis.index()))))
                .unwrap_or(Truth::Unknown)
        };
        let each = show.interlocks.iter().enumerate();
        each.filter(|(_, interlock)| interlock.needs.judge(&truth) != Truth::False).map(|(at, _)| 1 << at).sum()
    };
    let true_in: Vec<usize> = (0..states).map(holds).collect();
    let mut can = true_in.clone();
    loop {
        let before = can.clone();
        for state in 0..states {
            for axis in 0..axes {
                let from = step(state, axis);
                for to in (0..STEPS).filter(|&to| to != from) {
                    let direction = if to > from { Direction::Up } else { Direction::Down };
                    let guards: usize =
                        super::guarding(show, AxisId::new(axis), direction).map(|id| 1 << id.index()).sum();
                    let moved = |to: usize| state + to * STEPS.pow(axis as u32) - from * STEPS.pow(axis as u32);
                    // Where it stands at first, and in everything that it passes but the thresholds.
                    let passed = (0..STEPS)
                        .filter(|&on| on == from || on % 2 == 1 && (from.min(to)..=from.max(to)).contains(&on));
                    if passed.into_iter().all(|on| guards & !ignored & !true_in[moved(on)] == 0) {
                        can[state] |= can[moved(to)];
                    }
                }
            }
        }
        if can == before {
            return can;
        }
    }
}

/// All sets that are the largest deadlock of some state and hold no other such, with their states.
fn by_brute_force(show: &Show) -> Vec<(Vec<usize>, Vec<usize>)> {
    let waits = waits(show);
    let count = show.interlocks.len();
    let can = brute(show, 0);
    let mut real: Vec<(usize, Vec<usize>)> = Vec::new();
    for set in (1..1_usize << count).filter(|set| set.count_ones() > 1) {
        let members: Vec<InterlockId> = (0..count).filter(|at| set >> at & 1 == 1).map(InterlockId::new).collect();
        if !circles(&waits, &members).contains(&members) {
            continue;
        }
        let freed = brute(show, set);
        let states: Vec<usize> =
            (0..can.len()).filter(|&state| can[state] & set == 0 && freed[state] & set == set).collect();
        if !states.is_empty() {
            real.push((set, states));
        }
    }
    let larger = |set: usize, state: &usize| {
        real.iter().any(|(other, states)| *other != set && other & set == set && states.contains(state))
    };
    let mut largest: Vec<(usize, Vec<usize>)> = Vec::new();
    for (set, states) in &real {
        let states: Vec<usize> = states.iter().copied().filter(|state| !larger(*set, state)).collect();
        largest.extend((!states.is_empty()).then_some((*set, states)));
    }
    let least = |set: usize| !largest.iter().any(|(other, _)| *other != set && other & set == *other);
    let members = |set: usize| (0..count).filter(|at| set >> at & 1 == 1).collect();
    largest.iter().filter(|(set, _)| least(*set)).map(|(set, states)| (members(*set), states.clone())).collect()
}

fn any_atom() -> impl Strategy<Value = Atom> {
    (0..3usize, 0..3usize, 1..3i32).prop_map(|(axis, kind, limit)| {
        let (axis, limit) = (AxisId::new(axis), f64::from(limit));
        match kind {
            0 => Atom::Above { axis, limit },
            1 => Atom::Below { axis, limit },
            _ => Atom::Within { axis, from: limit, to: 2.0, modulo: None },
        }
    })
}

prop_compose! {
    fn any_show()(
        atoms in prop::collection::vec(any_atom(), 8),
        interlocks in prop::collection::vec((0..3usize, 0..4usize, 0..8usize, 0..8usize, 0..4usize), 2..5),
        starts in prop::array::uniform3(0..STEPS),
    ) -> Show {
        let mut show = axes(3);
        show.atoms = atoms;
        for (axis, direction, one, other, kind) in interlocks {
            let [one, other] = [one, other].map(|at| Condition::Atom(AtomId::new(at)));
            let needs = match kind {
                0 => one,
                1 => Condition::Any(vec![one, other]),
                2 => Condition::All(vec![one, Condition::Not(Box::new(other))]),
                _ => Condition::All(vec![one, other]),
            };
            let direction = [None, None, Some(Direction::Up), Some(Direction::Down)][direction];
            add(&mut show, axis, direction, needs);
        }
        show.axes.iter_mut().zip(starts).for_each(|(axis, start)| axis.start = at(start));
        show
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(192))]

    #[test]
    fn deadlocks_are_those_that_brute_force_finds(show in any_show()) {
        let mut told = found(&show);
        told.sort_by(|a, b| a.0.cmp(&b.0));
        let mut expected = by_brute_force(&show);
        expected.sort();
        let sets = |told: &[(Vec<usize>, Vec<f64>, Witness)]| told.iter().map(|one| one.0.clone()).collect::<Vec<_>>();
        prop_assert_eq!(sets(&told), expected.iter().map(|one| one.0.clone()).collect::<Vec<_>>());
        for ((_, pose, witness), (_, states)) in told.iter().zip(&expected) {
            let state_of = |pose: &[f64]| -> usize {
                pose.iter().enumerate().map(|(axis, at)| (at * 2.0) as usize * STEPS.pow(axis as u32)).sum()
            };
            prop_assert!(states.contains(&state_of(pose)), "{pose:?} is no deadlock");
            let opening: Vec<f64> = show.axes.iter().map(|axis| axis.start).collect();
            prop_assert_eq!(*witness == Witness::Opening, states.contains(&state_of(&opening)));
        }
    }
}
