//! The act as the list has it: when each cue would run if every call came as planned, without running it.

use crate::proof::{Plan, meet};
use crate::show::{After, Atom, Condition, CueId, CueState, Show};

/// Of one cue, s from the first GO.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Slot {
    pub from: f64,
    pub to: f64,
}

/// By `CueId`. A call comes its `gap` after the call before, or without one as soon as everything before has ended; it
/// waits for the axes that it needs and for the cues that its conditions name. A follow starts as it is written, one of a
/// condition as soon as other cues let it. Inputs and poses count as true.
pub fn schedule(show: &Show, plan: &Plan) -> Vec<Slot> {
    let mut slots: Vec<Slot> = Vec::with_capacity(show.cues.len());
    // By `AxisId`: until when a cue before has it.
    let mut busy = vec![0.0_f64; show.axes.len()];
    let mut called: Option<f64> = None;
    for id in show.cue_ids() {
        let cue = show.cue(id);
        let owned = || plan.cue(id).moves.iter().flat_map(|step| step.axes.iter().map(|path| path.axis));
        let free = owned()
            .flat_map(|axis| show.axis_ids().filter(move |&other| meet(show, axis, other)))
            .map(|axis| busy[axis.index()])
            .fold(0.0, f64::max);
        let needs = cue.needs.as_ref().map_or(0.0, |needs| true_from(show, &slots, needs));
        let ready = free.max(needs);
        let slot_of = |cue: CueId| slots.get(cue.index()).copied();
        let from = match &cue.after {
            Some(After::Start { cue, wait }) => slot_of(*cue).map_or(ready, |lead| lead.from + wait),
            Some(After::End { cue, wait }) => slot_of(*cue).map_or(ready, |lead| lead.to + wait),
            Some(After::When(condition)) => {
                let before = slots.last().map_or(0.0, |slot| slot.from);
                ready.max(before).max(true_from(show, &slots, condition))
            }
            None => {
                let over = slots.iter().map(|slot| slot.to).fold(0.0, f64::max);
                let due = called.map_or(0.0, |called| {
                    cue.gap.map_or(over.max(called + show.settings.guard.seconds()), |gap| called + gap)
                });
                let from = due.max(ready);
                called = Some(from);
                from
            }
        };
        let slot = Slot { from, to: from + plan.cue(id).duration };
        owned().for_each(|axis| busy[axis.index()] = busy[axis.index()].max(slot.to));
        slots.push(slot);
    }
    slots
}

/// s; the earliest, as far as other cues decide it.
fn true_from(show: &Show, slots: &[Slot], condition: &Condition) -> f64 {
    match condition {
        Condition::Atom(atom) => match &show.atoms[atom.index()] {
            Atom::CueState { cue, state: CueState::Done } => slots.get(cue.index()).map_or(0.0, |slot| slot.to),
            Atom::CuePast { cue, time } => {
                slots.get(cue.index()).map_or(0.0, |slot| (slot.from + time).min(slot.to))
            }
            Atom::CueState { .. }
            | Atom::Above { .. }
            | Atom::Below { .. }
            | Atom::Within { .. }
            | Atom::At { .. }
            | Atom::Input(_) => 0.0,
        },
        Condition::All(parts) => parts.iter().map(|part| true_from(show, slots, part)).fold(0.0, f64::max),
        Condition::Any(parts) => {
            let soonest = parts.iter().map(|part| true_from(show, slots, part)).fold(f64::INFINITY, f64::min);
            if soonest.is_finite() { soonest } else { 0.0 }
        }
        Condition::Not(_) => 0.0,
    }
}

/// s, until the last has ended.
pub fn length(slots: &[Slot]) -> f64 {
    slots.iter().map(|slot| slot.to).fold(0.0, f64::max)
}

/// s for which anything moves.
pub fn motion(show: &Show, plan: &Plan, slots: &[Slot]) -> f64 {
    let mut stretches: Vec<Slot> = show
        .cue_ids()
        .flat_map(|id| {
            let begins = slots[id.index()].from;
            plan.cue(id).moves.iter().map(move |step| Slot { from: begins + step.delay, to: begins + step.end() })
        })
        .collect();
    stretches.sort_by(|a, b| a.from.total_cmp(&b.from));
    let (mut sum, mut until) = (0.0, 0.0_f64);
    for stretch in stretches {
        sum += (stretch.to - stretch.from.max(until)).max(0.0);
        until = until.max(stretch.to);
    }
    sum
}
