//! `check --json`: one document, also when the files do not read well.

use serde::Serialize;
use serde_json::{Map, Value, json};

use super::onward::onward_json;
use super::rounded;
use crate::engine::ClientId;
use crate::proof::{Apart, Closest, CuePlan, Proof, Rests, Stop, Stretch, Window, look_onward};
use crate::show::{Code, CueId, Finding, Reading, Severity, Show};
use crate::wire::words::Words;

/// What no proof here covers; told with every check.
pub const NOT_SEEN: [&str; 7] = [
    "people",
    "cables",
    "load swing",
    "scenery that is no body",
    "the model's own error",
    "what the survey did not measure",
    "a rig of which one axis jams",
];

#[derive(Serialize)]
struct Document<'a> {
    show: Option<&'a str>,
    hash: Option<&'a str>,
    rigs: usize,
    axes: usize,
    cues: Vec<CueEntry>,
    findings: Vec<FindingEntry<'a>>,
    not_seen: [&'static str; NOT_SEEN.len()],
}

#[derive(Serialize)]
struct CueEntry {
    number: String,
    name: String,
    duration: f64,
    stop_time: f64,
    worst_stop: Option<StopEntry>,
    /// By the time at which a stop is asked for, what can be done from where it leaves the cue.
    stops: Value,
    bottleneck: Option<String>,
    start: Map<String, Value>,
    end: Map<String, Value>,
    least_clearance: Option<ClearanceEntry>,
    clear_spans: Vec<SpansEntry>,
    apart: Vec<ApartEntry>,
    rests_on: Vec<ApartEntry>,
    /// Cues that cannot run if this one is skipped and nothing is preset.
    if_skipped: Vec<String>,
}

/// The stop of a cue that takes longest, and where it leaves everything.
#[derive(Serialize)]
struct StopEntry {
    /// s, of the cue's own time: when it is asked for, and when it stands.
    asked: f64,
    rests: f64,
    pose: Map<String, Value>,
}

/// Where a cue comes nearest to anything: of bodies grown by the start tolerances.
#[derive(Serialize)]
struct ClearanceEntry {
    /// m
    value: f64,
    /// A body that the cue moves, and another or a zone: `rig/axis/index`, `rig/base/index`, `zone/name`.
    bodies: [String; 2],
    /// s, of the cue's own time.
    time: f64,
}

/// When a cue may be fired while another runs, both then at one rate.
#[derive(Serialize)]
struct SpansEntry {
    after: String,
    /// s, of the running cue's own time.
    clear: Vec<[f64; 2]>,
    hold_safe_from: Option<f64>,
    stall_safe_from: Option<f64>,
}

/// An earlier cue during which a cue cannot be fired, or that it needs to have run, and why.
#[derive(Serialize)]
struct ApartEntry {
    from: String,
    because: String,
}

#[derive(Serialize)]
pub(super) struct FindingEntry<'a> {
    code: Code,
    severity: Severity,
    message: &'a str,
    fix: Option<&'a str>,
    file: Option<&'a str>,
    line: Option<u32>,
    column: Option<u32>,
    cues: &'a [String],
    rigs: &'a [String],
    axes: &'a [String],
    time: Option<f64>,
    other_time: Option<f64>,
    value: Option<f64>,
    limit: Option<f64>,
    /// By `rig.axis`, of a finding about how some axes stand.
    #[serde(skip_serializing_if = "Option::is_none")]
    pose: Option<Map<String, Value>>,
}

/// The document of the contract; `proof` is there if the show is. `findings` are those of reading and proof.
pub fn check_json(reading: &Reading, proof: Option<&Proof>, findings: &[Finding]) -> Value {
    let show = reading.show.as_ref();
    let cues = match (show, proof) {
        (Some(show), Some(proof)) => show.cue_ids().map(|id| cue_entry(show, id, proof)).collect(),
        (None, _) | (_, None) => Vec::new(),
    };
    let document = Document {
        show: show.map(|show| show.name.as_str()),
        hash: reading.hash.as_deref(),
        rigs: show.map_or(0, |show| show.rigs.len()),
        axes: show.map_or(0, |show| show.axes.len()),
        cues,
        findings: findings.iter().map(|finding| finding_entry(reading, finding)).collect(),
        not_seen: NOT_SEEN,
    };
    serde_json::to_value(document).expect("texts and finite numbers are JSON")
}

fn cue_entry(show: &Show, id: CueId, proof: &Proof) -> CueEntry {
    let (cue, plan) = (show.cue(id), proof.plan.cue(id));
    let clearance = |closest: &Closest| ClearanceEntry {
        value: rounded(closest.value),
        bodies: closest.parties.map(|party| party.name(show)),
        time: rounded(closest.time),
    };
    CueEntry {
        number: cue.number.to_string(),
        name: cue.name.clone(),
        duration: rounded(plan.duration),
        stop_time: rounded(plan.stop_time),
        worst_stop: proof.stops[id.index()].worst().map(|stop| stop_entry(show, plan, stop)),
        stops: stops(show, id, proof),
        bottleneck: plan.bottleneck.map(|axis| show.axis_name(axis)),
        start: pose(show, &plan.start),
        end: pose(show, &plan.end),
        least_clearance: proof.closest[id.index()].as_ref().map(clearance),
        clear_spans: spans(show, id, proof),
        apart: proof.plan.maps.apart[id.index()].iter().map(|(from, why)| apart_entry(show, *from, why)).collect(),
        rests_on: proof.skips.rests_on[id.index()].iter().map(|(on, why)| rests_entry(show, *on, why)).collect(),
        if_skipped: proof.skips.breaks[id.index()].iter().map(|&cue| show.cue(cue).number.to_string()).collect(),
    }
}

