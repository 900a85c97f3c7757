//! Rigs in hand for a survey, and what is tried of their axes.

use serde_json::Value;

use super::call::text;
use super::hand::{AXIS, held};
use super::params::Params;
use super::reply::Error;
use crate::engine::{StickKind, Trial, Verb};
use crate::motion::{APPROACHES_LEAST, APPROACHES_MAX};
use crate::wire::ask::{Ask, HandAsk};
use crate::wire::names::Names;

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
        let trial = trial(&mut params)?;
        Ask::Verb(Verb::Trial { axis: names.axis(&rig, &axis)?, trial })
    };
    params.end()?;
    Ok(ask)
}

fn trial(params: &mut Params) -> Result<Trial, Error> {
    let what = params.need("trial", "\"home\", \"sign\" or \"repeat\"", |value| {
        text(value).filter(|word| ["home", "sign", "repeat"].contains(&word.as_str()))
    })?;
    if what != "repeat" {
        return Ok(if what == "home" { Trial::Home } else { Trial::Sign });
    }
    let at = params.optional("at", "a number, a position of the axis in its own unit", Value::as_f64)?;
    let (least, most) = (APPROACHES_LEAST as u64, APPROACHES_MAX as u64);
    let times = params.optional("times", &format!("a whole number from {least} to {most}"), |value| {
        value.as_u64().filter(|times| (least..=most).contains(times)).map(|times| times as u8)
    })?;
    Ok(Trial::Repeat { at, times: times.unwrap_or(TIMES) })
}
