//! Conditions along a path that has not been run yet.
//!
//! A condition on poses can change only where a position passes a threshold of one of its atoms, and what moves only
//! where a move begins or ends, or an axis turns. Between its turns an axis goes one way, so that it passes each threshold
//! once there, at a time that its path gives. A look just before and just after each of these times sees every stretch
//! between them, however short.

use super::plan::{AxisPath, CuePlan, MovePlan};
use crate::motion::Range;
use crate::show::{Atom, AtomId, AxisId, Condition, CueId, Guard, Show};

/// To either side of a change, s.
pub const ASIDE: f64 = 1e-7;
/// Further looks, evenly spread: for what changes at no threshold, such as an input.
const LOOKS: usize = 48;
/// Turns of a `modulo` that are followed at most; beyond that the condition counts as not permitting.
const TURNS_MAX: f64 = 4096.0;

/// Looks at every stretch of a plan in which the condition is one thing, at times of the cue, in no order; false if it
/// changes too often to be followed. Takes no memory.
pub fn look_along(
    show: &Show,
    condition: &Condition,
    plan: &CuePlan,
    [from, to]: [f64; 2],
    look: &mut dyn FnMut(f64),
) -> bool {
    for index in 0..LOOKS {
        look(from + (to - from) * (index as f64 + 0.5) / LOOKS as f64);
    }
    let mut beside = |time: f64| [time - ASIDE, time + ASIDE].into_iter().for_each(&mut *look);
    visit_moves(plan, &mut beside);
    visit_changes(show, condition, plan, &mut beside)
}

/// Every time at which a move begins or ends, or one of its axes turns.
pub fn visit_moves(plan: &CuePlan, visit: &mut dyn FnMut(f64)) {
    for step in &plan.moves {
        visit(step.delay);
        visit(step.end());
        step.axes.iter().for_each(|path| step.turns(path).for_each(&mut *visit));
    }
}

/// Every time at which the plan takes an axis past a threshold of the condition; false if there are too many.
pub fn visit_changes(show: &Show, needs: &Condition, plan: &CuePlan, visit: &mut dyn FnMut(f64)) -> bool {
    match needs {
        Condition::Atom(id) => visit_thresholds(show, *id, plan, visit),
        Condition::All(parts) | Condition::Any(parts) => {
            parts.iter().all(|part| visit_changes(show, part, plan, visit))
        }
        Condition::Not(part) => visit_changes(show, part, plan, visit),
    }
}

fn visit_thresholds(show: &Show, id: AtomId, plan: &CuePlan, visit: &mut dyn FnMut(f64)) -> bool {
    match &show.atoms[id.index()] {
        Atom::Above { axis, limit } | Atom::Below { axis, limit } => {
            visit_passing(plan, *axis, *limit, visit);
            true
        }
        Atom::Within { axis, from, to, modulo: None } => {
            visit_passing(plan, *axis, *from, visit);
            visit_passing(plan, *axis, *to, visit);
            true
        }
        Atom::Within { axis, from, to, modulo: Some(turn) } => {
            [*from, *to].into_iter().all(|edge| visit_turns(plan, *axis, edge, *turn, visit))
        }
        Atom::At { pose, .. } => {
            for &(axis, target) in pose {
                let tolerance = show.axis(axis).tolerance;
                visit_passing(plan, axis, target - tolerance, visit);
                visit_passing(plan, axis, target + tolerance, visit);
            }
            true
        }
        Atom::Input(_) | Atom::CueState { .. } | Atom::CuePast { .. } => true,
    }
}

/// What cuts the time of a plan into stretches in which the condition is one thing and what moves is too: in order, its
/// start and end among them; `None` if it changes too often to be followed.
pub fn cuts(show: &Show, own: CueId, needs: &Condition, plan: &CuePlan) -> Option<Vec<f64>> {
    let mut cuts = vec![0.0, plan.duration];
    visit_moves(plan, &mut |time| cuts.push(time));
    let followed = visit_changes(show, needs, plan, &mut |time| cuts.push(time));
    cuts.extend(own_pasts(show, own, needs));
    cuts.retain(|cut| (0.0..=plan.duration).contains(cut));
    cuts.sort_by(f64::total_cmp);
    cuts.dedup_by(|next, before| *next - *before < ASIDE);
    followed.then_some(cuts)
}

/// The times of the cue itself that a condition asks it to be past.
pub fn own_pasts(show: &Show, own: CueId, needs: &Condition) -> Vec<f64> {
    let past = |atom: AtomId| match &show.atoms[atom.index()] {
        Atom::CuePast { cue, time } if *cue == own => Some(*time),
        Atom::CuePast { .. }
        | Atom::CueState { .. }
        | Atom::Input(_)
        | Atom::Above { .. }
        | Atom::Below { .. }
        | Atom::Within { .. }
        | Atom::At { .. } => None,
    };
    needs.atoms().into_iter().filter_map(past).collect()
}

/// The move of a cue that owns an axis, and its path.
pub fn path_of(plan: &CuePlan, axis: AxisId) -> Option<(&MovePlan, &AxisPath)> {
    plan.moves.iter().find_map(|step| step.axes.iter().find(|path| path.axis == axis).map(|path| (step, path)))
}

/// Whether a guarded axis moves as it is guarded at `time` s of the cue; `way` is 1 forwards, -1 back.
pub fn moves_guarded(plan: &CuePlan, guard: Guard, time: f64, way: f64) -> bool {
    path_of(plan, guard.axis).is_some_and(|(step, path)| guard.minds(step.at(path, time).speed * way))
}

fn visit_passing(plan: &CuePlan, axis: AxisId, threshold: f64, visit: &mut dyn FnMut(f64)) {
    let Some((step, path)) = path_of(plan, axis) else { return };
    let mut begin = step.delay;
    for end in step.turns(path).chain([step.end()]) {
        let (from, to) = (step.at(path, begin).position, step.at(path, end).position);
        if from != to && (from.min(to)..=from.max(to)).contains(&threshold) {
            visit(time_at(step, path, threshold, [begin, end]));
        }
        begin = end;
    }
}

fn visit_turns(plan: &CuePlan, axis: AxisId, edge: f64, turn: f64, visit: &mut dyn FnMut(f64)) -> bool {
    let Some((step, path)) = path_of(plan, axis) else { return true };
    let Range { low, high } = step.positions(path, step.delay, step.end());
    let first = ((low - edge) / turn).ceil();
    let last = ((high - edge) / turn).floor();
    if last - first > TURNS_MAX {
        return false;
    }
    let mut count = first;
    while count <= last {
        visit_passing(plan, axis, edge + count * turn, visit);
        count += 1.0;
    }
    true
}

/// When an axis that goes one way from `early` to `late` s comes to a position. Halving finds the time to the last digit.
fn time_at(step: &MovePlan, path: &AxisPath, position: f64, [mut early, mut late]: [f64; 2]) -> f64 {
    let rises = step.at(path, early).position < step.at(path, late).position;
    for _ in 0..60 {
        let middle = (early + late) / 2.0;
        let at = step.at(path, middle).position;
        if if rises { at < position } else { at > position } { early = middle } else { late = middle }
    }
    late
}
