//! What came in and could not be understood: expected beside found, its sentence, and its counter.

use std::fmt;

use super::names::nearest;
use crate::engine::NoSuchFault;
use crate::show::CueNumberError;

/// Why a request was not understood, or a packet not read.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Misheard {
    /// Longer than a packet or text of this road may be.
    TooLong {
        bytes: usize,
        limit: usize,
    },
    /// Bundles within bundles, or arrays within arrays.
    TooDeep {
        limit: usize,
    },
    /// More messages in one packet than are taken.
    TooMany {
        limit: usize,
    },
    /// Not OSC: the offset of what is wrong, and what it is.
    Illegible {
        offset: usize,
        what: &'static str,
    },
    /// A message for someone else.
    NotOurs {
        address: String,
    },
    /// One of our own messages out, come back.
    Echo {
        address: String,
    },
    /// An address with pattern characters, which could fire many cues.
    Pattern {
        address: String,
    },
    UnknownVerb {
        asked: String,
        nearest: Option<&'static str>,
    },
    /// A bundle for another time than "immediately". RFC 3339.
    Timed {
        time: String,
    },
    /// A bundle inside another whose time tag is before that one's.
    NestedEarlier,
    /// OSC 1.0: a message with an unknown type tag is discarded.
    UnknownTag {
        tag: char,
    },
    /// Arguments, but no type-tag string that says what they are.
    Untagged,
    /// The arguments do not fit the verb.
    Arguments {
        expected: &'static str,
        found: String,
    },
    /// A number beside a GO: perhaps a button that sends on press and on release.
    Pressed {
        found: String,
    },
    /// A cue number that is an int or a float. 12.10 and 12.1 are two cues, but one float.
    CueNotText {
        found: String,
    },
    NotACueNumber {
        asked: String,
        why: CueNumberError,
    },
    UnknownCue {
        asked: String,
        nearest: Option<String>,
    },
    UnknownInput {
        asked: String,
        nearest: Option<String>,
    },
    /// An input set by another sender than the one its show file names.
    ForeignSource {
        input: String,
        expected: String,
        found: String,
    },
    /// A rig, an axis or a kind of fault; `what` begins the sentence, `known` are the names that there are.
    UnknownName {
        what: String,
        asked: String,
        known: String,
        nearest: Option<String>,
    },
    /// A kind of fault, a rig and what was said beside them make no fault.
    NoSuchFault {
        kind: &'static str,
        rig: String,
        axes: String,
        why: NoSuchFault,
    },
}

impl Misheard {
    /// A name that is none of those known; `what` begins the sentence.
    pub fn unknown(what: &str, asked: &str, known: &[String]) -> Misheard {
        Misheard::UnknownName {
            what: what.to_owned(),
            asked: quoted(asked),
            known: if known.is_empty() { "none".into() } else { known.join(", ") },
            nearest: nearest(asked, known.iter().cloned()),
        }
    }

    /// The counter in the status that it adds to.
    pub fn counter(&self) -> &'static str {
        match self {
            Misheard::TooLong { .. } => "too long",
            Misheard::TooDeep { .. } => "too deep",
            Misheard::TooMany { .. } => "too many messages",
            Misheard::Illegible { .. } => "illegible",
            Misheard::NotOurs { .. } => "not ours",
            Misheard::Echo { .. } => "echo",
            Misheard::Pattern { .. } => "pattern",
            Misheard::UnknownVerb { .. } => "unknown verb",
            Misheard::Timed { .. } | Misheard::NestedEarlier => "timed bundle",
            Misheard::UnknownTag { .. } => "unknown type tag",
            Misheard::Untagged | Misheard::Arguments { .. } | Misheard::Pressed { .. } => "arguments",
            Misheard::CueNotText { .. } | Misheard::NotACueNumber { .. } => "cue number",
            Misheard::UnknownCue { .. } => "unknown cue",
            Misheard::UnknownInput { .. } => "unknown input",
            Misheard::ForeignSource { .. } => "foreign source",
            Misheard::UnknownName { .. } => "unknown name",
            Misheard::NoSuchFault { .. } => "simulated fault",
        }
    }
}

/// `; the nearest known is ...`, or nothing.
struct Nearest<'a>(&'a str, Option<&'a str>);

impl fmt::Display for Nearest<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.1 {
            Some(nearest) => write!(f, "; the nearest known is {}{nearest}", self.0),
            None => Ok(()),
        }
    }
}

