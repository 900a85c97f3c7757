//! The verbs of the contract's "OSC in".

use arrayvec::ArrayVec;
use glam::DVec3;
use rosc::OscType;

use super::message::found;
use crate::engine::{FocusOn, STANDBY_MAX, StickKind, Verb};
use crate::show::CueId;
use crate::wire::ask::{Ask, WATCH_LEASE_MAX, WATCH_MAX};
use crate::wire::misheard::{Misheard, quoted};
use crate::wire::names::{Names, nearest};

const VERBS: [&str; 12] =
    ["standby", "go", "hold", "resume", "return", "stop", "input", "stick", "dial", "focus", "watch", "unwatch"];

/// What `/bellwire/VERB` with these arguments asks.
///
/// # Errors
/// An unknown verb, arguments that do not fit it, or a name that the show does not have.
pub fn ask(verb: &str, arguments: &[OscType], names: &Names) -> Result<Ask, Misheard> {
    match verb {
        "standby" => standby(arguments, names),
        "go" => go(arguments, names),
        "hold" => Ok(Ask::Verb(Verb::Hold { cue: cue_if_any(arguments, names)? })),
        "resume" => Ok(Ask::Verb(Verb::Resume { cue: cue_if_any(arguments, names)? })),
        "return" => match arguments {
            [cue] => Ok(Ask::Verb(Verb::Return { cue: cue_of(cue, names)?, held: false })),
            _ => Err(unfit("one cue number, a string", arguments)),
        },
        "stop" => Ok(Ask::Stop),
        "input" => input(arguments, names),
        "stick" => {
            stick(StickKind::Stick, "a rig and an axis, strings, and a float from -1 to 1", arguments, names)
        }
        "dial" => stick(StickKind::Dial, "a rig and an axis, strings, and a float from 0 to 1", arguments, names),
        "focus" => focus(arguments, names),
        "watch" => watch(arguments),
        "unwatch" => match arguments {
            [] => Ok(Ask::Unwatch),
            _ => Err(unfit("no argument", arguments)),
        },
        _ => Err(Misheard::UnknownVerb { asked: quoted(verb), nearest: nearest(verb, VERBS.into_iter()) }),
    }
}

/// The cue that a message names, as it was written: the first string of a verb that takes cues.
pub fn cue(verb: &str, arguments: &[OscType]) -> String {
    match (verb, arguments.first()) {
        ("standby" | "go" | "hold" | "resume" | "return", Some(OscType::String(cue))) => quoted(cue),
        _ => String::new(),
    }
}

fn standby(arguments: &[OscType], names: &Names) -> Result<Ask, Misheard> {
    if arguments.is_empty() || arguments.len() > STANDBY_MAX {
        return Err(unfit("1 to 16 cue numbers, strings", arguments));
    }
    let cues = arguments.iter().map(|cue| cue_of(cue, names)).collect::<Result<ArrayVec<CueId, _>, _>>()?;
    Ok(Ask::Verb(Verb::Standby { cues, skip: false }))
}

/// A GO acts on the press. A button that sends 1.0 when pressed and 0.0 when released would be two GOs, and which
/// of the two a number means is a guess; so a GO with a number is none.
fn go(arguments: &[OscType], names: &Names) -> Result<Ask, Misheard> {
    let cue = match arguments {
        [] => None,
        [OscType::String(cue)] => Some(names.cue_or_slot(cue)?),
        _ if arguments.iter().any(is_press) => return Err(Misheard::Pressed { found: found(arguments) }),
        _ => return Err(unfit("no argument or one cue number, a string", arguments)),
    };
    Ok(Ask::Verb(Verb::Go { cue }))
}

fn is_press(argument: &OscType) -> bool {
    match argument {
        OscType::Int(_) | OscType::Long(_) | OscType::Float(_) | OscType::Double(_) | OscType::Bool(_) => true,
        OscType::String(_)
        | OscType::Blob(_)
        | OscType::Time(_)
        | OscType::Char(_)
        | OscType::Color(_)
        | OscType::Midi(_)
        | OscType::Array(_)
        | OscType::Nil
        | OscType::Inf => false,
    }
}

