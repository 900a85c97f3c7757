//! What `bellwire hand` shows: the device, what moves on it and drives what, and whose the rigs are.

use std::fmt::Write;

use serde_json::Value;

use super::desk::{Desk, Say};
use super::whose;
use crate::show::hand::{DriveKind, FocusTo, HandMap};

/// Cells of a lever's bar.
const BAR: usize = 21;

/// The lines that are drawn again and again. `status` is the daemon's, null before it came, and `own` what it calls this client;
/// `words` is what was said last.
pub fn screen(desk: &Desk, address: &str, (status, own): (&Value, &str), words: &str) -> String {
    let mut text = String::new();
    let device = desk.device().unwrap_or("no device");
    let _ = writeln!(text, "{device}  ->  {address}{}", show(status));
    let _ = writeln!(text, "{}", hold(desk));
    for (lever, place) in desk.levers() {
        let _ = write!(text, "  {lever:<9}{}", bar(place.share().unwrap_or(0.5)));
        for (drive, said) in desk.drives_of(lever) {
            let asked = match said {
                Some(Say::Stick(value)) => format!("{value:+.2}"),
                Some(Say::Dial(value)) => format!("{value:.3}"),
                Some(Say::LetGo) | None => "-".to_owned(),
            };
            let kind = if matches!(drive.kind, DriveKind::Dial) { " dial" } else { "" };
            let _ = write!(
                text,
                "  {}.{}{kind} {asked}{}",
                drive.rig,
                drive.axis,
                stands(status, &drive.rig, &drive.axis)
            );
        }
        text.push('\n');
    }
    if !desk.pressed().is_empty() {
        let names: Vec<String> = desk.pressed().iter().map(ToString::to_string).collect();
        let _ = writeln!(text, "  pressed: {}", names.join(", "));
    }
    for rig in desk.map().rigs() {
        let _ = writeln!(text, "{}", whose::line(status, rig, own));
    }
    if !words.is_empty() {
        let _ = writeln!(text, "{words}");
    }
    text.push_str("Escape or s stops everything (it is no emergency stop); q gives the rigs back and ends\n");
    text
}

fn show(status: &Value) -> String {
    if !status["stopped"].is_null() {
        return "  STOPPED".to_owned();
    }
    match status["armed"].as_bool() {
        Some(true) => "  armed".to_owned(),
        Some(false) => "  not armed: nothing moves".to_owned(),
        None => String::new(),
    }
}

fn hold(desk: &Desk) -> String {
    let map = desk.map();
    let held = if desk.is_held() {
        format!("HELD  {} drives while it is held", map.hold)
    } else {
        format!("ZERO  hold {} to drive", map.hold)
    };
    let count = map.layers.len();
    match &map.layers[desk.layer()].name {
        Some(name) => format!("{held}; layer {name} ({} of {count})", desk.layer() + 1),
        None => held,
    }
}

/// From one end to the other, with its middle and where the lever is.
fn bar(share: f64) -> String {
    let at = (share * (BAR - 1) as f64).round() as usize;
    let cell = |cell: usize| match cell {
        _ if cell == at => '#',
        _ if cell == BAR / 2 => '|',
        _ => '-',
    };
    (0..BAR).map(cell).collect()
}

fn stands(status: &Value, rig: &str, axis: &str) -> String {
    let axis = &status["rigs"][rig]["axes"][axis];
    axis["position"].as_f64().map_or_else(String::new, |position| format!("  at {position:.3}"))
}

/// What the map drives, for the beginning: one line each.
pub fn mapping(map: &HandMap) -> String {
    let mut text = String::new();
    for drive in &map.drives {
        let layer = drive.layer.and_then(|layer| map.layers[layer].name.as_deref());
        let layer = layer.map_or_else(String::new, |layer| format!(" in layer {layer}"));
        let kind = if matches!(drive.kind, DriveKind::Dial) { "places" } else { "drives" };
        let way = if drive.reversed { ", reversed" } else { "" };
        let _ = writeln!(text, "{} {kind} {}.{}{layer}{way}", drive.lever, drive.rig, drive.axis);
    }
    for focus in &map.focuses {
        let on = match &focus.on {
            FocusTo::Rig(other) => other.clone(),
            FocusTo::Point([x, y, z]) => format!("the point {x}, {y}, {z}"),
        };
        let _ = writeln!(text, "{} has the focus of {} follow {on}", focus.button, focus.rig);
    }
    text
}
