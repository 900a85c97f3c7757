//! A take for scripts.

use serde_json::{Value, json};

use super::text::{bound, word};
use super::{TakePart, TakeTold};
use crate::motion::Derivative;
use crate::proof::Rendition;
use crate::report::check_json::document;
use crate::report::rounded;
use crate::show::{Finding, Reading};

/// One document, also when the take or the show does not read well: then `take` is null, and `findings` say why. Times are
/// s of the recording, from its first sample; peaks those of its own pace.
pub fn take_json(reading: &Reading, told: Option<TakeTold>, findings: &[Finding]) -> Value {
    document(reading, json!({ "take": told.map(take) }), findings)
}

/// The take itself, of [`take_json`].
pub fn take(told: TakeTold) -> Value {
    let TakeTold { show, take, parts, .. } = told;
    let gap = |gap: super::Gap| json!({ "at": rounded(gap.at), "length": rounded(gap.length) });
    json!({
        "name": take.name,
        "recorded": take.recorded,
        "survey": take.survey_hash(),
        "length": rounded(take.length()),
        "samples": take.times.len(),
        "step": rounded(told.step()),
        "gaps": told.gaps().into_iter().map(gap).collect::<Value>(),
        "cues": told.cues().iter().map(|&cue| show.number_of(cue)).collect::<Value>(),
        "rigs": parts.iter().map(|one| part(told, one)).collect::<Value>(),
    })
}

/// What its recording holds of a rig, and how that plays it; `null` if it is no path.
fn part(told: TakeTold, part: &TakePart) -> Value {
    let Some((step, rendition)) = &part.played else { return Value::Null };
    let [run_in, run_out] = rendition.added.map(rounded);
    let tightest = rendition.tightest.map(|tight| {
        let (axis, limit) = (told.show.axis_name(tight.axis), word(tight.limit));
        json!({ "axis": axis, "limit": limit, "at": rounded(tight.peak.time) })
    });
    json!({
        "rig": told.show.rig(part.rig).name,
        "played_in": rounded(step.duration()),
        "run_in": run_in,
        "run_out": run_out,
        "least_stretch": rounded(rendition.least()),
        "tightest": tightest,
        "axes": (0..part.playing.columns.len()).map(|index| axis(told, part, rendition, index)).collect::<Value>(),
    })
}

fn axis(told: TakeTold, part: &TakePart, rendition: &Rendition, index: usize) -> Value {
    let (id, column) = part.playing.columns[index];
    let (axis, values) = (told.show.axis(id), &part.playing.take.columns[column].values);
    let peaks = [Derivative::Speed, Derivative::Acceleration, Derivative::Jerk].into_iter();
    let peaks = peaks.zip(rendition.peaks(index)).map(|(limit, peak)| {
        let of = json!({ "value": rounded(peak.value), "limit": bound(axis.run, limit), "at": rounded(peak.time) });
        (word(limit).to_owned(), of)
    });
    json!({
        "axis": told.show.axis_name(id),
        "unit": axis.unit.word(),
        "from": values[0],
        "to": values[values.len() - 1],
        "low": values.iter().copied().fold(f64::INFINITY, f64::min),
        "high": values.iter().copied().fold(f64::NEG_INFINITY, f64::max),
        "noise": rounded(rendition.noises[index]),
        "tolerance": axis.tolerance,
        "farthest": rounded(rendition.farthest[index].1),
        "peaks": Value::Object(peaks.collect()),
    })
}
