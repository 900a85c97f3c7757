//! A small show for one story at a time: two carts that share nothing, and a head that rides on one of them.

use bellwire::engine::*;
use bellwire::show::Show;

use super::Hall;

/// A cart on a rail of its own, so far upstage.
macro_rules! cart {
    ($upstage:literal) => {
        concat!(
            "kind = \"cart\"\nat = [0.0, ",
            $upstage,
            r#", 0.0]
[[axis]]
name = "travel"
unit = "m"
travel = [-3.0, 3.0]
start = 0.0
speed = 1.0
acceleration = 1.0
jerk = 4.0
tolerance = 0.02
joint = { slide = "x", at = [0.0, 0.0, 0.0] }
bodies = [{ sphere = { at = [0.0, 0.0, 0.3], radius = 0.3 } }]
[marks]
middle = { travel = 0.0 }
out = { travel = 2.0 }
"#
        )
    };
}

/// Two carts on rails that share nothing, and a head that rides on the first.
pub const CARTS: &[(&str, &str)] = &[("rigs/east.toml", EAST), ("rigs/west.toml", WEST), ("rigs/head.toml", HEAD)];

pub const EAST: &str = cart!("0.0");
pub const WEST: &str = cart!("4.0");

pub const HEAD: &str = r#"
kind = "head"
at = [0.0, 0.0, 0.5]
on = "east.travel"
[[axis]]
name = "pan"
unit = "deg"
travel = [-90.0, 90.0]
start = 0.0
speed = 60.0
acceleration = 120.0
jerk = 600.0
joint = { turn = "z", at = [0.0, 0.0, 0.0] }
[[axis]]
name = "zoom"
unit = "percent"
travel = [0.0, 100.0]
start = 0.0
speed = 50.0
acceleration = 200.0
jerk = 1000.0
"#;

pub fn show(settings: &str, cues: &str) -> Show {
    let head = format!("[show]\nname = \"Carts\"\nmargin = 0.1\nreact = 0.1\nguard = 0.2\n{settings}");
    let mut files: Vec<(&str, &str)> = CARTS.to_vec();
    files.push(("show.toml", &head));
    files.push(("cues/all.toml", cues));
    super::show_of(&files)
}

pub fn hall(settings: &str, cues: &str) -> Hall {
    let mut hall = Hall::open(show(settings, cues));
    hall.arm();
    hall
}

pub fn cue(number: &str, rest: &str) -> String {
    format!("[[cue]]\nnumber = \"{number}\"\nname = \"{number}\"\n{rest}\n")
}

pub fn east(to: f64, time: f64) -> String {
    format!("move = [{{ rig = \"east\", to = {{ travel = {to:?} }}, time = {time:?} }}]")
}

pub fn west(to: f64, time: f64) -> String {
    east(to, time).replace("east", "west")
}

pub fn standby_of(hall: &mut Hall, numbers: &[&str], skip: bool) -> Accepted {
    let cues = numbers.iter().map(|number| hall.cue(number)).collect();
    hall.ask(Verb::Standby { cues, skip }).unwrap()
}

/// When each cue began to run, s after the first.
pub fn begins(hall: &Hall, numbers: &[&str]) -> Vec<f64> {
    let began = |number: &&str| {
        let cue = hall.cue(number);
        let go = hall.events.iter().find(|event| matches!(event.kind, EventKind::Go { cue: at, .. } if at == cue));
        go.map_or(f64::NAN, |event| event.tick as f64 * hall.show.settings.tick.seconds())
    };
    let times: Vec<f64> = numbers.iter().map(began).collect();
    times.iter().map(|time| time - times[0]).collect()
}

pub fn about(found: &[f64], expected: &[f64]) {
    let near = found.iter().zip(expected).all(|(found, expected)| (found - expected).abs() < 0.011);
    assert!(near && found.len() == expected.len(), "found {found:?}, expected {expected:?}");
}
