//! One event.

use serde_json::{Map, Value, json};

use super::number;
use super::status::{near_json, truth_json};
use super::survey::found_json;
use crate::engine::{Event, EventKind, Fault, HandEvent};
use crate::show::{CueId, RigId};
use crate::wire::words::Words;

/// The contract's event, with `text`, one sentence for people. `time` is s since the daemon started.
///
/// Beside the contract's kinds there are `held`, `master`, `place`, `journal`, `injected` and `hand`. A standby that dropped is of kind `standby`, with
/// `dropped`; a lost link is of kind `client`.
pub fn event_json(event: &Event, time: f64, words: &Words<'_>) -> Value {
    let mut object = Map::new();
    object.insert("seq".into(), event.seq.into());
    object.insert("time".into(), number(time));
    object.insert("kind".into(), kind(&event.kind).into());
    if let Value::Object(details) = details(&event.kind, words) {
        object.extend(details);
    }
    object.insert("text".into(), words.event(&event.kind).into());
    Value::Object(object)
}

fn kind(kind: &EventKind) -> &'static str {
    match kind {
        EventKind::Standby { .. } | EventKind::Dropped { .. } => "standby",
        EventKind::Go { .. } => "go",
        EventKind::Refused { .. } => "refused",
        EventKind::Cue { .. } => "cue",
        EventKind::Held { .. } => "held",
        EventKind::Stop { .. } => "stop",
        EventKind::Standstill { .. } => "standstill",
        EventKind::Reset => "reset",
        EventKind::Armed { .. } | EventKind::PartSimulated { .. } => "armed",
        EventKind::Fault { .. } => "fault",
        EventKind::Interlock { .. } => "interlock",
        EventKind::Input { .. } => "input",
        EventKind::Master { .. } => "master",
        EventKind::Placed { .. } => "place",
        EventKind::Offered { .. } | EventKind::Replaced { .. } => "reload",
        EventKind::ClientLost { .. } => "client",
        EventKind::Journal { .. } => "journal",
        EventKind::SimFault { .. } => "injected",
        EventKind::Hand(_) => "hand",
    }
}

fn details(kind: &EventKind, words: &Words<'_>) -> Value {
    let show = words.show();
    let cue_number = |cue: CueId| show.number_of(cue);
    let client = |client: Option<_>| client.map(|client| words.client(client));
    match kind {
        EventKind::Standby { cue, ready } => json!({ "cue": cue_number(*cue), "ready": ready, "dropped": false }),
        EventKind::Dropped { cue, reasons } => json!({
            "cue": cue_number(*cue), "ready": false, "dropped": true, "reasons": words.refusal(reasons),
        }),
        EventKind::Go { cue, by } => json!({ "cue": cue_number(*cue), "by": client(*by) }),
        EventKind::Refused { request, client: asking, cue, reasons } => json!({
            "request": request.map(|request| request.0), "client": client(*asking), "cue": cue.map(cue_number),
            "reasons": words.refusal(reasons),
        }),
        EventKind::Cue { cue, state } => json!({ "cue": cue_number(*cue), "state": state.word() }),
        EventKind::Held { cue, by, reasons } => json!({
            "cue": cue.map(cue_number), "by": client(*by), "reasons": words.refusal(reasons),
        }),
        EventKind::Stop { cause } => json!({ "cause": words.cause(cause) }),
        EventKind::Standstill { at_rest, axis } => json!({
            "at_rest": at_rest, "axis": axis.map(|axis| words.axis(axis)),
        }),
        EventKind::Reset => Value::Null,
        EventKind::Armed { armed } => json!({ "armed": armed }),
        EventKind::Fault { fault } => fault_json(*fault, words),
        EventKind::PartSimulated { simulated, rigs } => {
            json!({ "armed": true, "simulated": simulated, "rigs": rigs })
        }
        EventKind::Interlock { interlock, truth } => json!({
            "interlock": show.interlocks[interlock.index()].name, "truth": truth_json(*truth),
        }),
        EventKind::Input { input, value } => json!({ "input": show.inputs[input.index()].name, "value": value }),
        EventKind::Master { value } => json!({ "master": number(*value) }),
        EventKind::Placed { cue, by } => json!({ "cue": cue_number(*cue), "by": words.client(*by) }),
        EventKind::Offered { differences } => json!({ "accepted": false, "differences": differences }),
        EventKind::Replaced { edition, armed } => json!({
            "accepted": true, "edition": edition, "armed": armed, "hash": show.hash,
        }),
        EventKind::ClientLost { client } => json!({ "client": words.client(*client), "lost": true }),
        EventKind::Journal { kept } => json!({ "kept": kept }),
        EventKind::SimFault { fault, on, by } => json!({
            "what": fault.kind().word(),
            "rig": fault.rig(show).map(|rig| show.rig(rig).name.as_str()),
            "axis": fault.axis().map(|axis| words.axis(axis)),
            "size": fault.size().filter(|_| *on).map(number),
            "on": on,
            "by": words.client(*by),
        }),
        EventKind::Hand(event) => hand_json(event, words),
    }
}

fn hand_json(event: &HandEvent, words: &Words<'_>) -> Value {
    let rig = |rig: &RigId| words.show().rig(*rig).name.as_str();
    match event {
        HandEvent::Taken { rig: of, client, sticks } => json!({
            "what": "taken", "rig": rig(of), "client": words.client(*client), "sticks": words.client(*sticks),
        }),
        HandEvent::Offered { rig: of, from, to } => json!({
            "what": "offered", "rig": rig(of), "client": words.client(*from), "to": to.map(|to| words.client(to)),
        }),
        HandEvent::GivenBack { rig: of, client, lost } => json!({
            "what": "given back", "rig": rig(of), "client": words.client(*client), "lost": lost,
        }),
        HandEvent::Stopped { rig: of, near } => json!({
            "what": "stopped", "rig": rig(of), "near": near_json(near, words),
        }),
        HandEvent::Tried { axis, found } => {
            let mut told = found_json(*axis, found, words);
            (told["what"], told["axis"]) = ("tried".into(), words.axis(*axis).into());
            told
        }
        HandEvent::Focus { rig: of, on } => json!({
            "what": "focus", "rig": rig(of), "on": on.as_ref().map(|on| words.aimed_at(on)),
        }),
        HandEvent::Barred { rig: of, interlock } => {
            let name = words.show().interlocks[interlock.index()].name.as_str();
            json!({ "what": "barred", "rig": rig(of), "interlock": name })
        }
        HandEvent::FocusLost { rig: of } => json!({ "what": "focus lost", "rig": rig(of) }),
        HandEvent::Ignored { axis, client, why: _ } => json!({
            "what": "ignored", "axis": words.axis(*axis), "client": words.client(*client),
        }),
    }
}

/// With the rig and the axis that it is about, if it is about one.
fn fault_json(fault: Fault, words: &Words<'_>) -> Value {
    let mut object = json!({
        "fault": words.fault(fault),
        "what": fault.kind().word(),
        "reaction": fault.reaction().word(),
    });
    if let Some(rig) = fault.rig(words.show()) {
        object["rig"] = words.show().rig(rig).name.as_str().into();
    }
    if let Some(axis) = fault.axis() {
        object["axis"] = words.axis(axis).into();
    }
    object
}
