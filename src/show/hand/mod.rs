//! A map for hands, such as hand.toml: what the sticks, dials and buttons of an operator's device drive.
//!
//! It belongs to a device and a person, is no part of the show, and is read where the device is, perhaps on another machine
//! than the show: so rigs and axes are names here, which whoever drives them holds against the show.

mod controls;
mod read;
#[cfg(test)]
mod tests;
mod written;

use serde_json::{Value, json};

pub use controls::{Button, Lever};
pub use read::{MapReading, read_map, read_map_beside};

use super::schema_of;

/// The file's name, where none is given.
pub const MAP_FILE: &str = "hand.toml";

/// What a device drives.
#[derive(Clone, Debug, PartialEq)]
pub struct HandMap {
    /// A part of the name that the device gives itself, in small letters; without one any will do.
    pub device: Option<String>,
    /// Nothing is driven unless this is held.
    pub hold: Button,
    /// Stops everything.
    pub stop: Option<Button>,
    /// Goes on to the next layer.
    pub next: Option<Button>,
    /// At least one; the first is that which it begins in.
    pub layers: Vec<Layer>,
    pub drives: Vec<Drive>,
    pub focuses: Vec<FocusButton>,
}

/// A button that has the focus of a rig follow something.
#[derive(Clone, Debug, PartialEq)]
pub struct FocusButton {
    pub button: Button,
    pub rig: String,
    pub on: FocusTo,
}

#[derive(Clone, Debug, PartialEq)]
pub enum FocusTo {
    Rig(String),
    /// m
    Point([f64; 3]),
}

/// A set of axes for the same few sticks.
#[derive(Clone, Debug, PartialEq)]
pub struct Layer {
    /// None for the only layer of a map that names none.
    pub name: Option<String>,
    /// Goes to this layer.
    pub button: Option<Button>,
}

/// One lever of the device on one axis of a rig.
#[derive(Clone, Debug, PartialEq)]
pub struct Drive {
    pub lever: Lever,
    pub rig: String,
    pub axis: String,
    /// By its number; none in every layer.
    pub layer: Option<usize>,
    pub reversed: bool,
    pub kind: DriveKind,
}

#[derive(Clone, Copy, Debug, PartialEq)]
pub enum DriveKind {
    /// Its speed; both are shares, see [`Response`](crate::motion::Response).
    Stick { dead_band: f64, taper: f64 },
    /// Its place.
    Dial,
}

impl Drive {
    pub fn is_in(&self, layer: usize) -> bool {
        self.layer.is_none_or(|own| own == layer)
    }
}

impl HandMap {
    /// The rigs that it drives, each once, in the order of the file.
    pub fn rigs(&self) -> Vec<&str> {
        let mut rigs: Vec<&str> = Vec::new();
        let focused = self.focuses.iter().map(|focus| &focus.rig);
        for rig in self.drives.iter().map(|drive| &drive.rig).chain(focused) {
            if !rigs.contains(&rig.as_str()) {
                rigs.push(rig);
            }
        }
        rigs
    }
}

/// The JSON Schema (draft 2020-12) of a map for hands, with an example.
pub fn map_schema() -> Value {
    let mut schema = schema_of::<written::MapFile>();
    schema["examples"] = json!([{
        "device": "two-stick pad",
        "hold": "tl",
        "stop": "mode",
        "next": "tr",
        "layer": [{ "name": "jib" }, { "name": "head", "button": "dpad-up" }],
        "stick": [
            { "from": "x", "to": "heron.swing", "layer": "jib", "dead_band": 0.1, "taper": 0.3 },
            { "from": "y", "to": "heron.boom", "layer": "jib", "reversed": true },
            { "from": "rx", "to": "heron.pan" },
        ],
        "dial": [{ "from": "rz", "to": "heron.focus" }],
        "focus": [{ "button": "south", "rig": "heron", "on": "gull" }],
    }]);
    schema
}
