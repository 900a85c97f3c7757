//! Rigs in hand for a survey, what is tried of their axes, and what is written of it.

use serde_json::Value;

use super::call::text;
use super::hand::{AXIS, held};
use super::params::Params;
use super::reply::Error;
use crate::engine::{StickKind, Trial, Verb};
use crate::motion::{APPROACHES_LEAST, APPROACHES_MAX};
use crate::show::AxisId;
use crate::wire::ask::{Ask, HandAsk, Point, SurveyAsk};
use crate::wire::names::Names;

const AT: &str = "a number, a position of the axis in its own unit, or text, the name of a mark of its rig";

/// Approaches from either side, where none are asked for.
const TIMES: u8 = 5;

/// `survey {rig, ...}` as `hand`; `trial {rig, axis, trial, at?, times?}`; `run {rig, axis, on}`.
pub fn ask(method: &str, mut params: Params, names: &Names) -> Result<Ask, Error> {
    let rig = params.need("rig", "text, the name of a rig", text)?;
    if method == "survey" {
        let (rig, sticks, shape) = held(&rig, &mut params, names)?;
        params.end()?;
        return Ok(Ask::Hand(HandAsk::Survey { rig, sticks, shape }));
    }
    let axis = params.need("axis", AXIS, text)?;
    let ask = if method == "run" {
        let on = params.need("on", "true or false", Value::as_bool)?;
        Ask::Stick { axis: names.axis(&rig, &axis)?, kind: StickKind::Run, value: f64::from(u8::from(on)) }
    } else {
        let axis = names.axis(&rig, &axis)?;
        let trial = trial(&mut params, axis, names)?;
        Ask::Verb(Verb::Trial { axis, trial })
    };
    params.end()?;
    Ok(ask)
}

fn trial(params: &mut Params, axis: AxisId, names: &Names) -> Result<Trial, Error> {
    let what = params.need("trial", "\"home\", \"sign\" or \"repeat\"", |value| {
        text(value).filter(|word| ["home", "sign", "repeat"].contains(&word.as_str()))
    })?;
    if what != "repeat" {
        return Ok(if what == "home" { Trial::Home } else { Trial::Sign });
    }
    let at = params.optional("at", AT, |value| match (value.as_f64(), value.as_str()) {
        (Some(at), _) => Some(Ok(at)),
        (None, Some(mark)) => Some(Err(mark.to_owned())),
        (None, None) => None,
    })?;
    let at = at.map(|at| at.or_else(|mark| names.mark(axis, &mark))).transpose()?;
    let (least, most) = (APPROACHES_LEAST as u64, APPROACHES_MAX as u64);
    let times = params.optional("times", &format!("a whole number from {least} to {most}"), |value| {
        value.as_u64().filter(|times| (least..=most).contains(times)).map(|times| times as u8)
    })?;
    Ok(Trial::Repeat { at, times: times.unwrap_or(TIMES) })
}

/// Positions, in an axis's own unit, that a file may have.
const POSITION_MOST: f64 = 1e6;

/// `teach {rig, axis, point}`, `forget {rig, axis?}`, `propose {rig}`, `write_survey {rig}`,
/// `clear_survey {rig, axis?, travel?}`.
pub fn file(method: &str, mut params: Params, names: &Names) -> Result<SurveyAsk, Error> {
    let of = params.need("rig", "text, the name of a rig", text)?;
    let rig = names.rig(&of)?;
    let axis = |params: &mut Params| -> Result<_, Error> {
        let axis = params.optional("axis", AXIS, text)?;
        Ok(axis.map(|axis| names.axis(&of, &axis)).transpose()?)
    };
    let ask = match method {
        "teach" => {
            let axis = names.axis(&of, &params.need("axis", AXIS, text)?)?;
            let point = params.need("point", "\"low\", \"high\" or \"home\"", |value| match value.as_str()? {
                "low" => Some(Point::Low),
                "high" => Some(Point::High),
                "home" => Some(Point::Home),
                _ => None,
            })?;
            SurveyAsk::Teach { axis, point }
        }
        "forget" => SurveyAsk::Forget { rig, axis: axis(&mut params)? },
        "clear_survey" => {
            let axis = axis(&mut params)?;
            let travel =
                params.optional("travel", "two numbers, the lower below the upper, in the axis's unit", ends)?;
            if travel.is_some() && axis.is_none() {
                let message = "travel: expected with an axis, found without one: each axis has its own";
                return Err(Error::new(Error::BAD_PARAMS, message));
            }
            SurveyAsk::Clear { rig, axis, travel }
        }
        _ => SurveyAsk::Write { rig, write: method == "write_survey" },
    };
    params.end()?;
    Ok(ask)
}

fn ends(value: &Value) -> Option<[f64; 2]> {
    let numbers: Vec<f64> = value.as_array()?.iter().map(Value::as_f64).collect::<Option<_>>()?;
    let [low, high] = <[f64; 2]>::try_from(numbers).ok()?;
    let sound = low < high && low.abs() <= POSITION_MOST && high.abs() <= POSITION_MOST;
    sound.then_some([low, high])
}
