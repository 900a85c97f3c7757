//! Interlocks that wait on each other.
//!
//! An interlock can be released if its condition can be made true by motion that is not guarded, or that is guarded
//! only by interlocks which can be released. What is left over when nothing more can be released waits on itself:
//! the least fixed point, as for deadlocks in resource graphs (Holt 1972).

use crate::show::{Atom, AtomId, AxisId, Code, Condition, Direction, Finding, InterlockId, Show};

pub fn find_cycles(show: &Show, findings: &mut Vec<Finding>) {
    let mut released = vec![false; show.interlocks.len()];
    loop {
        let next: Vec<bool> = show
            .interlocks
            .iter()
            .enumerate()
            .map(|(index, interlock)| released[index] || attainable(show, &interlock.needs, false, &released))
            .collect();
        if next == released {
            break;
        }
        released = next;
    }
    let stuck = |id: InterlockId| !released[id.index()];
    let stuck_ids: Vec<InterlockId> =
        (0..show.interlocks.len()).map(InterlockId::new).filter(|&id| stuck(id)).collect();
    for &id in &stuck_ids {
        let Some(cycle) = circle_from(show, id, &stuck_ids) else { continue };
        // Each circle is told once, by its first member, and one interlock alone is no circle.
        if cycle.len() > 1 && cycle.iter().min() == Some(&id) {
            report(show, &cycle, findings);
        }
    }
}

fn report(show: &Show, cycle: &[InterlockId], findings: &mut Vec<Finding>) {
    let name = |id: &InterlockId| format!("'{}'", show.interlocks[id.index()].name);
    let names: Vec<String> = cycle.iter().chain(cycle.first()).map(name).collect();
    let message = format!(
        "interlocks wait on each other: {}; once false, none can be made true by a cue",
        names.join(" waits on ")
    );
    let first = &show.interlocks[cycle[0].index()];
    let mut finding = Finding::new(Code::InterlockCycle, message)
        .at(first.place)
        .fix("leave one way out: a direction that is not guarded, or an `any` with the axis itself");
    for id in cycle {
        for guard in &show.interlocks[id.index()].guards {
            finding = finding.axis(show.axis_name(guard.axis));
        }
    }
    findings.push(finding);
}

/// Whether the condition (or with `negated` its opposite) can be made true.
fn attainable(show: &Show, condition: &Condition, negated: bool, released: &[bool]) -> bool {
    match (condition, negated) {
        (Condition::Atom(id), _) => {
            ways(show, *id, negated).iter().any(|&(axis, direction)| free(show, axis, direction, released))
                || ways(show, *id, negated).is_empty()
        }
        (Condition::Not(part), _) => attainable(show, part, !negated, released),
        (Condition::All(parts), false) | (Condition::Any(parts), true) => {
            parts.iter().all(|part| attainable(show, part, negated, released))
        }
        (Condition::Any(parts), false) | (Condition::All(parts), true) => {
            parts.iter().any(|part| attainable(show, part, negated, released))
        }
    }
}

/// The motions that can make an atom true; none if it does not depend on motion.
fn ways(show: &Show, id: AtomId, negated: bool) -> Vec<(AxisId, Direction)> {
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

fn free(show: &Show, axis: AxisId, direction: Direction, released: &[bool]) -> bool {
    guarding(show, axis, direction).all(|id| released[id.index()])
}

/// A way from the interlock along what it waits on, back to itself, among those that are stuck.
fn circle_from(show: &Show, start: InterlockId, stuck: &[InterlockId]) -> Option<Vec<InterlockId>> {
    let mut path = vec![start];
    walk(show, start, stuck, &mut path).then_some(path)
}

fn walk(show: &Show, start: InterlockId, stuck: &[InterlockId], path: &mut Vec<InterlockId>) -> bool {
    let last = path[path.len() - 1];
    let atoms = show.interlocks[last.index()].needs.atoms();
    let next: Vec<InterlockId> = atoms
        .iter()
        .flat_map(|&atom| ways(show, atom, false))
        .flat_map(|(axis, direction)| guarding(show, axis, direction).collect::<Vec<_>>())
        .filter(|id| stuck.contains(id) && *id != last)
        .collect();
    if path.len() > 1 && next.contains(&start) {
        return true;
    }
    for id in next {
        if !path.contains(&id) {
            path.push(id);
            if walk(show, start, stuck, path) {
                return true;
            }
            path.pop();
        }
    }
    false
}