fn stops(show: &Show, id: CueId, proof: &Proof) -> Value {
    let nobody = |_: ClientId| String::new();
    onward_json(&Words::new(show, &nobody), &look_onward(show, &proof.plan, id, &proof.stops[id.index()]))
}

fn stop_entry(show: &Show, plan: &CuePlan, stop: &Stop) -> StopEntry {
    let mut positions = plan.start.clone();
    plan.pose_at(stop.rests, &mut positions);
    StopEntry { asked: rounded(stop.asked), rests: rounded(stop.rests), pose: pose(show, &positions) }
}

fn spans(show: &Show, id: CueId, proof: &Proof) -> Vec<SpansEntry> {
    let entry = |window: Window| SpansEntry {
        after: show.cue(window.after).number.to_string(),
        clear: stretches(&window.clear),
        hold_safe_from: window.hold_safe_from.map(rounded),
        stall_safe_from: window.stall_safe_from.map(rounded),
    };
    proof.plan.maps.windows(id).into_iter().map(entry).collect()
}

pub(super) fn stretches(clear: &[Stretch]) -> Vec<[f64; 2]> {
    clear.iter().map(|stretch| [rounded(stretch.from), rounded(stretch.to)]).collect()
}

fn apart_entry(show: &Show, from: CueId, why: &Apart) -> ApartEntry {
    let because = match why {
        Apart::Axis(axis) => format!("both own {}", show.axis_name(*axis)),
        Apart::Carriage(one, other) => {
            let (one, other) = (show.axis_name(*one), show.axis_name(*other));
            format!("they own joints of one rig or of what it rides on: {one}, {other}")
        }
        Apart::Needs => "its needs wait for that".to_owned(),
        Apart::Order => "it starts after that has ended".to_owned(),
        Apart::Behind(cue) => format!("it comes after cue {}, which waits for that", show.cue(*cue).number),
    };
    ApartEntry { from: show.cue(from).number.to_string(), because }
}

fn rests_entry(show: &Show, on: CueId, why: &Rests) -> ApartEntry {
    ApartEntry { from: show.cue(on).number.to_string(), because: rests_words(show, why) }
}

/// Why a cue needs another, "that", to have run.
pub(super) fn rests_words(show: &Show, why: &Rests) -> String {
    match why {
        Rests::Follows => "it follows that".to_owned(),
        Rests::Needs => "its needs are false without that".to_owned(),
        Rests::Start(axis) => format!("it moves {} from where that leaves it", show.axis_name(*axis)),
        Rests::Interlock(interlock) => {
            format!("interlock '{}' is false on its way without that", show.interlocks[interlock.index()].name)
        }
        Rests::Stands(axis) => format!("it wants {} where that leaves it", show.axis_name(*axis)),
        Rests::Near(closest) => {
            let [one, other] = closest.parties.map(|party| party.name(show));
            match closest.value {
                0.0 => format!("without that, {one} touches {other}"),
                value => format!("without that, {one} comes within {value:.2} m of {other}"),
            }
        }
    }
}

/// A document on one show: which it is, what it tells of it, and the findings.
pub(super) fn document(reading: &Reading, tells: Value, findings: &[Finding]) -> Value {
    let mut document = json!({
        "show": reading.show.as_ref().map(|show| show.name.as_str()),
        "hash": reading.hash.as_deref(),
    });
    if let (Value::Object(document), Value::Object(tells)) = (&mut document, tells) {
        document.extend(tells);
    }
    document["findings"] = findings.iter().map(|finding| json!(finding_entry(reading, finding))).collect();
    document
}

/// Every axis of the show: the proof of a cue stands on where all of them are.
pub(super) fn pose(show: &Show, positions: &[f64]) -> Map<String, Value> {
    show.axis_ids().map(|id| (show.axis_name(id), Value::from(rounded(positions[id.index()])))).collect()
}

pub(super) fn finding_entry<'a>(reading: &'a Reading, finding: &'a Finding) -> FindingEntry<'a> {
    let place = finding.place.map(|place| (reading.sources.path(place), reading.sources.line_column(place)));
    FindingEntry {
        code: finding.code,
        severity: finding.severity,
        message: &finding.message,
        fix: finding.fix.as_deref(),
        file: place.map(|(path, _)| path),
        line: place.map(|(_, (line, _))| line),
        column: place.map(|(_, (_, column))| column),
        cues: &finding.cues,
        rigs: &finding.rigs,
        axes: &finding.axes,
        time: finding.time,
        other_time: finding.other_time,
        value: finding.value,
        limit: finding.limit,
        pose: (!finding.stands.is_empty())
            .then(|| finding.stands.iter().map(|(axis, at)| (axis.clone(), Value::from(*at))).collect()),
    }
}
