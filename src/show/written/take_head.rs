//! The head of takes/NAME.csv: when it was recorded, and under which survey.

use std::borrow::Cow;

use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use toml::de::DeValue;

use super::ranges::Position;
use super::rig_file::Joint;
use crate::show::decode::{At, Decode, Found, Map, Node, Text, record};
use crate::show::units::Unit;

record! {
    /// What a take tells of its recording, in the lines over its columns that begin with `#:`.
    TakeHead, "the head of a take" {
        /// When it was recorded.
        recorded: Option<Moment>,
        /// Hash of what is under `axes`, so that a slip in there is noticed.
        survey: Option<At<Text>>,
        /// By the name of its column: the axis as it was surveyed when it was recorded.
        axes: Option<Map<At<SurveyedAxis>>>,
    }
}

record! {
    /// What gives a recorded position its meaning.
    SurveyedAxis, "a surveyed axis" {
        /// Its unit.
        unit: Unit,
        /// Its soft limits, low then high.
        travel: [Position; 2],
        /// What a position did to the frames after it. Default: nothing.
        joint: Option<Joint>,
    }
}

/// An instant, as TOML writes it (RFC 3339); empty if it could not be read.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Moment(pub String);

impl Decode for Moment {
    fn expected() -> String {
        "a date and time with its offset, such as 2026-11-26T19:30:00Z".into()
    }

    fn stand_in() -> Self {
        Moment::default()
    }

    fn decode(node: Node<'_>, found: &mut Found) -> Self {
        match node.value {
            DeValue::Datetime(moment) if moment.date.is_some() && moment.offset.is_some() => {
                Moment(moment.to_string())
            }
            DeValue::Datetime(_)
            | DeValue::String(_)
            | DeValue::Integer(_)
            | DeValue::Float(_)
            | DeValue::Boolean(_)
            | DeValue::Array(_)
            | DeValue::Table(_) => found.wrong(node),
        }
    }
}

impl JsonSchema for Moment {
    fn inline_schema() -> bool {
        true
    }

    fn schema_name() -> Cow<'static, str> {
        "Moment".into()
    }

    fn json_schema(_generator: &mut SchemaGenerator) -> Schema {
        json_schema!({ "type": "string", "format": "date-time" })
    }
}
