//! Tables with known keys, and tables of which one of several kinds is written.

use toml::Spanned;
use toml::de::{DeString, DeTable};

use super::super::finding::{Code, Finding};
use super::{Decode, Found, Node, either, nearest};

/// A table that is being read key by key.
#[derive(Clone, Copy, Debug)]
pub struct Fields<'a> {
    node: Node<'a>,
    table: &'a DeTable<'a>,
    what: &'static str,
    known: &'a [&'static str],
}

impl<'a> Fields<'a> {
    /// `what` is what the table describes, with its article: "an axis"; `known` are its keys.
    pub fn open(node: Node<'a>, what: &'static str, known: &'a [&'static str]) -> Option<Fields<'a>> {
        node.value.as_table().map(|table| Fields { node, table, what, known })
    }

    pub fn has(&self, key: &str) -> bool {
        self.table.contains_key(key)
    }

    /// The value under `key`; a missing one is reported unless its type says what that means.
    pub fn take<T: Decode>(&self, key: &'static str, found: &mut Found) -> T {
        match self.table.get(key) {
            Some(value) => {
                let node = Node { key, value: value.get_ref(), place: found.place(value.span()) };
                T::decode(node, found)
            }
            None => T::if_missing().unwrap_or_else(|| {
                if !self.misspelt(key) {
                    found.missing(key, &T::expected(), self.what, self.node.place);
                }
                T::stand_in()
            }),
        }
    }

    /// The keys that are none of the known.
    fn unknown(&self) -> impl Iterator<Item = &'a Spanned<DeString<'a>>> + '_ {
        self.table.keys().filter(|key| !self.known.contains(&key.get_ref().as_ref()))
    }

    /// Whether an unknown key is so near to this one that it was meant, and is reported as such.
    fn misspelt(&self, key: &str) -> bool {
        self.unknown().any(|other| strsim::osa_distance(other.get_ref(), key) * 2 < key.len())
    }

    /// Reports every unknown key.
    pub fn refuse_unknown(&self, found: &mut Found) {
        for key in self.unknown() {
            let message = format!("unknown key `{}` in {}", key.get_ref(), self.what);
            let nearest = nearest(key.get_ref(), self.known.iter().copied()).unwrap_or_default();
            let fix = format!("the nearest known key is `{nearest}`; known here: {}", self.known.join(", "));
            found.push(Finding::new(Code::UnknownKey, message).at(found.place(key.span())).fix(fix));
        }
    }

    /// Reports a table of which no kind can be told by its keys.
    pub fn refuse_no_kind(&self, kinds: &[&[&'static str]], found: &mut Found) {
        self.refuse_unknown(found);
        if self.unknown().next().is_some() {
            return;
        }
        let begun = kinds.iter().filter(|keys| self.has(keys[0])).map(|keys| keys[0]).next();
        let (expected, fix) = match begun {
            // The first key of a kind tells what it is of, the second tells what of it.
            Some(first) => {
                let seconds: Vec<&str> =
                    kinds.iter().filter(|keys| keys[0] == first).filter_map(|keys| keys.get(1).copied()).collect();
                (format!("{} beside `{first}`", either(&seconds)), format!("add one of them beside `{first}`"))
            }
            None => {
                let firsts = keys_of(&kinds.iter().map(|keys| &keys[..1]).collect::<Vec<_>>());
                (format!("one of {}", either(&firsts)), "write the keys of one kind".into())
            }
        };
        let message = format!("`{}`: expected {} with {expected}, found none", self.node.key, self.what);
        found.push(Finding::new(Code::BadValue, message).at(self.node.place).fix(fix));
    }
}

/// The keys of all kinds, each once.
pub fn keys_of(kinds: &[&[&'static str]]) -> Vec<&'static str> {
    let mut keys = Vec::new();
    for key in kinds.iter().copied().flatten() {
        if !keys.contains(key) {
            keys.push(*key);
        }
    }
    keys
}

/// The key of a field: its name, or what it is written as where that is a word of Rust.
macro_rules! key {
    ($field:ident) => {
        stringify!($field)
    };
    ($field:ident $key:literal) => {
        $key
    };
}

/// Declares a table once: its struct, its schema and its strict reading. A key is optional if its type is `Option`.
macro_rules! record {
    (
        $(#[$doc:meta])*
        $name:ident, $what:literal {
            $($(#[$field_doc:meta])* $field:ident $(as $key:literal)?: $type:ty,)*
        }
    ) => {
        $(#[$doc])*
        #[derive(Clone, Debug, schemars::JsonSchema)]
        #[schemars(deny_unknown_fields)]
        pub struct $name {
            $($(#[$field_doc])* $(#[schemars(rename = $key)])? pub $field: $type,)*
        }

        impl $name {
            /// The keys of the table.
            pub const KEYS: &[&str] = &[$($crate::show::decode::key!($field $($key)?)),*];
        }

        impl $crate::show::decode::Decode for $name {
            fn expected() -> String {
                concat!("a table for ", $what).into()
            }

            fn stand_in() -> Self {
                $name { $($field: $crate::show::decode::Decode::stand_in(),)* }
            }

            fn decode(
                node: $crate::show::decode::Node<'_>,
                found: &mut $crate::show::decode::Found,
            ) -> Self {
                let Some(fields) = $crate::show::decode::Fields::open(node, $what, Self::KEYS) else {
                    return found.wrong::<Self>(node);
                };
                fields.refuse_unknown(found);
                $name { $($field: fields.take($crate::show::decode::key!($field $($key)?), found),)* }
            }
        }
    };
}

/// Declares a table of which one of several kinds is written, told apart by the keys named with each kind.
macro_rules! choice {
    (
        $(#[$doc:meta])*
        $name:ident, $what:literal {
            $($(#[$kind_doc:meta])* $kind:ident($type:ty) by [$($key:literal),+],)*
        }
    ) => {
        $(#[$doc])*
        #[derive(Clone, Debug, schemars::JsonSchema)]
        #[schemars(untagged)]
        pub enum $name {
            $($(#[$kind_doc])* $kind($type),)*
            /// Could not be read, and has been reported.
            #[schemars(skip)]
            Unread,
        }

        impl $crate::show::decode::Decode for $name {
            fn expected() -> String {
                concat!("a table for ", $what).into()
            }

            fn stand_in() -> Self {
                $name::Unread
            }

            fn decode(
                node: $crate::show::decode::Node<'_>,
                found: &mut $crate::show::decode::Found,
            ) -> Self {
                const KINDS: &[&[&'static str]] = &[$(&[$($key),+]),*];
                let known = $crate::show::decode::keys_of(&[$(<$type>::KEYS),*]);
                let Some(fields) = $crate::show::decode::Fields::open(node, $what, &known) else {
                    return found.wrong::<Self>(node);
                };
                $(
                    if [$($key),+].iter().all(|key| fields.has(key)) {
                        return $name::$kind($crate::show::decode::Decode::decode(node, found));
                    }
                )*
                fields.refuse_no_kind(KINDS, found);
                $name::Unread
            }
        }
    };
}

pub(crate) use {choice, key, record};
