//! The status object, sent whole.

use serde_json::{Map, Value, json};

use super::survey::trial_json;
use super::{age, any_simulated, number};
use crate::engine::{
    Cause, Fault, HandStatus, InputStatus, Leg, Reason, Refusal, Running, Standby, Status, Stopped, Truth, Waiting,
    Way,
};
use crate::proof::Near;
use crate::show::{AxisId, CueId, Input, RigId};
use crate::wire::words::Words;

/// The contract's status. `seq` rises from status to status; `time` is s since the daemon started. What only the
/// daemon knows (`loop`, `counters`, `stage`, the rigs' `injected`) is put in beside it by the daemon.
pub fn status_json(seq: u64, time: f64, status: &Status, words: &Words<'_>) -> Value {
    let show = words.show();
    let words = &words.seeing(status);
    let number_of = |cue| show.number_of(cue);
    json!({
        "seq": seq,
        "time": number(time),
        "show": show.name,
        "hash": show.hash,
        "simulated": any_simulated(show) || status.rigs.iter().any(|rig| rig.simulated),
        "clearance": "proved",
        "armed": status.armed,
        "master": number(status.master),
        "rate": number(status.rate),
        "held": status.held,
        "stop_bound": number(status.stop_bound),
        "stopped": status.stopped.as_ref().map(|stopped| stopped_json(stopped, words)),
        "faults": status.faults.iter().map(|&fault| fault_json(fault, words)).collect::<Value>(),
        "standby": status.standby.iter().map(|standby| standby_json(standby, words)).collect::<Value>(),
        "running": status.running.iter().map(|running| running_json(running, words)).collect::<Value>(),
        "waiting": status.waiting.iter().map(|waiting| waiting_json(waiting, words)).collect::<Value>(),
        "preset": status.way.as_ref().map(|way| way_json(way, words)),
        "cues": show.cue_ids().map(|id| (number_of(id), status.cues[id.index()].word().into()))
            .collect::<Map<String, Value>>(),
        "rigs": show.rig_ids().map(|id| (show.rig(id).name.clone(), rig_json(id, status, words)))
            .collect::<Map<String, Value>>(),
        "inputs": show.inputs.iter().zip(&status.inputs).map(|(input, found)| (input.name.clone(), input_json(input, found)))
            .collect::<Map<String, Value>>(),
        "interlocks": show.interlocks.iter().zip(&status.interlocks)
            .map(|(interlock, &truth)| (interlock.name.clone(), truth_json(truth)))
            .collect::<Map<String, Value>>(),
    })
}

/// One fault that is present: its kind and reaction as in the table, of which rig and axis, and what to do.
pub(super) fn fault_json(fault: Fault, words: &Words<'_>) -> Value {
    let show = words.show();
    json!({
        "fault": fault.kind().word(),
        "reaction": fault.reaction().word(),
        "rig": fault.rig(show).map(|rig| show.rig(rig).name.as_str()),
        "axis": fault.axis().map(|axis| show.axis(axis).name.as_str()),
        "text": words.fault(fault),
    })
}

fn stopped_json(stopped: &Stopped, words: &Words<'_>) -> Value {
    let causes = stopped.causes.iter();
    json!({
        "by": words.cause(&stopped.by),
        "causes": causes.clone().map(|(cause, _)| words.cause(cause)).collect::<Value>(),
        "remaining": causes.clone().filter(|(_, stands)| *stands).map(|(cause, _)| words.cause(cause)).collect::<Value>(),
        "ways_out": causes.filter_map(|(cause, _)| way_out(*cause, words)).collect::<Value>(),
        "standstill": stopped.standstill,
    })
}

/// How a hand ends what made everything stop.
fn way_out(cause: Cause, words: &Words<'_>) -> Option<String> {
    match cause {
        Cause::Interlock(interlock) => words.way_out(interlock),
        Cause::Request(_) | Cause::Fault(_) => None,
    }
}

fn standby_json(standby: &Standby, words: &Words<'_>) -> Value {
    json!({
        "cue": words.show().number_of(standby.cue),
        "name": name_of(standby.cue, words),
        "ready": standby.ready,
        "returning": standby.returning,
        "from": number(standby.from),
        "reasons": words.refusal(&standby.reasons),
        "notes": standby.aside.iter().map(|aside| words.aside(standby.cue, aside)).collect::<Value>(),
        "clear": standby.clear.iter().map(|span| json!([number(span.from), span.to.map(number)])).collect::<Value>(),
        "preset": offers_preset(&standby.reasons),
    })
}

/// A preset is offered once it is proved.
fn offers_preset(reasons: &Refusal) -> bool {
    let any = |of: fn(&Reason) -> bool| reasons.reasons.iter().any(of);
    any(Reason::offers_preset) && !any(Reason::withholds_preset)
}

