//! Interlocks that wait on each other.
//!
//! An interlock waits on another if that guards a motion which could make it true. Where such waiting goes in a circle,
//! there may be a place of the axes at which all of the circle are false, and no motion that is still permitted makes
//! any of them true: a deadlock (Coffman, Elphick and Shoshani 1971). A circle in the names alone is none: the lift may
//! rise while the wagon waits for it. So each circle is searched for such a place ([`deadlock`]), over the grid of all
//! thresholds of the conditions concerned ([`grid`]), which decides it either way.

mod deadlock;
mod grid;
#[cfg(test)]
mod tests;
mod told;

use super::plan::Plan;
use crate::show::{Atom, AtomId, AxisId, Condition, Direction, Finding, InterlockId, Show};
use deadlock::deadlocks;
use grid::Grid;

pub fn find_cycles(show: &Show, plan: &Plan, findings: &mut Vec<Finding>) {
    let waits = waits(show);
    let all: Vec<InterlockId> = (0..show.interlocks.len()).map(InterlockId::new).collect();
    for circle in circles(&waits, &all) {
        match Grid::new(show, &concerned(show, &circle)) {
            Some(grid) => {
                for found in deadlocks(show, plan, &grid, &waits, &circle) {
                    findings.push(told::deadlock(show, &way_round(&waits, &found.members), &found));
                }
            }
            None => findings.push(told::unsearched(show, &way_round(&waits, &circle))),
        }
    }
}

/// By `InterlockId`: the others that each waits on.
fn waits(show: &Show) -> Vec<Vec<InterlockId>> {
    let of = |(index, interlock): (usize, &crate::show::Interlock)| {
        let mut ways = Vec::new();
        add_ways(show, &interlock.needs, false, &mut ways);
        let mut on: Vec<InterlockId> =
            ways.into_iter().flat_map(|(axis, direction)| guarding(show, axis, direction)).collect();
        on.retain(|other| other.index() != index);
        on.sort_unstable();
        on.dedup();
        on
    };
    show.interlocks.iter().enumerate().map(of).collect()
}

/// The motions that can make a condition, or with `negated` its opposite, true.
fn add_ways(show: &Show, condition: &Condition, negated: bool, ways: &mut Vec<(AxisId, Direction)>) {
    match condition {
        Condition::Atom(id) => ways.extend(ways_of(show, *id, negated)),
        Condition::Not(part) => add_ways(show, part, !negated, ways),
        Condition::All(parts) | Condition::Any(parts) => {
            parts.iter().for_each(|part| add_ways(show, part, negated, ways));
        }
    }
}

fn ways_of(show: &Show, id: AtomId, negated: bool) -> Vec<(AxisId, Direction)> {
    let both = |axis: AxisId| vec![(axis, Direction::Up), (axis, Direction::Down)];
    match &show.atoms[id.index()] {
        Atom::Above { axis, .. } => vec![(*axis, if negated { Direction::Down } else { Direction::Up })],
        Atom::Below { axis, .. } => vec![(*axis, if negated { Direction::Up } else { Direction::Down })],
        Atom::Within { axis, .. } => both(*axis),
        Atom::At { pose, .. } => pose.iter().flat_map(|&(axis, _)| both(axis)).collect(),
        Atom::Input(_) | Atom::CueState { .. } | Atom::CuePast { .. } => Vec::new(),
    }
}

/// The interlocks that guard this motion.
fn guarding(show: &Show, axis: AxisId, direction: Direction) -> impl Iterator<Item = InterlockId> + '_ {
    crate::show::interlocks_guarding(show, axis)
        .filter(move |(_, guard)| guard.direction.is_none_or(|guarded| guarded == direction))
        .map(|(id, _)| id)
}

/// These interlocks, and every other on which depends how the axes may move that they ask for, and so on.
fn concerned(show: &Show, interlocks: &[InterlockId]) -> Vec<InterlockId> {
    let mut concerned = interlocks.to_vec();
    let mut next = 0;
    while let Some(&id) = concerned.get(next) {
        next += 1;
        for axis in axes_of(show, id) {
            for (guard, _) in crate::show::interlocks_guarding(show, axis) {
                if !concerned.contains(&guard) {
                    concerned.push(guard);
                }
            }
        }
    }
    concerned.sort_unstable();
    concerned
}

/// The axes that an interlock asks for.
fn axes_of(show: &Show, id: InterlockId) -> Vec<AxisId> {
    let axes = |atom: AtomId| match &show.atoms[atom.index()] {
        Atom::Above { axis, .. } | Atom::Below { axis, .. } | Atom::Within { axis, .. } => vec![*axis],
        Atom::At { pose, .. } => pose.iter().map(|(axis, _)| *axis).collect(),
        Atom::Input(_) | Atom::CueState { .. } | Atom::CuePast { .. } => Vec::new(),
    };
    show.interlocks[id.index()].needs.atoms().into_iter().flat_map(axes).collect()
}

/// The largest sets of these, of two or more, in which each waits on each by way of others of the set.
fn circles(waits: &[Vec<InterlockId>], among: &[InterlockId]) -> Vec<Vec<InterlockId>> {
    let reached: Vec<Vec<InterlockId>> = among.iter().map(|&from| reached(waits, among, from)).collect();
    let mut circles: Vec<Vec<InterlockId>> = Vec::new();
    for (&one, ahead) in among.iter().zip(&reached) {
        let back =
            |other: InterlockId| among.iter().zip(&reached).any(|(&at, ahead)| at == other && ahead.contains(&one));
        let circle: Vec<InterlockId> =
            among.iter().copied().filter(|&other| ahead.contains(&other) && back(other)).collect();
        // Each is found from all its members; the least one tells it.
        if circle.len() > 1 && circle[0] == one {
            circles.push(circle);
        }
    }
    circles
}

/// What can be come to from one, by one wait or more.
fn reached(waits: &[Vec<InterlockId>], among: &[InterlockId], from: InterlockId) -> Vec<InterlockId> {
    let mut reached: Vec<InterlockId> = Vec::new();
    let mut open = vec![from];
    while let Some(at) = open.pop() {
        for &next in waits[at.index()].iter().filter(|next| among.contains(next)) {
            if !reached.contains(&next) {
                reached.push(next);
                open.push(next);
            }
        }
    }
    reached
}

/// From the first of a set along what it waits on, back to itself, by as few as there are.
fn way_round(waits: &[Vec<InterlockId>], set: &[InterlockId]) -> Vec<InterlockId> {
    let first = set[0];
    let mut ways = std::collections::VecDeque::from([vec![first]]);
    let mut seen = vec![first];
    while let Some(way) = ways.pop_front() {
        let last = way[way.len() - 1];
        let next = &waits[last.index()];
        if next.contains(&first) {
            return way;
        }
        for &next in next.iter().filter(|next| set.contains(next)) {
            if !seen.contains(&next) {
                seen.push(next);
                ways.push_back([&way[..], &[next]].concat());
            }
        }
    }
    set.to_vec()
}
