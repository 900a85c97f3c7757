//! One message's arguments, by way of the `rosc` decoder.

use rosc::{OscPacket, OscType};

use crate::wire::misheard::{Misheard, quoted};

/// Arguments of one message. It also bounds how deep arrays can nest.
const ARGUMENTS_MAX: usize = 64;

/// The arguments of `message`, of which `rest` is what follows the address.
///
/// A missing type-tag string is tolerated where there are no arguments (OSC 1.0).
///
/// # Errors
/// Arguments without type tags, with unknown ones (for which OSC 1.0 has the message discarded), too many of them,
/// or other than their tags say.
pub fn arguments(message: &[u8], rest: &[u8]) -> Result<Vec<OscType>, Misheard> {
    if rest.is_empty() {
        return Ok(Vec::new());
    }
    let tags = rest.strip_prefix(b",").ok_or(Misheard::Untagged)?;
    let ragged = |what| Misheard::Illegible { offset: message.len() - rest.len(), what };
    let length = tags.iter().position(|&byte| byte == 0).ok_or(ragged("the type tags have no end"))?;
    if length > ARGUMENTS_MAX {
        return Err(Misheard::Arguments { expected: "at most 64 arguments", found: format!("{length} type tags") });
    }
    if let Some(&tag) = tags[..length].iter().find(|tag| !b"ifsbhtdrcmTFNI[]".contains(tag)) {
        return Err(Misheard::UnknownTag { tag: char::from(tag) });
    }
    match rosc::decoder::decode_udp(message) {
        Ok(([], OscPacket::Message(message))) => Ok(message.args),
        Ok(([], OscPacket::Bundle(_))) => Err(ragged("a bundle where a message was")),
        Ok((_, _)) => Err(ragged("more bytes than the type tags say")),
        Err(_) => Err(ragged("the arguments are not what the type tags say")),
    }
}

/// Arguments in words, for a sentence that says what was found.
pub fn found(arguments: &[OscType]) -> String {
    const SHOWN_MAX: usize = 4;
    if arguments.is_empty() {
        return "no argument".into();
    }
    let mut shown: Vec<String> = arguments.iter().take(SHOWN_MAX).map(found_one).collect();
    if arguments.len() > SHOWN_MAX {
        shown.push(format!("{} more", arguments.len() - SHOWN_MAX));
    }
    shown.join(", ")
}

fn found_one(argument: &OscType) -> String {
    match argument {
        OscType::Int(value) => format!("the int {value}"),
        OscType::Long(value) => format!("the long int {value}"),
        OscType::Float(value) => format!("the float {value}"),
        OscType::Double(value) => format!("the double {value}"),
        OscType::String(text) => format!("the string \"{}\"", quoted(text)),
        OscType::Blob(bytes) => format!("a blob of {} bytes", bytes.len()),
        OscType::Bool(true) => "T".into(),
        OscType::Bool(false) => "F".into(),
        OscType::Nil => "N".into(),
        OscType::Inf => "I".into(),
        OscType::Time(_) => "a time tag".into(),
        OscType::Char(letter) => format!("the character '{}'", letter.escape_debug()),
        OscType::Color(_) => "a colour".into(),
        OscType::Midi(_) => "a MIDI message".into(),
        OscType::Array(_) => "an array".into(),
    }
}