/// What the stage manager calls it; a preset is called by where it leads, and which take it is the daemon knows.
fn name_of(cue: CueId, words: &Words<'_>) -> String {
    match words.show().listed(cue) {
        Some(cue) => cue.name.clone(),
        None if cue == words.show().take_id() => "Take".into(),
        None => "Preset".into(),
    }
}

/// Rig after rig, with s of the preset's own time.
fn way_json(way: &Way, words: &Words<'_>) -> Value {
    let show = words.show();
    let leg = |leg: &Leg| {
        let rig = show.rig(leg.rig);
        let mark = leg.to_mark.map(|mark| rig.marks[mark].name.as_str());
        json!({ "rig": rig.name, "from": number(leg.from), "until": number(leg.until), "to_mark": mark })
    };
    json!({ "cue": show.number_of(way.to), "by_hand": way.by_hand, "rigs": way.legs.iter().map(leg).collect::<Value>() })
}

fn running_json(running: &Running, words: &Words<'_>) -> Value {
    json!({
        "cue": words.show().number_of(running.cue),
        "name": name_of(running.cue, words),
        "state": running.state.word(),
        "time": number(running.time),
        "duration": number(running.duration),
        "rate": number(running.rate),
        "left": number(running.left),
    })
}

fn waiting_json(waiting: &Waiting, words: &Words<'_>) -> Value {
    let cue = words.show().cue(waiting.cue);
    json!({ "cue": cue.number.to_string(), "name": cue.name, "left": waiting.left.map(number) })
}

fn rig_json(id: RigId, status: &Status, words: &Words<'_>) -> Value {
    let found = &status.rigs[id.index()];
    let axes = words.show().rig(id).axis_ids();
    json!({
        "state": found.state.word(),
        "owner": words.owner(found.owner),
        "simulated": found.simulated,
        "age": age(found.age),
        "hand": found.hand.as_ref().map(|hand| hand_json(id, hand, status, words)),
        "axes": axes.map(|axis| (words.show().axis(axis).name.clone(), axis_json(axis, status, words)))
            .collect::<Map<String, Value>>(),
    })
}

/// Of a rig in hand: who has it, whose sticks drive it, to whom it is offered, what is in its way, and of which axes the
/// stick has to be at zero before it counts.
fn hand_json(rig: RigId, hand: &HandStatus, status: &Status, words: &Words<'_>) -> Value {
    let show = words.show();
    let waiting = show.rig(rig).axis_ids().filter(|axis| status.axes[axis.index()].waits);
    json!({
        "client": words.client(hand.client),
        "sticks": words.client(hand.sticks),
        "offered": hand.offered.map(|client| words.client(client)),
        "let_go": hand.let_go,
        "near": hand.near.as_ref().map(|near| near_json(near, words)),
        "interlock": hand.barred.map(|id| show.interlocks[id.index()].name.as_str()),
        "way_out": hand.barred.and_then(|id| words.way_out(id)),
        "survey": hand.survey,
        "trial": hand.trial.as_ref().map(|trial| trial_json(trial, words)),
        "focus": hand.focus.as_ref().map(|focus| json!({
            "on": words.aimed_at(&focus.on),
            "state": focus.state.word(),
            "distance": number(focus.distance),
            "offset": number(focus.offset),
            "off": number(focus.off),
        })),
        "waits": waiting.map(|axis| show.axis(axis).name.as_str()).collect::<Value>(),
    })
}

/// Two bodies, m between them, and m that must remain.
pub(super) fn near_json(near: &Near, words: &Words<'_>) -> Value {
    json!({
        "bodies": near.parties.map(|party| party.name(words.show())),
        "distance": number(near.distance),
        "margin": number(near.margin),
    })
}

fn axis_json(id: AxisId, status: &Status, words: &Words<'_>) -> Value {
    let found = &status.axes[id.index()];
    let axis = words.show().axis(id);
    json!({
        "state": found.state.word(),
        "unit": axis.unit.word(),
        "travel": super::numbers(axis.travel),
        "surveyed": axis.surveyed,
        "position": found.position.map(number),
        "speed": found.speed.map(number),
        "setpoint": number(found.setpoint),
    })
}

fn input_json(input: &Input, found: &InputStatus) -> Value {
    json!({
        "value": found.value,
        "age": age(found.age),
        "max_age": number(input.max_age.seconds()),
        "truth": truth_json(found.truth),
        "tripped": found.tripped,
    })
}

pub(super) fn truth_json(truth: Truth) -> Value {
    match truth {
        Truth::True => true.into(),
        Truth::False => false.into(),
        Truth::Unknown => Value::Null,
    }
}
