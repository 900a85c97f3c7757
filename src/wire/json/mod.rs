//! The objects of the contract: status, events, the show.

mod event;
mod show;
mod status;
mod survey;
#[cfg(test)]
mod tests;

pub use event::event_json;
pub use show::{cue_json, show_json};
pub use status::status_json;

use serde_json::Value;

use crate::show::{Driver, Nanos, Rig, Show};

/// JSON has no NaN and no infinity; they become null.
fn number(value: f64) -> Value {
    serde_json::Number::from_f64(value).map_or(Value::Null, Value::Number)
}

fn numbers(values: impl IntoIterator<Item = f64>) -> Value {
    values.into_iter().map(number).collect()
}

/// s; null for an age that was never measured.
fn age(value: Nanos) -> Value {
    if value == Nanos::NEVER { Value::Null } else { number(value.seconds()) }
}

fn simulated(rig: &Rig) -> bool {
    match rig.driver {
        Driver::Sim(_) => true,
    }
}

fn any_simulated(show: &Show) -> bool {
    show.rigs.iter().any(simulated)
}
