//! The names of what moves on a device: those of the Linux input protocol in small letters, without their prefix.
//!
//! Numbers and names from the kernel's `input-event-codes.h`; where on a pad they are, from its "Linux Gamepad
//! Specification".

use std::fmt;

/// Something on a device that has a place: a stick's one direction, a trigger, a wheel. The number of an absolute axis.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Lever(pub u16);

/// Something on a device that is pressed or not. The number of a key.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Button(pub u16);

const LEVERS: [(u16, &str); 19] = [
    (0x00, "x"),
    (0x01, "y"),
    (0x02, "z"),
    (0x03, "rx"),
    (0x04, "ry"),
    (0x05, "rz"),
    (0x06, "throttle"),
    (0x07, "rudder"),
    (0x08, "wheel"),
    (0x09, "gas"),
    (0x0a, "brake"),
    (0x10, "hat0x"),
    (0x11, "hat0y"),
    (0x12, "hat1x"),
    (0x13, "hat1y"),
    (0x14, "hat2x"),
    (0x15, "hat2y"),
    (0x16, "hat3x"),
    (0x17, "hat3y"),
];

const BUTTONS: [(u16, &str); 32] = [
    (0x120, "trigger"),
    (0x121, "thumb"),
    (0x122, "thumb2"),
    (0x123, "top"),
    (0x124, "top2"),
    (0x125, "pinkie"),
    (0x126, "base"),
    (0x127, "base2"),
    (0x128, "base3"),
    (0x129, "base4"),
    (0x12a, "base5"),
    (0x12b, "base6"),
    (0x12f, "dead"),
    (0x130, "south"),
    (0x131, "east"),
    (0x132, "c"),
    (0x133, "north"),
    (0x134, "west"),
    (0x135, "z"),
    (0x136, "tl"),
    (0x137, "tr"),
    (0x138, "tl2"),
    (0x139, "tr2"),
    (0x13a, "select"),
    (0x13b, "start"),
    (0x13c, "mode"),
    (0x13d, "thumbl"),
    (0x13e, "thumbr"),
    (0x220, "dpad-up"),
    (0x221, "dpad-down"),
    (0x222, "dpad-left"),
    (0x223, "dpad-right"),
];

/// What an absolute axis, and a key, without a name of its own is called, before its number.
const NUMBERED: [&str; 2] = ["lever-", "button-"];
const LEVER_MOST: u16 = 0x3f;
const BUTTON_MOST: u16 = 0x2ff;

impl Lever {
    pub fn named(name: &str) -> Option<Lever> {
        code(name, &LEVERS, NUMBERED[0], LEVER_MOST).map(Lever)
    }

    pub fn names() -> impl Iterator<Item = &'static str> {
        LEVERS.iter().map(|(_, name)| *name)
    }
}

impl Button {
    pub fn named(name: &str) -> Option<Button> {
        code(name, &BUTTONS, NUMBERED[1], BUTTON_MOST).map(Button)
    }

    pub fn names() -> impl Iterator<Item = &'static str> {
        BUTTONS.iter().map(|(_, name)| *name)
    }
}

fn code(name: &str, names: &[(u16, &str)], numbered: &str, most: u16) -> Option<u16> {
    let by_name = names.iter().find(|(_, known)| *known == name).map(|(code, _)| *code);
    let by_number = || name.strip_prefix(numbered)?.parse().ok().filter(|code| *code <= most);
    by_name.or_else(by_number)
}

impl fmt::Display for Lever {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        named(self.0, &LEVERS, NUMBERED[0], f)
    }
}

impl fmt::Display for Button {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        named(self.0, &BUTTONS, NUMBERED[1], f)
    }
}

fn named(code: u16, names: &[(u16, &str)], numbered: &str, f: &mut fmt::Formatter<'_>) -> fmt::Result {
    match names.iter().find(|(known, _)| *known == code) {
        Some((_, name)) => f.pad(name),
        None => f.pad(&format!("{numbered}{code}")),
    }
}
