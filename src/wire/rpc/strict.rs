//! JSON read strictly: a key that stands twice is an error rather than a riddle, and nothing nests deep.

use std::fmt;

use serde::de::{DeserializeSeed, Deserializer, Error, MapAccess, SeqAccess, Visitor};
use serde_json::{Map, Number, Value};

use crate::wire::misheard::quoted;

/// Arrays and objects within each other.
pub const DEPTH_MAX: usize = 16;

/// Reads one JSON value.
///
/// # Errors
/// The reader's sentence, with line and column.
pub fn read(text: &str) -> Result<Value, String> {
    let mut reader = serde_json::Deserializer::from_str(text);
    let value = Strict { depth: 0 }.deserialize(&mut reader).map_err(|error| error.to_string())?;
    reader.end().map_err(|error| error.to_string())?;
    Ok(value)
}

#[derive(Clone, Copy)]
struct Strict {
    depth: usize,
}

impl Strict {
    fn deeper<E: Error>(self) -> Result<Strict, E> {
        if self.depth == DEPTH_MAX {
            return Err(E::custom(format_args!("nested deeper than {DEPTH_MAX}")));
        }
        Ok(Strict { depth: self.depth + 1 })
    }
}

impl<'de> DeserializeSeed<'de> for Strict {
    type Value = Value;

    fn deserialize<D: Deserializer<'de>>(self, reader: D) -> Result<Value, D::Error> {
        reader.deserialize_any(self)
    }
}

impl<'de> Visitor<'de> for Strict {
    type Value = Value;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("a JSON value")
    }

    fn visit_unit<E: Error>(self) -> Result<Value, E> {
        Ok(Value::Null)
    }

    fn visit_bool<E: Error>(self, value: bool) -> Result<Value, E> {
        Ok(value.into())
    }

    fn visit_i64<E: Error>(self, value: i64) -> Result<Value, E> {
        Ok(value.into())
    }

    fn visit_u64<E: Error>(self, value: u64) -> Result<Value, E> {
        Ok(value.into())
    }

    fn visit_f64<E: Error>(self, value: f64) -> Result<Value, E> {
        Number::from_f64(value).map(Value::Number).ok_or_else(|| E::custom("a number out of range"))
    }

    fn visit_str<E: Error>(self, value: &str) -> Result<Value, E> {
        Ok(value.into())
    }

    fn visit_seq<A: SeqAccess<'de>>(self, mut items: A) -> Result<Value, A::Error> {
        let deeper = self.deeper()?;
        let mut list = Vec::new();
        while let Some(item) = items.next_element_seed(deeper)? {
            list.push(item);
        }
        Ok(Value::Array(list))
    }

    fn visit_map<A: MapAccess<'de>>(self, mut entries: A) -> Result<Value, A::Error> {
        let deeper = self.deeper()?;
        let mut map = Map::new();
        while let Some(key) = entries.next_key::<String>()? {
            if map.contains_key(&key) {
                return Err(A::Error::custom(format_args!("the key \"{}\" stands twice", quoted(&key))));
            }
            let value = entries.next_value_seed(deeper)?;
            map.insert(key, value);
        }
        Ok(Value::Object(map))
    }
}
