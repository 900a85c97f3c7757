//! What is tried of an axis, and what was found.

use serde_json::{Value, json};

use super::{number, numbers};
use crate::engine::{Found, TrialStatus};
use crate::show::AxisId;
use crate::wire::words::Words;

/// How far a trial is; `found` once it is known.
pub(super) fn trial_json(status: &TrialStatus, words: &Words<'_>) -> Value {
    let TrialStatus { axis, trial, done, of, runs, found } = *status;
    json!({
        "axis": words.show().axis(axis).name,
        "trial": trial.word(),
        "done": done,
        "of": of,
        "runs": runs,
        "found": found.as_ref().map(|found| found_json(axis, found, words)),
    })
}

/// Positions and ways in the axis's own unit; of pairs, first that of the approaches from below.
pub(super) fn found_json(axis: AxisId, found: &Found, words: &Words<'_>) -> Value {
    let mut told = match found {
        Found::Home { home, measured } => json!({ "home": number(*home), "measured": number(*measured) }),
        Found::Sign { commanded, measured, sign, other } => json!({
            "sign": sign.word(),
            "commanded": number(*commanded),
            "measured": number(*measured),
            "other": other.map(|(axis, by)| json!({ "axis": words.axis(axis), "moved": number(by) })),
        }),
        Found::Repeat { at, figures, tolerance } => json!({
            "at": number(*at),
            "approaches": figures.approaches,
            "means": numbers(figures.means),
            "repeatability": numbers(figures.repeatability),
            "reversal": number(figures.reversal),
            "bidirectional": number(figures.bidirectional),
            "farthest": number(figures.farthest),
            "tolerance": number(*tolerance),
            "within": figures.farthest <= *tolerance,
        }),
    };
    told["text"] = words.survey_found(axis, found).into();
    told
}
