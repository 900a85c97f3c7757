//! `rehearse --json`: one document, also when the show does not read well.

use serde::Serialize;
use serde_json::{Map, Value, json};

use super::cautions::CAUTIONS;
use super::check_json::{FindingEntry, finding_entry};
use super::rehearsal_words::{ending, not_proved, reasons};
use super::rounded;
use crate::rehearsal::{AxisRecord, CueRecord, Ending, Options, Peaks, Rehearsal, client};
use crate::show::{Axis, Finding, Limits, Reading, Show};
use crate::wire::words::Words;

#[derive(Serialize)]
struct Document<'a> {
    show: Option<&'a str>,
    hash: Option<&'a str>,
    clean: bool,
    ending: &'static str,
    why: Option<String>,
    master: f64,
    seed: Option<u64>,
    in_hand: usize,
    act: Option<f64>,
    length: f64,
    ticks: u64,
    fingerprint: Option<String>,
    cues: Vec<Value>,
    axes: Map<String, Value>,
    events: Vec<Value>,
    findings: Vec<FindingEntry<'a>>,
    not_proved: Vec<String>,
    cautions: [&'static str; CAUTIONS.len()],
}

/// The document; `rehearsal` is there if the show has no errors. Times are s of virtual time since arming.
///
/// ```text
/// { "show", "hash", "clean": bool, "ending": "complete" | "interrupted" | "not-armed" | "stopped" | "held" | "broken"
///     | "errors", "why": text | null, "master", "seed": n | null,
///   "in_hand": times that a rig was taken in hand, "act": s | null, "length": s, "ticks": n,
///   "fingerprint": hex | null (equal for rehearsals that went alike to the bit),
///   "cues": [{ "number", "name", "outcome": "done" | "refused" | "no-leader" | "no-condition" | "on-its-way"
///       | "not-reached", "reasons": [text], "due": s | null, "fired": s | null, "ended": s | null, "planned": s,
///       "taken": s | null, "interrupted": s, "stop_bound": s, "states": [{ "time", "state" }],
///       "axes": { "rig.axis": peaks } }],
///   "axes": { "rig.axis": peaks over all cues },
///   "events": [{ "time", "message" }], "findings": [as in check], "not_proved": [text], "cautions": [text] }
/// ```
/// `peaks` is `{ "running": { "speed", "acceleration", "jerk" }, "stopping": { the same }, "lag" }`, each a
/// `{ "value", "limit" }` in the axis's unit per s, s² and s³; `lag` is the following error.
pub fn rehearsal_json(
    reading: &Reading,
    show: Option<&Show>,
    findings: &[Finding],
    options: &Options,
    rehearsal: Option<&Rehearsal>,
) -> Value {
    let both = show.zip(rehearsal);
    let document = Document {
        show: show.map(|show| show.name.as_str()),
        hash: reading.hash.as_deref(),
        clean: rehearsal.is_some_and(Rehearsal::is_clean),
        ending: rehearsal.map_or("errors", |rehearsal| ending_word(&rehearsal.ending)),
        why: match both {
            Some((show, rehearsal)) => ending(show, &rehearsal.ending),
            None => Some("the show has errors: see findings".into()),
        },
        master: options.master,
        seed: options.seed,
        in_hand: rehearsal.map_or(0, Rehearsal::taken_in_hand),
        act: rehearsal.and_then(Rehearsal::act).map(rounded),
        length: rehearsal.map_or(0.0, |rehearsal| rounded(rehearsal.length)),
        ticks: rehearsal.map_or(0, |rehearsal| rehearsal.ticks),
        fingerprint: rehearsal.map(|rehearsal| format!("{:016x}", rehearsal.fingerprint)),
        cues: both.map_or_else(Vec::new, |(show, rehearsal)| {
            rehearsal.cues.iter().map(|record| cue(show, record)).collect()
        }),
        axes: both.map_or_else(Map::new, |(show, rehearsal)| axes(show, &rehearsal.axes(show))),
        events: both.map_or_else(Vec::new, |(show, rehearsal)| events(show, rehearsal)),
        findings: findings.iter().map(|finding| finding_entry(reading, finding)).collect(),
        not_proved: not_proved(show, options),
        cautions: CAUTIONS,
    };
    serde_json::to_value(document).expect("texts and finite numbers are JSON")
}

fn ending_word(ending: &Ending) -> &'static str {
    match ending {
        Ending::Complete => "complete",
        Ending::Interrupted => "interrupted",
        Ending::NotArmed(_) => "not-armed",
        Ending::Stopped(_) => "stopped",
        Ending::Held(_) => "held",
        Ending::Broken(_) => "broken",
    }
}

fn cue(show: &Show, record: &CueRecord) -> Value {
    let cue = show.cue(record.cue);
    let states = record.states.iter().map(|(time, state)| json!({ "time": rounded(*time), "state": state.word() }));
    json!({
        "number": cue.number.to_string(),
        "name": cue.name,
        "outcome": record.outcome.word(),
        "reasons": reasons(show, record),
        "due": record.due.map(rounded),
        "fired": record.fired.map(rounded),
        "ended": record.ended.map(rounded),
        "planned": rounded(record.planned),
        "taken": record.taken().map(rounded),
        "interrupted": rounded(record.interrupted),
        "stop_bound": rounded(record.stop_bound),
        "states": states.collect::<Vec<_>>(),
        "axes": axes(show, &record.axes),
    })
}

fn axes(show: &Show, records: &[AxisRecord]) -> Map<String, Value> {
    records.iter().map(|record| (show.axis_name(record.axis), peaks(show.axis(record.axis), record))).collect()
}

fn peaks(axis: &Axis, record: &AxisRecord) -> Value {
    json!({
        "running": against(record.running, axis.run),
        "stopping": against(record.stopping, axis.stop),
        "lag": of_limit(record.lag, axis.lag_limit),
    })
}

fn against(peaks: Peaks, limits: Limits) -> Value {
    json!({
        "speed": of_limit(peaks.speed, limits.speed),
        "acceleration": of_limit(peaks.acceleration, limits.acceleration),
        "jerk": of_limit(peaks.jerk, limits.jerk),
    })
}

fn of_limit(value: f64, limit: f64) -> Value {
    json!({ "value": rounded(value), "limit": rounded(limit) })
}

fn events(show: &Show, rehearsal: &Rehearsal) -> Vec<Value> {
    let words = Words::new(show, &client);
    let told = rehearsal.events.iter();
    told.map(|(time, event)| json!({ "time": rounded(*time), "message": words.event(&event.kind) })).collect()
}
