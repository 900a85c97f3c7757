//! From the tree of a TOML file to written types, strictly, and on past every mistake.
//!
//! A decoder never gives up: a value that cannot be read is reported and replaced by its stand-in, so that one run
//! tells everything that is wrong. The schema comes from the same types (`schemars`), declared once by [`record!`],
//! [`choice!`], [`numbers!`] and [`words!`], and so cannot drift from what is accepted.

mod found;
mod list;
mod number;
mod record;
mod text;

use std::borrow::Cow;

use schemars::{JsonSchema, Schema, SchemaGenerator};
use toml::de::DeValue;

use super::source::Place;

pub use found::{Found, describe, either, near, nearest};
pub use list::{AtLeastOne, Map};
pub(crate) use number::numbers;
pub use number::read_number;
pub use record::{Fields, keys_of};
pub(crate) use record::{choice, key, record};
pub(crate) use text::words;
pub use text::{Name, Text, Title, one_of, read_word};

/// A value of a file, the key it stands under and where.
#[derive(Clone, Copy, Debug)]
pub struct Node<'a> {
    pub key: &'a str,
    pub value: &'a DeValue<'a>,
    pub place: Place,
}

/// What can be read from a show file.
pub trait Decode: JsonSchema + Sized {
    /// What should have stood there, for people: "a number from 0 to 1".
    fn expected() -> String;

    /// Stands in for a value that could not be read and has been reported; later checks pass over it in silence.
    fn stand_in() -> Self;

    /// Reads the value, or reports it and gives the stand-in.
    fn decode(node: Node<'_>, found: &mut Found) -> Self;

    /// What a missing key means; `None` if it may not be missing.
    fn if_missing() -> Option<Self> {
        None
    }
}

/// A value and the place where it was written.
#[derive(Clone, Debug)]
pub struct At<T> {
    pub value: T,
    pub place: Place,
}

impl<T: Decode> Decode for At<T> {
    fn expected() -> String {
        T::expected()
    }

    fn stand_in() -> Self {
        At { value: T::stand_in(), place: Place::default() }
    }

    fn decode(node: Node<'_>, found: &mut Found) -> Self {
        At { value: T::decode(node, found), place: node.place }
    }
}

impl<T: JsonSchema> JsonSchema for At<T> {
    fn inline_schema() -> bool {
        T::inline_schema()
    }

    fn schema_name() -> Cow<'static, str> {
        T::schema_name()
    }

    fn schema_id() -> Cow<'static, str> {
        T::schema_id()
    }

    fn json_schema(generator: &mut SchemaGenerator) -> Schema {
        T::json_schema(generator)
    }
}

impl<T: Decode> Decode for Option<T> {
    fn expected() -> String {
        T::expected()
    }

    fn stand_in() -> Self {
        None
    }

    fn decode(node: Node<'_>, found: &mut Found) -> Self {
        Some(T::decode(node, found))
    }

    fn if_missing() -> Option<Self> {
        Some(None)
    }
}

impl<T: Decode> Decode for Box<T> {
    fn expected() -> String {
        T::expected()
    }

    fn stand_in() -> Self {
        Box::new(T::stand_in())
    }

    fn decode(node: Node<'_>, found: &mut Found) -> Self {
        Box::new(T::decode(node, found))
    }
}

impl Decode for bool {
    fn expected() -> String {
        "true or false".into()
    }

    fn stand_in() -> Self {
        false
    }

    fn decode(node: Node<'_>, found: &mut Found) -> Self {
        node.value.as_bool().unwrap_or_else(|| {
            found.bad(node, &Self::expected(), "write true or false, without quotes");
            Self::stand_in()
        })
    }
}