impl fmt::Display for Misheard {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Misheard::TooLong { bytes, limit } => {
                write!(f, "{bytes} bytes are more than the {limit} that are taken at once")
            }
            Misheard::TooDeep { limit } => write!(f, "nested deeper than {limit}"),
            Misheard::TooMany { limit } => {
                write!(f, "more than {limit} messages in one packet: send fewer at once")
            }
            Misheard::Illegible { offset, what } => write!(f, "not an OSC packet: byte {offset}: {what}"),
            Misheard::NotOurs { address } => {
                write!(f, "'{address}' is not for us: addresses begin with /bellwire/")
            }
            Misheard::Echo { address } => write!(f, "'{address}' is sent by us, never taken"),
            Misheard::Pattern { address } => {
                write!(
                    f,
                    "'{address}' is a pattern: only literal addresses are taken, since a pattern could fire many"
                )
            }
            Misheard::UnknownVerb { asked, nearest } => {
                write!(f, "there is no '{asked}'{}", Nearest("", *nearest))
            }
            Misheard::Timed { time } => {
                write!(f, "the bundle is for {time}: only \"immediately\" is taken; send it when it is meant")
            }
            Misheard::NestedEarlier => {
                f.write_str("a nested bundle's time tag is before that of the one around it")
            }
            Misheard::UnknownTag { tag } => {
                write!(f, "type tag '{}' is unknown: the message is discarded", tag.escape_debug())
            }
            Misheard::Untagged => {
                f.write_str("there are arguments, but no type-tag string that says what they are")
            }
            Misheard::Arguments { expected, found } => write!(f, "expected {expected}, found {found}"),
            Misheard::Pressed { found } => write!(
                f,
                "expected no argument or one cue number as a string, found {found}: a button that also sends its \
                 release would fire twice; let it send a string or nothing, on the press only"
            ),
            Misheard::CueNotText { found } => {
                write!(f, "a cue number is text such as \"12.5\", since 12.10 and 12.1 are two cues; found {found}")
            }
            Misheard::NotACueNumber { asked, why } => write!(f, "'{asked}' is not a cue number: {why}"),
            Misheard::UnknownCue { asked, nearest } => {
                write!(f, "there is no cue {asked} in this show{}", Nearest("cue ", nearest.as_deref()))
            }
            Misheard::UnknownInput { asked, nearest } => {
                let quoted = nearest.as_ref().map(|name| format!("'{name}'"));
                write!(f, "there is no input '{asked}' in this show{}", Nearest("", quoted.as_deref()))
            }
            Misheard::ForeignSource { input, expected, found } => {
                write!(f, "input '{input}' is believed from {expected} only; this came from {found}")
            }
            Misheard::UnknownName { what, asked, known, nearest } => {
                let nearest = nearest.as_ref().map_or(String::new(), |name| format!("; the nearest is {name}"));
                write!(f, "{what} '{asked}': expected {known}{nearest}")
            }
            Misheard::NoSuchFault { kind, rig, axes, why } => no_such_fault(f, kind, rig, axes, *why),
        }
    }
}

fn no_such_fault(f: &mut fmt::Formatter<'_>, kind: &str, rig: &str, axes: &str, why: NoSuchFault) -> fmt::Result {
    match why {
        NoSuchFault::WhichAxis => {
            write!(f, "{kind} is a fault of one axis, and {rig} has several: say which of {axes}")
        }
        NoSuchFault::WholeRig => write!(f, "{kind} is a fault of the whole rig: leave the axis out"),
        NoSuchFault::HowMuch(size) => write!(f, "{kind} needs a size: {}", size.meaning()),
        NoSuchFault::NoSize => {
            write!(f, "{kind} has no size, or is to end whatever its size is: leave it out")
        }
        NoSuchFault::BadSize(size) => write!(f, "the size of {kind}: expected {}", size.meaning()),
    }
}

impl std::error::Error for Misheard {}

/// A stranger's text for our sentences: no control characters, and not too much of it.
pub(crate) fn quoted(text: &str) -> String {
    const SHOWN_MAX: usize = 60;
    let mut shown: String = text.chars().take(SHOWN_MAX).flat_map(char::escape_debug).collect();
    if text.chars().nth(SHOWN_MAX).is_some() {
        shown.push('…');
    }
    shown
}
