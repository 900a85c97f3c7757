//! Interlocks along a path that has not been run yet, as far as the planned poses decide them.

use super::reason::Reason;
use super::refusal::Refusal;
use super::tick::Engine;
use crate::proof::{CuePlan, look_along, moves_guarded, path_of};
use crate::show::{AtomId, AxisId, InterlockId, Truth};

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
        let followed = look_along(&self.show, &interlock.needs, plan, [from, end], &mut look);
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

    /// An atom with the cue's own axes where the plan has them at `time`, everything else as it is.
    fn atom_at(&self, id: AtomId, plan: &CuePlan, time: f64) -> Truth {
        let planned = |axis: AxisId| {
            let (step, path) = path_of(plan, axis)?;
            Some(step.at(path, time).position)
        };
        let position = |axis: AxisId| planned(axis).or_else(|| self.world.position(axis));
        self.show.atoms[id.index()].of_pose(&self.show, &position).unwrap_or_else(|| self.world.atom(id))
    }
}
