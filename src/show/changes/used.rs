//! Where a thing is used: the question before it is changed once more.

use super::Subject;
use crate::show::id::{AtomId, CueId};
use crate::show::list::{After, Aim, Cue, Move};
use crate::show::model::{Atom, Condition, Interlock, Show};

/// The cues that use it, in the order of the list.
pub fn used_in(show: &Show, subject: &Subject) -> Vec<CueId> {
    show.cue_ids().filter(|&id| uses(show, show.cue(id), subject)).collect()
}

fn uses(show: &Show, cue: &Cue, subject: &Subject) -> bool {
    let named = |wanted: &dyn Fn(&Atom) -> bool| {
        let own = conditions(cue).any(|condition| names(show, condition, wanted));
        own || guarding(show, cue).any(|interlock| names(show, &interlock.needs, wanted))
    };
    match subject {
        Subject::Setting(_) | Subject::Zone(_) | Subject::Pair(_) | Subject::Cue { .. } => false,
        Subject::Input(name) => {
            named(&|atom| matches!(atom, Atom::Input(id) if show.inputs[id.index()].name == *name))
        }
        Subject::Interlock(name) => guarding(show, cue).any(|interlock| interlock.name == *name),
        Subject::Rig(name) => cue.moves.iter().any(|step| {
            let rigs = [Some(step.rig), step.aim.as_ref().and_then(Aim::rig)];
            rigs.into_iter().flatten().any(|rig| show.rig(rig).name == *name)
        }),
        Subject::Axis { rig, axis, .. } => {
            let full = format!("{rig}.{axis}");
            let moved = cue.moves.iter().flat_map(Move::axes).any(|axis| show.axis_name(axis) == full);
            moved || named(&|atom| of_axis(show, atom, &full))
        }
        Subject::Mark { rig, mark } => {
            let goes = cue.moves.iter().any(|step| {
                let mut named = step.mark.iter().chain(step.via.iter().map(|via| &via.mark));
                show.rig(step.rig).name == *rig && named.any(|written| written == mark)
            });
            let at = |atom: &Atom| matches!(atom, Atom::At { rig: of, mark: at, .. } if show.rig(*of).name == *rig && at == mark);
            goes || named(&at)
        }
    }
}

fn of_axis(show: &Show, atom: &Atom, name: &str) -> bool {
    match atom {
        Atom::Above { axis, .. } | Atom::Below { axis, .. } | Atom::Within { axis, .. } => {
            show.axis_name(*axis) == name
        }
        Atom::At { pose, .. } => pose.iter().any(|(axis, _)| show.axis_name(*axis) == name),
        Atom::Input(_) | Atom::CueState { .. } | Atom::CuePast { .. } => false,
    }
}

fn conditions(cue: &Cue) -> impl Iterator<Item = &Condition> {
    let when = match &cue.after {
        Some(After::When(condition)) => Some(condition),
        Some(After::Start { .. } | After::End { .. }) | None => None,
    };
    cue.needs.iter().chain(when)
}

/// The interlocks that guard an axis which the cue moves.
fn guarding<'a>(show: &'a Show, cue: &'a Cue) -> impl Iterator<Item = &'a Interlock> {
    let moves = |axis| cue.moves.iter().any(|step| step.axes().any(|moved| moved == axis));
    show.interlocks.iter().filter(move |interlock| interlock.guards.iter().any(|guard| moves(guard.axis)))
}

fn names(show: &Show, condition: &Condition, wanted: &dyn Fn(&Atom) -> bool) -> bool {
    let atom = |id: &AtomId| wanted(&show.atoms[id.index()]);
    match condition {
        Condition::Atom(id) => atom(id),
        Condition::All(parts) | Condition::Any(parts) => parts.iter().any(|part| names(show, part, wanted)),
        Condition::Not(part) => names(show, part, wanted),
    }
}
