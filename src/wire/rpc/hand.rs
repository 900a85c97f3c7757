//! Rigs in hand, their sticks and their dials.

use glam::DVec3;
use serde_json::Value;

use super::call::text;
use super::params::Params;
use super::reply::Error;
use crate::engine::{FocusOn, StickKind, StickSample, StickShape, Verb};
use crate::show::RigId;
use crate::wire::ask::{Ask, HandAsk};
use crate::wire::names::Names;

pub fn ask(method: &str, mut params: Params, names: &Names) -> Result<Ask, Error> {
    let rig = params.need("rig", "text, the name of a rig", text)?;
    let ask = match method {
        "hand" => {
            let (rig, sticks, shape) = held(&rig, &mut params, names)?;
            Ask::Hand(HandAsk::Take { rig, sticks, shape })
        }
        "accept" => {
            let (rig, sticks, shape) = held(&rig, &mut params, names)?;
            Ask::Hand(HandAsk::Accept { rig, sticks, shape })
        }
        "hand_over" => {
            let to = params.optional("to", CLIENT, text)?;
            Ask::Hand(HandAsk::HandOver { rig: names.rig(&rig)?, to })
        }
        "let_go" => {
            let axis = params.need("axis", AXIS, text)?;
            Ask::Stick { axis: names.axis(&rig, &axis)?, kind: StickKind::Dial, value: StickSample::LET_GO }
        }
        "focus" => Ask::Verb(Verb::Focus { rig: names.rig(&rig)?, on: focus_on(&mut params, names)? }),
        "dial" => control(StickKind::Dial, "a number from 0 to 1", &rig, &mut params, names)?,
        "stick" => control(StickKind::Stick, "a number from -1 to 1", &rig, &mut params, names)?,
        _ => Ask::Verb(Verb::GiveBack { rig: names.rig(&rig)? }),
    };
    params.end()?;
    Ok(ask)
}

pub(super) const AXIS: &str = "text, the name of an axis of the rig";
const CLIENT: &str = "text, the name of a client as the status has it, such as \"osc 10.0.0.7\"";

/// Whose sticks drive the rig, and how they are felt.
pub(super) fn held(
    rig: &str,
    params: &mut Params,
    names: &Names,
) -> Result<(RigId, Option<String>, StickShape), Error> {
    let sticks = params.optional("sticks", CLIENT, text)?;
    let mut shape = StickShape::default();
    let dead_band = params.optional("dead_band", "a number from 0 to below 1", |value| {
        value.as_f64().filter(|band| (0.0..1.0).contains(band))
    })?;
    let taper = params.optional("taper", "a number from 0 to 1", |value| {
        value.as_f64().filter(|taper| (0.0..=1.0).contains(taper))
    })?;
    shape.dead_band = dead_band.unwrap_or(shape.dead_band);
    shape.taper = taper.unwrap_or(shape.taper);
    Ok((names.rig(rig)?, sticks, shape))
}

/// What a focus follows: `at`, a point, or `on`, a rig, with `axis` and `point` of it; neither is nothing.
fn focus_on(params: &mut Params, names: &Names) -> Result<Option<FocusOn>, Error> {
    let at = params.optional("at", METRES, point)?;
    let Some(other) = params.optional("on", "text, the name of another rig", text)? else {
        return Ok(at.map(FocusOn::Point));
    };
    if at.is_some() {
        return Err(Error::new(Error::BAD_PARAMS, "expected a point, `at`, or a rig, `on`, found both"));
    }
    let axis = params.optional("axis", "text, the name of an axis of that rig", text)?;
    let axis = axis.map(|axis| names.axis(&other, &axis)).transpose()?;
    let point = params.optional("point", METRES, point)?;
    Ok(Some(FocusOn::Rig { rig: names.rig(&other)?, axis, point }))
}

const METRES: &str = "three numbers, m: [x, y, z]";

fn point(value: &Value) -> Option<DVec3> {
    let numbers: Option<Vec<f64>> = value.as_array()?.iter().map(Value::as_f64).collect();
    let [x, y, z] = numbers?[..] else { return None };
    Some(DVec3::new(x, y, z))
}

fn control(
    kind: StickKind,
    expected: &'static str,
    rig: &str,
    params: &mut Params,
    names: &Names,
) -> Result<Ask, Error> {
    let axis = params.need("axis", AXIS, text)?;
    let value = params
        .need("value", expected, |value: &Value| value.as_f64().filter(|value| kind.range().contains(value)))?;
    Ok(Ask::Stick { axis: names.axis(rig, &axis)?, kind, value })
}