fn input(arguments: &[OscType], names: &Names) -> Result<Ask, Misheard> {
    let expected = "the input's name, a string, and T, F, 1 or 0";
    let [OscType::String(name), value] = arguments else {
        return Err(unfit(expected, arguments));
    };
    // Whatever is not plainly one of the two leaves the input as it was, to grow old and forbid.
    let value = match value {
        OscType::Bool(value) => *value,
        OscType::Int(0) => false,
        OscType::Int(1) => true,
        OscType::Float(value) if *value == 0.0 => false,
        OscType::Float(value) if *value == 1.0 => true,
        _ => return Err(unfit(expected, arguments)),
    };
    Ok(Ask::Verb(Verb::Input { input: names.input(name)?, value }))
}

/// A number that no such control can say is none, and moves nothing.
fn stick(kind: StickKind, expected: &'static str, arguments: &[OscType], names: &Names) -> Result<Ask, Misheard> {
    let [OscType::String(rig), OscType::String(axis), value] = arguments else {
        return Err(unfit(expected, arguments));
    };
    let value = match value {
        OscType::Float(value) => f64::from(*value),
        OscType::Double(value) => *value,
        _ => return Err(unfit(expected, arguments)),
    };
    let axis = names.axis(rig, axis)?;
    if kind.range().contains(&value) {
        Ok(Ask::Stick { axis, kind, value })
    } else {
        Err(unfit(expected, arguments))
    }
}

/// A point is three floats, another rig a string, and nothing at all ends it.
fn focus(arguments: &[OscType], names: &Names) -> Result<Ask, Misheard> {
    let expected = "a rig, a string, and three finite floats, m, or another rig, a string, or nothing";
    let metres = |value: &OscType| match value {
        OscType::Float(value) => Some(f64::from(*value)).filter(|value| value.is_finite()),
        OscType::Double(value) => Some(*value).filter(|value| value.is_finite()),
        _ => None,
    };
    let [OscType::String(rig), on @ ..] = arguments else { return Err(unfit(expected, arguments)) };
    let on = match on {
        [] => None,
        [OscType::String(other)] => Some(FocusOn::Rig { rig: names.rig(other)?, axis: None, point: None }),
        [x, y, z] => match [x, y, z].map(metres) {
            [Some(x), Some(y), Some(z)] => Some(FocusOn::Point(DVec3::new(x, y, z))),
            [..] => return Err(unfit(expected, arguments)),
        },
        _ => return Err(unfit(expected, arguments)),
    };
    Ok(Ask::Verb(Verb::Focus { rig: names.rig(rig)?, on }))
}

fn watch(arguments: &[OscType]) -> Result<Ask, Misheard> {
    let expected = "two ints from 1: changes a second, and seconds until it ends";
    let [OscType::Int(changes), OscType::Int(lease)] = *arguments else {
        return Err(unfit(expected, arguments));
    };
    match (u32::try_from(changes), u32::try_from(lease)) {
        (Ok(changes @ 1..), Ok(lease @ 1..)) => {
            Ok(Ask::Watch { changes: changes.min(WATCH_MAX), lease: lease.min(WATCH_LEASE_MAX) })
        }
        _ => Err(unfit(expected, arguments)),
    }
}

fn cue_if_any(arguments: &[OscType], names: &Names) -> Result<Option<CueId>, Misheard> {
    match arguments {
        [] => Ok(None),
        [OscType::String(cue)] => names.cue_or_slot(cue).map(Some),
        [cue] => cue_of(cue, names).map(Some),
        _ => Err(unfit("no argument or one cue number, a string", arguments)),
    }
}

fn cue_of(argument: &OscType, names: &Names) -> Result<CueId, Misheard> {
    match argument {
        OscType::String(text) => names.cue(text),
        other => Err(Misheard::CueNotText { found: found(std::slice::from_ref(other)) }),
    }
}

fn unfit(expected: &'static str, arguments: &[OscType]) -> Misheard {
    Misheard::Arguments { expected, found: found(arguments) }
}
