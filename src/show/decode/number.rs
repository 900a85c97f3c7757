//! Numbers with their ranges.

use std::ops::RangeInclusive;

use toml::de::DeValue;

use super::super::finding::{Code, Finding};
use super::{Found, Node};

/// Reads a number in `range`; reports anything else and gives NaN, which fails no later comparison.
pub fn read_number(node: Node<'_>, range: &RangeInclusive<f64>, expected: &str, found: &mut Found) -> f64 {
    let number = match node.value {
        DeValue::Integer(integer) => i64::from_str_radix(integer.as_str(), integer.radix()).ok().map(|n| n as f64),
        DeValue::Float(float) => float.as_str().parse().ok(),
        DeValue::String(_) | DeValue::Boolean(_) | DeValue::Datetime(_) | DeValue::Array(_) | DeValue::Table(_) => {
            None
        }
    };
    let Some(number) = number else {
        found.bad(node, expected, how_to_write(node.value));
        return f64::NAN;
    };
    // A subnormal number was computed or damaged, never meant.
    if range.contains(&number) && !number.is_subnormal() {
        return number;
    }
    let limit = if number < *range.start() { *range.start() } else { *range.end() };
    let message = format!("`{}`: expected {expected}, found {}", node.key, shown(number));
    let fix = match number.is_finite() {
        true => "bring it into the range; see whether it is in the unit that is expected",
        false => "write a number in the range",
    };
    let finding = Finding::new(Code::BadValue, message).at(node.place).fix(fix);
    found.push(if number.is_finite() { finding.against(number, limit) } else { finding });
    f64::NAN
}

/// What to do about a value that is no number.
fn how_to_write(value: &DeValue<'_>) -> &'static str {
    match value {
        DeValue::String(text) if text.trim().parse::<f64>().is_ok() => "remove the quotes",
        DeValue::String(_) => "write the number alone, without quotes or a unit",
        DeValue::Array(_) | DeValue::Table(_) => "write one number, without brackets",
        DeValue::Integer(_) | DeValue::Float(_) | DeValue::Boolean(_) | DeValue::Datetime(_) => {
            "write a number, with a point before its decimals"
        }
    }
}

fn shown(number: f64) -> String {
    if number == 0.0 || (1e-4..1e7).contains(&number.abs()) || !number.is_finite() {
        format!("{number}")
    } else {
        format!("{number:e}")
    }
}

/// Declares numbers by their range and meaning; ends belong to the range.
macro_rules! numbers {
    ($($(#[$doc:meta])* $name:ident = $low:literal to $high:literal, $meaning:literal;)*) => {$(
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, PartialEq, PartialOrd)]
        pub struct $name(pub f64);

        impl $crate::show::decode::Decode for $name {
            fn expected() -> String {
                concat!("a number from ", $low, " to ", $high, " (", $meaning, ")").into()
            }

            fn stand_in() -> Self {
                $name(f64::NAN)
            }

            fn decode(
                node: $crate::show::decode::Node<'_>,
                found: &mut $crate::show::decode::Found,
            ) -> Self {
                let expected = <Self as $crate::show::decode::Decode>::expected();
                $name($crate::show::decode::read_number(node, &($low..=$high), &expected, found))
            }
        }

        impl schemars::JsonSchema for $name {
            fn inline_schema() -> bool {
                true
            }

            fn schema_name() -> std::borrow::Cow<'static, str> {
                stringify!($name).into()
            }

            fn json_schema(_generator: &mut schemars::SchemaGenerator) -> schemars::Schema {
                schemars::json_schema!({ "type": "number", "minimum": $low, "maximum": $high })
            }
        }
    )*};
}

pub(crate) use numbers;
