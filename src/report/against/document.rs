//! `check --against --json`: what goes into the document of the check.

use jiff::Timestamp;
use serde_json::{Map, Value, json};

use super::{Comparison, Rehearsed};
use crate::proof::{Closest, CueDiffers, Moved, Rested, WindowDiffers};
use crate::report::check_json::{finding_entry, rests_words, stretches};
use crate::report::rounded;
use crate::show::{Change, CueId, Finding, Nanos, Reading, Show, Subject};

/// Everything that differs; arrays of two are before and now, `null` is what does not differ.
pub fn against_json(told: &Comparison<'_>) -> Value {
    let (old, new, against) = (told.old, told.new, told.against);
    let numbers = |show: &Show, cues: &[CueId]| cues.iter().map(|&id| show.number_of(id)).collect::<Vec<_>>();
    let findings = |findings: &[Finding], reading: &Reading, of: &[usize]| -> Vec<Value> {
        of.iter().map(|&index| json!(finding_entry(reading, &findings[index]))).collect()
    };
    json!({
        "show": old.show.name,
        "hash": old.show.hash,
        "compared": true,
        "same": against.is_empty(),
        "edits": against.changes.iter().map(|change| edit(new.show, change)).collect::<Vec<_>>(),
        "added": numbers(new.show, &against.added),
        "removed": numbers(old.show, &against.removed),
        "renumbered": against.renumbered.iter()
            .map(|[was, now]| [old.show.number_of(*was), new.show.number_of(*now)]).collect::<Vec<_>>(),
        "cues": against.cues.iter().map(|cue| differs(told, cue)).collect::<Vec<_>>(),
        "new_findings": findings(new.findings, new.reading, &against.new_findings),
        "gone_findings": findings(old.findings, old.reading, &against.gone_findings),
        "rehearsed": rehearsed(told),
    })
}

/// Where there are no two versions to compare: why not, and what was found in the old one.
pub fn not_compared_json(old: &Reading, findings: &[Finding], why: &str) -> Value {
    json!({
        "show": old.show.as_ref().map(|show| &show.name),
        "hash": old.hash,
        "compared": false,
        "why": why,
        "findings": findings.iter().map(|finding| json!(finding_entry(old, finding))).collect::<Vec<_>>(),
    })
}

fn edit(new: &Show, change: &Change) -> Value {
    let (mut rig, mut name) = (None, None);
    match &change.subject {
        Subject::Setting(key) => name = Some((*key).to_owned()),
        Subject::Zone(zone) => name = Some(zone.clone()),
        Subject::Pair(rigs) => name = Some(rigs.join(" ")),
        Subject::Input(input) => name = Some(input.clone()),
        Subject::Interlock(interlock) => name = Some(interlock.clone()),
        Subject::Rig(of) => rig = Some(of.clone()),
        Subject::Axis { rig: of, axis, .. } => (rig, name) = (Some(of.clone()), Some(axis.clone())),
        Subject::Mark { rig: of, mark } => (rig, name) = (Some(of.clone()), Some(mark.clone())),
        Subject::Cue { number, .. } => name = Some(number.to_string()),
    }
    let used_in: Vec<String> = change.used_in.iter().map(|&id| new.number_of(id)).collect();
    json!({ "what": change.subject.word(), "name": name, "rig": rig, "text": change.text, "used_in": used_in })
}

fn differs(told: &Comparison<'_>, cue: &CueDiffers) -> Value {
    let (old, new) = (told.old.show, told.new.show);
    let poses = |moved: &[Moved]| -> Map<String, Value> {
        let entry = |one: &Moved| (new.axis_name(one.axis), json!([rounded(one.was), rounded(one.now)]));
        moved.iter().map(entry).collect()
    };
    let clearance = |show: &Show, closest: Option<Closest>| {
        closest.map(|closest| {
            json!({
                "value": rounded(closest.value),
                "bodies": closest.parties.map(|party| party.name(show)),
                "time": rounded(closest.time),
            })
        })
    };
    let window = |window: &WindowDiffers| {
        let clear = [&window.was, &window.now].map(|clear| clear.as_deref().map(stretches));
        json!({ "after": window.after, "clear": clear })
    };
    let rests = |show: &Show, rested: &[Rested]| -> Vec<Value> {
        rested.iter().map(|one| json!({ "on": one.on, "because": rests_words(show, &one.why) })).collect()
    };
    let texts =
        |of: &[usize]| of.iter().map(|&index| told.against.changes[index].text.as_str()).collect::<Vec<_>>();
    json!({
        "number": new.number_of(cue.now),
        "was_number": old.number_of(cue.was),
        "start": poses(&cue.start),
        "end": poses(&cue.end),
        "duration": cue.duration.map(|both| both.map(rounded)),
        "stop_time": cue.stop_time.map(|both| both.map(rounded)),
        "least_clearance": cue.closest.map(|[was, now]| [clearance(old, was), clearance(new, now)]),
        "clear_spans": cue.windows.iter().map(window).collect::<Vec<_>>(),
        "rests_on": rests(new, &cue.rests_on),
        "rests_no_more_on": rests(old, &cue.rests_no_more_on),
        "unproven": cue.unproven.iter().map(|part| part.word()).collect::<Vec<_>>(),
        "unproven_because": texts(&cue.unproven_because),
        "because": texts(&cue.because),
    })
}

fn rehearsed(told: &Comparison<'_>) -> Value {
    let names = [told.old.show.name.as_str(), told.new.show.name.as_str()];
    let journals = told.journals.of(&names).map(|kept| json!({ "file": kept.file, "cues": kept.runs.ran.len() }));
    let journals: Vec<Value> = journals.collect();
    let cues = told.new.show.cue_ids().map(|id| cue_rehearsed(told.new.show, id, &told.rehearsed[id.index()]));
    json!({
        "folders": told.journals.folders,
        "read": told.journals.kept.len(),
        "journals": journals,
        "troubles": told.journals.troubles,
        "cues": cues.collect::<Vec<_>>(),
    })
}

fn cue_rehearsed(show: &Show, id: CueId, told: &Rehearsed) -> Value {
    let best = told.best.as_ref();
    let before = told.before.as_ref().map(|(ran, parts)| {
        json!({ "time": time(ran.at), "changed": parts.iter().map(|part| part.word()).collect::<Vec<_>>() })
    });
    json!({
        "number": show.number_of(id),
        "rehearsed": best.is_some(),
        "whole": best.is_some_and(|(ran, _)| ran.is_whole()),
        "simulated": best.map(|(ran, _)| &ran.simulated),
        "speed": best.map(|(ran, _)| rounded(ran.pace)),
        "interrupted": best.map(|(ran, _)| ran.interrupted),
        "time": best.and_then(|(ran, _)| time(ran.at)),
        "journal": best.map(|(_, file)| file),
        "before": before,
    })
}

fn time(at: Nanos) -> Option<String> {
    Timestamp::from_nanosecond(i128::from(at.0)).ok().map(|time| time.to_string())
}
