//! Interlocks that the list itself makes false, as a cue starts or along its way.
//!
//! Every condition is judged from the poses that the list has, all else being unknown; only what is certainly false is
//! told. Along the cue that is exact ([`super::along`]).

use super::along::{look_along, moves_guarded};
use super::plan::{CuePlan, Plan};
use super::start_pose;
use crate::show::{Atom, AtomId, Code, Condition, Cue, CueId, Finding, Interlock, Otherwise, Show, Truth};

/// A place at which an interlock is false.
struct False {
    /// s, of the cue's own time.
    time: f64,
    atom: Option<AtomId>,
    /// By `AxisId`.
    pose: Vec<f64>,
}

/// Each cue by itself, everything else where the list leaves it.
pub fn find_blocked(show: &Show, plan: &Plan, findings: &mut Vec<Finding>) {
    for id in show.cue_ids() {
        let (cue, planned) = (show.cue(id), plan.cue(id));
        for interlock in &show.interlocks {
            let guarded =
                |time: f64| interlock.guards.iter().any(|&guard| moves_guarded(planned, guard, time, 1.0));
            let found = match interlock.otherwise {
                // It is asked at the start alone, if any part of the way is guarded.
                Otherwise::Refuse => goes(show, &interlock.needs, planned, &guarded)
                    .then(|| false_at(show, id, &interlock.needs, planned, 0.0))
                    .flatten(),
                Otherwise::Hold | Otherwise::Stop => first_false(show, id, &interlock.needs, planned, &guarded),
            };
            if let Some(found) = found {
                findings.push(told_interlock(show, cue, planned, interlock, &found));
            }
        }
    }
}

fn truth(show: &Show, own: CueId, time: f64, atom: AtomId, pose: &[f64]) -> Truth {
    match &show.atoms[atom.index()] {
        // At its GO a cue is past no time of its own; later it is.
        Atom::CuePast { cue, time: past } if *cue == own => Truth::of(time >= *past),
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
    first
}

/// Whether anything guarded moves as it is guarded at any time.
fn goes(show: &Show, needs: &Condition, plan: &CuePlan, guarded: &dyn Fn(f64) -> bool) -> bool {
    let mut goes = false;
    look_along(show, needs, plan, [0.0, plan.duration], &mut |time| goes |= guarded(time));
    goes
}

fn told_interlock(show: &Show, cue: &Cue, plan: &CuePlan, interlock: &Interlock, found: &False) -> Finding {
    let name = &interlock.name;
    let when = when(found.time);
    let message = format!(
        "cue {}: interlock '{name}' is false {when}: {}",
        cue.number,
        start_pose::told(show, found.atom, &found.pose)
    );
    let guard = interlock.guards.iter().find(|guard| plan.moved_axes()[guard.axis.index()]);
    let step = guard.and_then(|guard| cue.moves.iter().find(|step| step.rig == show.axis(guard.axis).rig));
    let mut finding = Finding::new(Code::InterlockBlocked, message)
        .at(step.map_or(cue.place, |step| step.place))
        .also(interlock.place, "this interlock")
        .cue(&cue.number)
        .time(found.time)
        .fix(match interlock.otherwise {
            Otherwise::Refuse => {
                "its GO would be refused: change where the cues before leave the rig, or the interlock"
            }
            Otherwise::Hold => "it would be held there: change where the rigs are by then, or the interlock",
            Otherwise::Stop => {
                "everything would be stopped there: change where the rigs are by then, or the interlock"
            }
        });
    if let Some(guard) = guard {
        finding = finding.rig(&show.rig(show.axis(guard.axis).rig).name).axis(show.axis_name(guard.axis));
    }
    finding
}

fn when(time: f64) -> String {
    if time < 0.05 { "as it starts".to_owned() } else { format!("{time:.1} s into it") }
}
