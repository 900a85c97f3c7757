//! The parameters of a call, taken out one by one; what is left over is an error.

use serde_json::{Map, Value};

use super::reply::Error;
use crate::wire::misheard::quoted;
use crate::wire::names::nearest;

/// The parameters by name, each to be taken once.
pub struct Params {
    left: Map<String, Value>,
    taken: Vec<&'static str>,
}

impl Params {
    pub fn new(left: Map<String, Value>) -> Params {
        Params { left, taken: Vec::new() }
    }

    /// # Errors
    /// Missing, or not what `read` takes; `expected` says what that is.
    pub fn need<T>(
        &mut self,
        name: &'static str,
        expected: &str,
        read: impl FnOnce(&Value) -> Option<T>,
    ) -> Result<T, Error> {
        self.optional(name, expected, read)?
            .ok_or_else(|| Error::new(Error::BAD_PARAMS, format!("{name}: expected {expected}, found nothing")))
    }

    /// `null` is as good as absent.
    ///
    /// # Errors
    /// There, but not what `read` takes.
    pub fn optional<T>(
        &mut self,
        name: &'static str,
        expected: &str,
        read: impl FnOnce(&Value) -> Option<T>,
    ) -> Result<Option<T>, Error> {
        self.taken.push(name);
        match self.left.shift_remove(name) {
            None | Some(Value::Null) => Ok(None),
            Some(value) => read(&value).map(Some).ok_or_else(|| {
                let found = found(&value);
                Error::new(Error::BAD_PARAMS, format!("{name}: expected {expected}, found {found}"))
            }),
        }
    }

    /// # Errors
    /// A parameter that the method does not have.
    pub fn end(self) -> Result<(), Error> {
        let Some(name) = self.left.keys().next() else { return Ok(()) };
        let expected = if self.taken.is_empty() { "none".into() } else { self.taken.join(", ") };
        let hint = nearest(name, self.taken.into_iter()).map(|name| format!("; the nearest is {name}"));
        let message =
            format!("unknown parameter \"{}\": expected {expected}{}", quoted(name), hint.unwrap_or_default());
        Err(Error::new(Error::BAD_PARAMS, message))
    }
}

/// A value in words, for a sentence that says what was found.
pub fn found(value: &Value) -> String {
    match value {
        Value::Null => "null".into(),
        Value::Bool(value) => value.to_string(),
        Value::Number(number) => format!("the number {number}"),
        Value::String(text) => format!("the text \"{}\"", quoted(text)),
        Value::Array(items) => format!("a list of {}", items.len()),
        Value::Object(_) => "an object".into(),
    }
}
