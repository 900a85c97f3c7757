//! A text frame to calls.

use arrayvec::ArrayVec;
use jiff::Timestamp;
use serde_json::{Map, Value};
use sha2::{Digest, Sha256};

use super::params::{Params, found};
use super::reply::Error;
use super::{BATCH_MAX, KEY_MAX, TEXT_MAX, recording, strict};
use crate::engine::{Key, STANDBY_MAX, Verb};
use crate::show::{CueId, Nanos};
use crate::wire::ask::{Ask, HZ_MAX, Subscribe};
use crate::wire::misheard::quoted;
use crate::wire::names::{Names, SimFaultAsked, nearest};

const METHODS: [&str; 39] = [
    "standby",
    "go",
    "hold",
    "resume",
    "return",
    "stop",
    "reset",
    "arm",
    "disarm",
    "master",
    "preset",
    "place",
    "reload",
    "fault",
    "input",
    "status",
    "subscribe",
    "hand",
    "hand_over",
    "accept",
    "give_back",
    "stick",
    "dial",
    "let_go",
    "survey",
    "trial",
    "run",
    "teach",
    "forget",
    "propose",
    "write_survey",
    "clear_survey",
    "focus",
    "prime",
    "record",
    "keep",
    "discard",
    "trim",
    "play",
];

/// Of a call; a string, a number or null, given back as it came.
#[derive(Clone, Debug, PartialEq)]
pub struct Id(pub Value);

impl Id {
    pub const NULL: Id = Id(Value::Null);
}

/// One call, or what stood in its place.
#[derive(Clone, Debug, PartialEq)]
pub struct Call {
    /// `None`: a notification, which is carried out and gets no response. What could not be read far enough to
    /// know its id has [`Id::NULL`].
    pub id: Option<Id>,
    /// A digest of the call's `key`: SHA-256, its first 8 bytes.
    pub key: Option<Key>,
    /// When the client says that it sent it. Its age is for those who have a clock.
    pub sent: Option<Timestamp>,
    pub ask: Result<Ask, Error>,
}

/// One text frame. The responses to a batch go back together, see [`super::batch`].
#[derive(Clone, Debug, PartialEq)]
pub enum Frame {
    One(Call),
    Batch(Vec<Call>),
}

/// Reads a text frame. Never fails as a whole: what is wrong stands as an error in the place of a call.
pub fn decode(text: &str, names: &Names) -> Frame {
    if text.len() > TEXT_MAX {
        let message = format!("{} bytes are more than the {TEXT_MAX} that are taken at once", text.len());
        return Frame::One(wrong(Id::NULL, Error::new(Error::INVALID, message)));
    }
    match strict::read(text) {
        Err(message) => Frame::One(wrong(Id::NULL, Error::new(Error::PARSE, format!("not JSON: {message}")))),
        Ok(Value::Array(calls)) if calls.is_empty() => {
            Frame::One(wrong(Id::NULL, Error::new(Error::INVALID, "an empty batch")))
        }
        Ok(Value::Array(calls)) if calls.len() > BATCH_MAX => too_many(calls, names),
        Ok(Value::Array(calls)) => Frame::Batch(calls.into_iter().map(|call| one(call, names)).collect()),
        Ok(call) => Frame::One(one(call, names)),
    }
}

/// Of a batch that is refused for its length only the stops are taken; the error answers for the rest, alone if there
/// was no stop.
fn too_many(calls: Vec<Value>, names: &Names) -> Frame {
    let message = format!("a batch of {}: at most {BATCH_MAX} calls are taken at once", calls.len());
    let error = wrong(Id::NULL, Error::new(Error::INVALID, message));
    let stops: Vec<Call> = calls.into_iter().filter(is_stop).map(|call| one(call, names)).collect();
    if stops.is_empty() { Frame::One(error) } else { Frame::Batch(stops.into_iter().chain([error]).collect()) }
}

fn is_stop(call: &Value) -> bool {
    call.get("method").and_then(Value::as_str) == Some("stop")
}

fn wrong(id: Id, error: Error) -> Call {
    Call { id: Some(id), key: None, sent: None, ask: Err(error) }
}

