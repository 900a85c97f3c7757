//! One cue's motion as one document.

use serde_json::{Value, json};

use super::check_json::document;
use super::plan_csv::{ROWS_MAX, TooManyRows};
use super::plan_text::LOOKS;
use super::rounded;
use crate::motion::Ceiling;
use crate::proof::{CuePlan, MovePlan, Saving, Seen, Sightline, Spare};
use crate::show::{CueId, Finding, Reading, Show};
use crate::stage::Stage;

/// What is known of one cue's motion.
#[derive(Clone, Copy)]
pub struct CueMotion<'a> {
    pub show: &'a Show,
    pub cue: CueId,
    pub plans: &'a [CuePlan],
    /// By move.
    pub spare: &'a [Spare],
}

/// Also when the show does not read well: then nothing is told, and `findings` say why. What a lens sees is told at even times
/// of its move, no more than `every` s (above zero) apart, or at nine.
///
/// # Errors
/// [`TooManyRows`] if `every` is too short for the cue.
pub fn plan_json(
    reading: &Reading,
    told: Option<CueMotion>,
    every: Option<f64>,
    findings: &[Finding],
) -> Result<Value, TooManyRows> {
    let tells = json!({
        "cue": null, "name": null, "duration": null, "stop_time": null, "bottleneck": null, "moves": [],
    });
    let mut document = document(reading, tells, findings);
    let Some(told) = told else { return Ok(document) };
    let CueMotion { show, cue: id, plans, .. } = told;
    let (cue, plan) = (show.cue(id), &plans[id.index()]);
    document["cue"] = cue.number.to_string().into();
    document["name"] = cue.name.as_str().into();
    document["duration"] = rounded(plan.duration).into();
    document["stop_time"] = rounded(plan.stop_time).into();
    document["bottleneck"] = plan.bottleneck.map(|axis| show.axis_name(axis)).into();
    let moves: Result<Value, TooManyRows> =
        (0..plan.moves.len()).map(|index| move_json(told, index, every)).collect();
    document["moves"] = moves?;
    Ok(document)
}

fn move_json(told: CueMotion, index: usize, every: Option<f64>) -> Result<Value, TooManyRows> {
    let CueMotion { show, cue: id, plans, spare } = told;
    let (step, written, spare) = (&plans[id.index()].moves[index], &show.cue(id).moves[index], &spare[index]);
    let passes = written.via.iter().zip(&step.passes);
    let passes: Value =
        passes.map(|(via, time)| json!({ "mark": via.mark, "time": rounded(step.delay + time) })).collect();
    let savings = spare.savings.iter().map(|saving| {
        let Saving { axis, bound, seconds } = *saving;
        json!({ "axis": show.axis_name(axis), "limit": bound.word(), "seconds": rounded(seconds) })
    });
    Ok(json!({
        "rig": show.rig(step.rig).name,
        "mark": written.mark,
        "from": rounded(step.delay),
        "to": rounded(step.end()),
        "least": rounded(spare.least),
        "a_tenth_more_saves": savings.collect::<Value>(),
        "passes": passes,
        "axes": axes_json(show, step),
        "lens": lens_json(told, index, every)?,
    }))
}

fn axes_json(show: &Show, step: &MovePlan) -> Value {
    let of = |Ceiling { speed, acceleration, jerk }: Ceiling| json!({ "speed": rounded(speed), "acceleration": rounded(acceleration), "jerk": rounded(jerk) });
    let axes = step.axes.iter().map(|path| {
        let axis = show.axis(path.axis);
        json!({
            "axis": show.axis_name(path.axis), "unit": axis.unit.word(),
            "from": rounded(path.from), "to": rounded(path.to),
            "peaks": of(step.peaks(path)), "limits": of(Ceiling::of(axis.run)),
        })
    });
    axes.collect()
}

/// Nothing of a move that neither aims a lens nor sets one.
fn lens_json(told: CueMotion, index: usize, every: Option<f64>) -> Result<Vec<Value>, TooManyRows> {
    let CueMotion { show, cue: id, plans, .. } = told;
    let stage = Stage::new(show);
    let Some(mut line) = Sightline::of((show, &stage), plans, id, index) else { return Ok(Vec::new()) };
    let intervals = match every {
        Some(every) => (plans[id.index()].moves[index].duration() / every).ceil().max(1.0),
        None => (LOOKS - 1) as f64,
    };
    if intervals > ROWS_MAX {
        return Err(TooManyRows { rows: intervals });
    }
    Ok(line.along(intervals as usize + 1).iter().map(seen_json).collect())
}

/// What no table of the lens tells is null, as is a far end where it is sharp without end.
fn seen_json(seen: &Seen) -> Value {
    let Seen { time, look, aimed } = seen;
    let known = |value: Option<f64>| value.filter(|value| value.is_finite()).map(rounded);
    json!({
        "time": rounded(*time),
        "off": known(aimed.map(|on| on.off)),
        "distance": known(aimed.map(|on| on.distance)),
        "focus": known(look.focus),
        "near": known(look.depth.map(|depth| depth.near)),
        "far": known(look.depth.map(|depth| depth.far)),
        "sharp_without_end": look.depth.map(|depth| depth.far.is_infinite()),
        "view": known(look.view),
    })
}
