//! Takes that are recorded, and played back.

use serde_json::Value;

use super::call::text;
use super::params::Params;
use super::reply::Error;
use crate::wire::ask::{PlayAsk, TakeAsk};

/// `prime {rigs, name?}`, `record {on}`, `keep {name?}`, `discard` or `trim {take, from, to, name}`. Rigs are named as they are in the show that is in force
/// when it is done.
pub fn ask(method: &str, mut params: Params) -> Result<TakeAsk, Error> {
    const NAME: &str = "text, a name for the take";
    let ask = match method {
        "prime" => {
            let rigs = params.need("rigs", "a list of names of rigs, such as [\"heron\"]", |value| {
                value.as_array()?.iter().map(text).collect::<Option<Vec<String>>>()
            })?;
            TakeAsk::Prime { rigs, name: params.optional("name", NAME, text)? }
        }
        "record" => TakeAsk::Record { on: params.need("on", "true or false", Value::as_bool)? },
        "keep" => TakeAsk::Keep { name: params.optional("name", NAME, text)? },
        "trim" => {
            let take = params.need("take", TAKE, text)?;
            let mut end =
                |name: &'static str| params.need(name, "s from the first sample of the take", Value::as_f64);
            let ends = [end("from")?, end("to")?];
            TakeAsk::Trim { take, ends, name: params.need("name", NAME, text)? }
        }
        _ => TakeAsk::Discard,
    };
    params.end()?;
    Ok(ask)
}

const TAKE: &str = "text, the name of a take";
/// Far more than any take is slowed down by.
const STRETCH_MOST: f64 = 100.0;

/// `play {take, stretch?, rig?}`.
pub fn play(mut params: Params) -> Result<PlayAsk, Error> {
    let take = params.need("take", TAKE, text)?;
    let stretch = params.optional("stretch", "a number above 0, at most 100", |value| {
        value.as_f64().filter(|stretch| *stretch > 0.0 && *stretch <= STRETCH_MOST)
    })?;
    let rig = params.optional("rig", "text, the name of a rig", text)?;
    params.end()?;
    Ok(PlayAsk { take, stretch, rig })
}
