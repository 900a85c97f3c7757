//! Takes that are recorded.

use serde_json::Value;

use super::call::text;
use super::params::Params;
use super::reply::Error;
use crate::wire::ask::TakeAsk;

/// `prime {rigs, name?}`, `record {on}`, `keep {name?}` or `discard`. Rigs are named as they are in the show that is in force
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
        _ => TakeAsk::Discard,
    };
    params.end()?;
    Ok(ask)
}
