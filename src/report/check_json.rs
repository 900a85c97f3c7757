//! `check --json`: one document, also when the files do not read well.

use serde::Serialize;
use serde_json::{Map, Value};

use super::rounded;
use crate::proof::{CuePlan, Proof};
use crate::show::{Code, CueId, Finding, Reading, Severity, Show};

/// What no proof here covers; told with every check.
pub const NOT_SEEN: [&str; 7] = [
    "people",
    "cables",
    "load swing",
    "scenery that is no body",
    "the model's own error",
    "what the survey did not measure",
    "clearance between bodies",
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
    bottleneck: Option<String>,
    start: Map<String, Value>,
    end: Map<String, Value>,
    /// Until clearance is proved there is none to tell.
    least_clearance: Option<()>,
    clear_spans: [(); 0],
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
}

/// The document of the contract; `proof` is there if the show is. `findings` are those of reading and proof.
pub fn check_json(reading: &Reading, proof: Option<&Proof>, findings: &[Finding]) -> Value {
    let show = reading.show.as_ref();
    let cues = match (show, proof) {
        (Some(show), Some(proof)) => show.cue_ids().map(|id| cue_entry(show, id, proof.plan.cue(id))).collect(),
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

fn cue_entry(show: &Show, id: CueId, plan: &CuePlan) -> CueEntry {
    let cue = show.cue(id);
    CueEntry {
        number: cue.number.to_string(),
        name: cue.name.clone(),
        duration: rounded(plan.duration),
        stop_time: rounded(plan.stop_time),
        bottleneck: plan.bottleneck.map(|axis| show.axis_name(axis)),
        start: pose(show, &plan.start),
        end: pose(show, &plan.end),
        least_clearance: None,
        clear_spans: [],
    }
}

/// Every axis of the show: the proof of a cue stands on where all of them are.
fn pose(show: &Show, positions: &[f64]) -> Map<String, Value> {
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
    }
}
