//! One cue by itself, everything else where the list leaves it.

use super::{Rule, told};
use crate::proof::along::{ASIDE, look_along, moves_guarded, own_pasts};
use crate::proof::plan::{CuePlan, Plan};
use crate::show::{Atom, AtomId, Condition, CueId, Finding, InterlockId, Show, Truth};

/// A place at which a condition is false.
pub struct False {
    /// s, of the cue's own time.
    pub time: f64,
    pub atom: Option<AtomId>,
    /// By `AxisId`.
    pub pose: Vec<f64>,
}

/// What each cue by itself finds false, told or known already: nobody needs to hear it again of two.
pub fn find_alone(show: &Show, plan: &Plan, findings: &mut Vec<Finding>) -> Vec<(CueId, Rule)> {
    let mut known = Vec::new();
    for id in show.cue_ids() {
        for rule in (0..show.interlocks.len()).map(|index| Rule::Interlock(InterlockId::new(index))) {
            if let Some(found) = interlock_false(show, id, plan.cue(id), rule) {
                findings.push(told::alone(show, id, plan.cue(id), rule, &found));
                known.push((id, rule));
            }
        }
        let rule = Rule::Needs(id);
        let Some(needs) = rule.condition(show) else { continue };
        let along = first_false(show, id, needs, plan.cue(id), &|_| true);
        // What is false at the GO is told as a wrong start.
        let at_start = false_at(show, id, needs, plan.cue(id), 0.0).is_some();
        if let (false, Some(found)) = (at_start, &along) {
            findings.push(told::alone(show, id, plan.cue(id), rule, found));
        }
        if at_start || along.is_some() {
            known.push((id, rule));
        }
    }
    known
}

fn interlock_false(show: &Show, cue: CueId, plan: &CuePlan, rule: Rule) -> Option<False> {
    let Rule::Interlock(id) = rule else { return None };
    let interlock = &show.interlocks[id.index()];
    let guarded = |time: f64| interlock.guards.iter().any(|&guard| moves_guarded(plan, guard, time, 1.0));
    // Also of one that only refuses: a GO looks all along the way.
    first_false(show, cue, &interlock.needs, plan, &guarded)
}

fn truth(show: &Show, own: CueId, time: f64, atom: AtomId, pose: &[f64]) -> Truth {
    match &show.atoms[atom.index()] {
        // At its GO a cue is past no time of its own; later it is.
        Atom::CuePast { cue, time: past } if *cue == own => Truth::of(time > *past),
        atom => atom.of_pose(show, &|axis| Some(pose[axis.index()])).unwrap_or(Truth::Unknown),
    }
}

fn false_at(show: &Show, own: CueId, needs: &Condition, plan: &CuePlan, time: f64) -> Option<False> {
    let mut pose = plan.start.clone();
    plan.pose_at(time, &mut pose);
    let judged = |atom: AtomId| truth(show, own, time, atom, &pose);
    let is_false = needs.judge(&judged) == Truth::False;
    let atom = needs.atoms().into_iter().find(|&atom| judged(atom) == Truth::False);
    is_false.then_some(False { time, atom, pose })
}

fn first_false(
    show: &Show,
    own: CueId,
    needs: &Condition,
    plan: &CuePlan,
    counts: &dyn Fn(f64) -> bool,
) -> Option<False> {
    let mut first: Option<False> = None;
    let mut look = |time: f64| {
        let sooner = first.as_ref().is_none_or(|found| time < found.time);
        if sooner && (0.0..=plan.duration).contains(&time) && counts(time) {
            first = false_at(show, own, needs, plan, time).or(first.take());
        }
    };
    look_along(show, needs, plan, [0.0, plan.duration], &mut look);
    for past in own_pasts(show, own, needs) {
        [past - ASIDE, past + ASIDE].into_iter().for_each(&mut look);
    }
    first
}