fn one(call: Value, names: &Names) -> Call {
    let stop = is_stop(&call);
    let Value::Object(members) = call else {
        let message = format!("expected a request object, found {}", found(&call));
        return wrong(Id::NULL, Error::new(Error::INVALID, message));
    };
    let id = match members.get("id") {
        None => None,
        Some(id @ (Value::String(_) | Value::Number(_) | Value::Null)) => Some(Id(id.clone())),
        Some(_) if stop => Some(Id::NULL),
        Some(other) => {
            let message = format!("id: expected text, a number or null, found {}", found(other));
            return wrong(Id::NULL, Error::new(Error::INVALID, message));
        }
    };
    if stop {
        return Call { id, key: None, sent: None, ask: Ok(Ask::Stop) };
    }
    match opened(members) {
        Ok((method, params)) => take(id, &method, params, names),
        // What is no request has no say on whether it wants an answer.
        Err(error) => wrong(id.unwrap_or(Id::NULL), error),
    }
}

/// The method and the parameters of a request object, `key` and `sent` among them wherever they stood.
fn opened(mut members: Map<String, Value>) -> Result<(String, Params), Error> {
    let invalid = |message: String| Error::new(Error::INVALID, message);
    members.shift_remove("id");
    match members.shift_remove("jsonrpc") {
        Some(Value::String(version)) if version == "2.0" => {}
        other => {
            let other = other.as_ref().map_or("nothing".into(), found);
            return Err(invalid(format!("jsonrpc: expected the text \"2.0\", found {other}")));
        }
    }
    let method = match members.shift_remove("method") {
        Some(Value::String(method)) => method,
        other => {
            let other = other.as_ref().map_or("nothing".into(), found);
            return Err(invalid(format!("method: expected text, found {other}")));
        }
    };
    let mut params = match members.shift_remove("params") {
        None => Map::new(),
        Some(Value::Object(params)) => params,
        Some(Value::Array(params)) if params.is_empty() => Map::new(),
        Some(other) => {
            let message = format!("params: expected an object (parameters by name), found {}", found(&other));
            return Err(Error::new(Error::BAD_PARAMS, message));
        }
    };
    for name in ["key", "sent"] {
        if let Some(value) = members.shift_remove(name)
            && params.insert(name.into(), value).is_some()
        {
            return Err(invalid(format!("\"{name}\" stands both beside and in params")));
        }
    }
    match members.keys().next() {
        Some(member) => Err(invalid(format!("unknown member \"{}\" of the request", quoted(member)))),
        None => Ok((method, Params::new(params))),
    }
}

fn take(id: Option<Id>, method: &str, mut params: Params, names: &Names) -> Call {
    let mut call = Call { id, key: None, sent: None, ask: Ok(Ask::Status) };
    call.ask = marks(&mut call, &mut params).and_then(|()| ask(method, params, names));
    call
}

/// `key` and `sent`, which any request may carry.
fn marks(call: &mut Call, params: &mut Params) -> Result<(), Error> {
    let expected = format!("text of 1 to {KEY_MAX} bytes");
    call.key = params.optional("key", &expected, |value| {
        value.as_str().filter(|key| (1..=KEY_MAX).contains(&key.len())).map(digest)
    })?;
    call.sent = params.optional("sent", "a time such as \"2026-11-25T19:30:00.250Z\" (RFC 3339)", |value| {
        value.as_str().and_then(|text| text.parse().ok())
    })?;
    Ok(())
}

fn digest(key: &str) -> Key {
    let hash = Sha256::digest(key.as_bytes());
    Key(hash.iter().take(8).fold(0, |digest, &byte| digest << 8 | u64::from(byte)))
}

