//! Interlocks along a path that has not been run yet.
//!
//! A condition on poses can change only where a position passes a threshold of one of its atoms, and what moves only
//! where a move begins or ends. Moves are monotone, so that each threshold is passed once, at a time that the
//! profile gives. A look just before and just after each of these times sees every stretch between them, however short.

use super::reason::{Reason, Refusal};
use super::tick::Engine;
use crate::motion::Profile;
use crate::proof::{AxisPath, CuePlan, MovePlan};
use crate::show::{Atom, AtomId, AxisId, Condition, Direction, Guard, InterlockId, Truth};

/// To either side of a change, s.
const ASIDE: f64 = 1e-7;
/// Further looks, evenly spread: for what changes at no threshold, such as an input.
const LOOKS: usize = 48;
/// Turns of a `modulo` that are followed at most; beyond that the condition counts as not permitting.
const TURNS_MAX: f64 = 4096.0;

impl Engine {
    /// The first time on the way at which something guarded moves as it is guarded and the condition, as far as the
    /// planned poses decide it, does not hold. `way` is 1 forwards from `from` s, -1 back.
    pub(super) fn interlock_ahead(&self, id: InterlockId, plan: &CuePlan, from: f64, way: f64) -> Option<Refusal> {
        let interlock = &self.show.interlocks[id.index()];
        let real = self.real_guarded(id);
        let end = if way > 0.0 { plan.duration } else { 0.0 };
        let mut first: Option<(f64, AtomId, Truth)> = None;
        let mut look = |time: f64| {
            // s from the start of the way, whichever way it goes.
            let into = (time - from) * way;
            let worth = (0.0..=(end - from).abs()).contains(&into) && first.is_none_or(|(found, ..)| into < found);
            if !worth || !interlock.guards.iter().any(|guard| moves_guarded(plan, *guard, time, way)) {
                return;
            }
            let then = |atom: AtomId| self.planned_for(real, atom, self.atom_at(atom, plan, time));
            if let Some((atom, truth)) = interlock.needs.culprit(&then) {
                first = Some((into, atom, truth));
            }
        };
        for index in 0..LOOKS {
            look(from + (end - from) * (index as f64 + 0.5) / LOOKS as f64);
        }
        let mut beside = |time: f64| [time - ASIDE, time + ASIDE].into_iter().for_each(&mut look);
        for step in &plan.moves {
            beside(step.delay);
            beside(step.end());
        }
        let followed = self.visit_changes(&interlock.needs, plan, &mut beside);
        if let (false, None, Some(atom)) = (followed, first, interlock.needs.first_atom()) {
            first = Some((0.0, atom, Truth::Unknown));
        }
        first.map(|(into, atom, truth)| {
            let reason = match self.world.interlocks[id.index()] {
                Truth::True => Reason::InterlockAlong { interlock: id, atom, truth, time: from + into * way },
                Truth::False | Truth::Unknown => Reason::Interlock { interlock: id, atom, truth },
            };
            self.unmet(reason, atom, real)
        })
    }

    /// Every time at which the plan takes an axis past a threshold of the condition; false if there are too many.
    fn visit_changes(&self, needs: &Condition, plan: &CuePlan, visit: &mut dyn FnMut(f64)) -> bool {
        match needs {
            Condition::Atom(id) => self.visit_thresholds(*id, plan, visit),
            Condition::All(parts) | Condition::Any(parts) => {
                parts.iter().all(|part| self.visit_changes(part, plan, visit))
            }
            Condition::Not(part) => self.visit_changes(part, plan, visit),
        }
    }

    fn visit_thresholds(&self, id: AtomId, plan: &CuePlan, visit: &mut dyn FnMut(f64)) -> bool {
        match &self.show.atoms[id.index()] {
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
                    let tolerance = self.show.axis(axis).tolerance;
                    visit_passing(plan, axis, target - tolerance, visit);
                    visit_passing(plan, axis, target + tolerance, visit);
                }
                true
            }
            Atom::Input(_) | Atom::CueState { .. } | Atom::CuePast { .. } => true,
        }
    }

    /// An atom with the cue's own axes where the plan has them at `time`, everything else as it is.
    fn atom_at(&self, id: AtomId, plan: &CuePlan, time: f64) -> Truth {
        let planned = |axis: AxisId| {
            let (step, path) = path_of(plan, axis)?;
            Some(path.from + step.profile.at(time - step.delay).position * (path.to - path.from))
        };
        let position = |axis: AxisId| planned(axis).or_else(|| self.world.position(axis));
        self.show.atoms[id.index()].of_pose(&self.show, &position).unwrap_or_else(|| self.world.atom(id))
    }
}

fn path_of(plan: &CuePlan, axis: AxisId) -> Option<(&MovePlan, &AxisPath)> {
    plan.moves.iter().find_map(|step| step.axes.iter().find(|path| path.axis == axis).map(|path| (step, path)))
}

fn moves_guarded(plan: &CuePlan, guard: Guard, time: f64, way: f64) -> bool {
    path_of(plan, guard.axis).is_some_and(|(step, path)| {
        let speed = step.profile.at(time - step.delay).speed * (path.to - path.from) * way;
        match guard.direction {
            None => speed != 0.0,
            Some(Direction::Up) => speed > 0.0,
            Some(Direction::Down) => speed < 0.0,
        }
    })
}

fn visit_passing(plan: &CuePlan, axis: AxisId, threshold: f64, visit: &mut dyn FnMut(f64)) {
    let Some((step, path)) = path_of(plan, axis) else { return };
    let part = (threshold - path.from) / (path.to - path.from);
    // Not a number, where the axis goes nowhere, is inside nothing.
    if (0.0..=1.0).contains(&part) {
        visit(step.delay + time_at(&step.profile, part));
    }
}

fn visit_turns(plan: &CuePlan, axis: AxisId, edge: f64, turn: f64, visit: &mut dyn FnMut(f64)) -> bool {
    let Some((_, path)) = path_of(plan, axis) else { return true };
    let first = ((path.from.min(path.to) - edge) / turn).ceil();
    let last = ((path.from.max(path.to) - edge) / turn).floor();
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

/// When the profile has come so far, s. It is monotone: halving finds the time to the last digit.
fn time_at(profile: &Profile, part: f64) -> f64 {
    let (mut early, mut late) = (0.0, profile.duration());
    for _ in 0..60 {
        let middle = (early + late) / 2.0;
        if profile.at(middle).position < part { early = middle } else { late = middle }
    }
    late
}
