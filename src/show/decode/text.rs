//! Texts: names, titles, words of a fixed list.

use schemars::JsonSchema;

use super::super::finding::{Code, Finding};
use super::{Decode, Found, Node, describe, near, nearest};

/// A name without spaces and dots, as it stands in `rig.axis`; empty if it could not be read.
#[derive(Clone, Debug, Default, PartialEq, Eq, JsonSchema)]
#[schemars(inline)]
pub struct Name(#[schemars(regex(pattern = r"^[^\s.\u0000-\u001f\u007f]{1,64}$"))] pub String);

impl Name {
    /// Why a text is no name, if it is none.
    pub fn refused(text: &str) -> bool {
        let forbidden = |c: char| c.is_whitespace() || c.is_control() || c == '.';
        text.is_empty() || text.chars().count() > 64 || text.chars().any(forbidden)
    }
}

/// One line for people; empty if it could not be read.
#[derive(Clone, Debug, Default, PartialEq, Eq, JsonSchema)]
#[schemars(inline)]
pub struct Title(#[schemars(regex(pattern = r"^[^\u0000-\u001f\u007f-\u009f]{1,200}$"))] pub String);

/// A few lines for people.
#[derive(Clone, Debug, Default, PartialEq, Eq, JsonSchema)]
#[schemars(inline)]
pub struct Text(#[schemars(length(max = 4000))] pub String);

macro_rules! texts {
    ($($name:ident, $expected:literal, $refused:expr;)*) => {$(
        impl Decode for $name {
            fn expected() -> String {
                $expected.into()
            }

            fn stand_in() -> Self {
                $name::default()
            }

            fn decode(node: Node<'_>, found: &mut Found) -> Self {
                let refused: fn(&str) -> bool = $refused;
                match node.value.as_str() {
                    Some(text) if !refused(text) => $name(text.to_owned()),
                    Some(_) => found.wrong(node),
                    None => {
                        found.bad(node, $expected, "put a text in quotes");
                        Self::stand_in()
                    }
                }
            }
        }
    )*};
}

texts! {
    Name, "a name of 1 to 64 characters without spaces and dots", Name::refused;
    Title, "a text of 1 to 200 characters on one line",
        |text| text.is_empty() || text.chars().count() > 200 || text.chars().any(char::is_control);
    Text, "a text of at most 4000 characters", |text| text.chars().count() > 4000;
}

/// Reads one of a list of words; reports anything else, with the nearest.
pub fn read_word<T: Copy>(node: Node<'_>, words: &[(&'static str, T)], found: &mut Found) -> Option<T> {
    let text = node.value.as_str();
    if let Some((_, value)) = words.iter().find(|(word, _)| Some(*word) == text) {
        return Some(*value);
    }
    let Some(text) = text else {
        found.bad(node, &one_of(words), "put one of these words in quotes");
        return None;
    };
    let message = format!("`{}`: expected {}, found {}", node.key, one_of(words), describe(node.value));
    let nearest = nearest(text, words.iter().map(|(word, _)| *word)).unwrap_or_default();
    let fix =
        if near(text, nearest) { format!("the nearest is \"{nearest}\"") } else { "write one of these".into() };
    found.push(Finding::new(Code::BadValue, message).at(node.place).fix(fix));
    None
}

/// "\"m\", \"mm\" or \"deg\"".
pub fn one_of<T>(words: &[(&'static str, T)]) -> String {
    let quoted: Vec<String> = words.iter().map(|(word, _)| format!("\"{word}\"")).collect();
    match quoted.split_last() {
        Some((last, rest)) if !rest.is_empty() => format!("{} or {last}", rest.join(", ")),
        Some((last, _)) => last.clone(),
        None => String::new(),
    }
}

/// Gives types of the show their words in files and in the schema, the stand-in first.
macro_rules! words {
    ($($type:ident { $($word:literal = $value:path),+ $(,)? })*) => {$(
        impl $type {
            const WORDS: &[(&'static str, $type)] = &[$(($word, $value)),+];
        }

        impl $crate::show::decode::Decode for $type {
            fn expected() -> String {
                $crate::show::decode::one_of($type::WORDS)
            }

            fn stand_in() -> Self {
                $type::WORDS[0].1
            }

            fn decode(
                node: $crate::show::decode::Node<'_>,
                found: &mut $crate::show::decode::Found,
            ) -> Self {
                $crate::show::decode::read_word(node, $type::WORDS, found).unwrap_or($type::WORDS[0].1)
            }
        }

        impl schemars::JsonSchema for $type {
            fn inline_schema() -> bool {
                true
            }

            fn schema_name() -> std::borrow::Cow<'static, str> {
                stringify!($type).into()
            }

            fn json_schema(_generator: &mut schemars::SchemaGenerator) -> schemars::Schema {
                schemars::json_schema!({ "type": "string", "enum": [$($word),+] })
            }
        }
    )*};
}

pub(crate) use words;