fn ask(method: &str, mut params: Params, names: &Names) -> Result<Ask, Error> {
    let verb = match method {
        "standby" => standby(&mut params, names)?,
        "go" => Verb::Go { cue: cue_if_any(&mut params, names)? },
        "hold" => Verb::Hold { cue: cue_if_any(&mut params, names)? },
        "resume" => Verb::Resume { cue: cue_if_any(&mut params, names)? },
        "return" => {
            let cue = params.need("cue", CUE, text)?;
            let held = params.optional("held", "true or false", Value::as_bool)?.unwrap_or(false);
            Verb::Return { cue: names.cue_or_take(&cue)?, held }
        }
        "reset" => Verb::Reset,
        "arm" => Verb::Arm,
        "disarm" => Verb::Disarm,
        "master" => Verb::Master { value: params.need("value", "a number from 0 to 1", Value::as_f64)? },
        "input" => {
            let name = params.need("name", "text, the name of an input", text)?;
            let value = params.need("value", "true or false", Value::as_bool)?;
            Verb::Input { input: names.input(&name)?, value }
        }
        "preset" => {
            let cue = params.need("cue", CUE, text)?;
            let held = params.optional("held", "true or false", Value::as_bool)?.unwrap_or(false);
            Verb::Preset { cue: names.cue_or_take(&cue)?, held }
        }
        "place" => Verb::Place { cue: names.cue(&params.need("cue", CUE, text)?)? },
        "fault" => sim_fault(&mut params, names)?,
        "reload" => {
            let accept = params.optional("accept", "text, the hash of the edit that was offered", text)?;
            return params.end().map(|()| Ask::Reload { accept });
        }
        "status" => return params.end().map(|()| Ask::Status),
        "subscribe" => return subscribe(params),
        "hand" | "hand_over" | "accept" | "give_back" | "stick" | "dial" | "let_go" | "focus" => {
            return super::hand::ask(method, params, names);
        }
        "survey" | "trial" | "run" => return super::survey::ask(method, params, names),
        "teach" | "forget" | "propose" | "write_survey" | "clear_survey" => {
            return super::survey::file(method, params, names).map(Ask::Survey);
        }
        "prime" | "record" | "keep" | "discard" | "trim" => return recording::ask(method, params).map(Ask::Take),
        "play" => return recording::play(params).map(Ask::Play),
        _ => {
            let hint = nearest(method, METHODS.into_iter()).map(|near| format!("; the nearest is {near}"));
            let message = format!("there is no method \"{}\"{}", quoted(method), hint.unwrap_or_default());
            return Err(Error::new(Error::UNKNOWN_METHOD, message));
        }
    };
    params.end()?;
    Ok(Ask::Verb(verb))
}

/// `size` as [`crate::engine::Size`] has it.
fn sim_fault(params: &mut Params, names: &Names) -> Result<Verb, Error> {
    let asked = SimFaultAsked {
        rig: params.need("rig", "text, the name of a rig", text)?,
        axis: params.optional("axis", "text, the name of an axis of the rig", text)?,
        kind: params.need("kind", "text, such as \"stuck\"", text)?,
        size: params.optional("size", "a number", Value::as_f64)?,
        on: params.need("on", "true or false", Value::as_bool)?,
    };
    Ok(Verb::SimFault { fault: names.sim_fault(&asked)?, on: asked.on })
}

const CUE: &str = "a cue number as text, such as \"12.5\"";

fn standby(params: &mut Params, names: &Names) -> Result<Verb, Error> {
    let expected = format!("a list of 1 to {STANDBY_MAX} cue numbers as text, such as [\"12.5\"]");
    let numbers: Vec<String> = params.need("cues", &expected, |value| {
        let list = value.as_array().filter(|list| (1..=STANDBY_MAX).contains(&list.len()))?;
        list.iter().map(text).collect()
    })?;
    let skip = params.optional("skip", "true or false", Value::as_bool)?.unwrap_or(false);
    let cues = numbers.iter().map(|number| names.cue_or_take(number)).collect::<Result<ArrayVec<CueId, _>, _>>()?;
    Ok(Verb::Standby { cues, skip })
}

fn subscribe(mut params: Params) -> Result<Ask, Error> {
    let hz = params.need("hz", "a number from 0", |value| value.as_f64().filter(|&hz| hz >= 0.0))?;
    let lease = params.optional("lease", "seconds, 0.1 to 3600", |value| {
        value.as_f64().filter(|seconds| (0.1..=3600.0).contains(seconds)).map(Nanos::from_seconds)
    })?;
    let stage = params.optional("stage", "true or false", Value::as_bool)?.unwrap_or(false);
    params.end()?;
    Ok(Ask::Subscribe(Subscribe { hz: hz.min(HZ_MAX), lease, stage }))
}

fn cue_if_any(params: &mut Params, names: &Names) -> Result<Option<CueId>, Error> {
    let cue = params.optional("cue", CUE, text)?;
    Ok(cue.map(|cue| names.cue_or_slot(&cue)).transpose()?)
}

pub(super) fn text(value: &Value) -> Option<String> {
    value.as_str().map(str::to_owned)
}
