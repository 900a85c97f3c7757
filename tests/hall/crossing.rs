//! Three rigs that cross each other's ways: a boom that reaches out, a lamp that is let down before it, and a vane that turns
//! through the boom's way.

pub const BOOM: &str = r#"
kind = "boom"
at = [0.0, 0.0, 1.5]
[[axis]]
name = "reach"
unit = "m"
travel = [-1.0, 6.0]
start = 0.0
speed = 1.0
acceleration = 1.0
jerk = 2.0
tolerance = 0.01
joint = { slide = "x", at = [0.0, 0.0, 0.0] }
bodies = [{ capsule = { from = [-0.5, 0.0, 0.0], to = [0.5, 0.0, 0.0], radius = 0.2 } }]
"#;
pub const LAMP: &str = r#"
kind = "lamp"
at = [0.0, 0.0, 0.0]
[[axis]]
name = "height"
unit = "m"
travel = [0.0, 6.0]
start = 5.0
speed = 1.0
acceleration = 1.0
jerk = 2.0
tolerance = 0.01
joint = { slide = "z", at = [0.0, 0.0, 0.0] }
bodies = [{ sphere = { at = [0.0, 0.0, 0.0], radius = 0.3 } }]
"#;
pub const VANE: &str = r#"
kind = "vane"
at = [2.0, -1.5, 1.5]
[[axis]]
name = "turn"
unit = "deg"
travel = [-200.0, 200.0]
start = 0.0
speed = 45.0
acceleration = 45.0
jerk = 90.0
tolerance = 0.2
joint = { turn = "z", at = [0.0, 0.0, 0.0] }
bodies = [{ capsule = { from = [0.0, 0.0, 0.0], to = [1.4, 0.0, 0.0], radius = 0.05 } }, { box = { min = [1.2, -0.05, -0.3], max = [1.4, 0.05, 0.3] } }]
"#;
pub const HEAD: &str = "[show]\nname = \"Crossings\"\nmargin = 0.3\nreact = 0.1\nguard = 0.1\n";

pub fn cue(number: &str, more: &str, rig: &str, axis: &str, to: f64, time: f64) -> String {
    format!(
        "[[cue]]\nnumber = \"{number}\"\nname = \"{number}\"\n{more}\n\
         move = [{{ rig = \"{rig}\", to = {{ {axis} = {to:?} }}, time = {time:?} }}]\n"
    )
}

pub fn files(cues: &str) -> Vec<(&str, &str)> {
    vec![
        ("show.toml", HEAD),
        ("rigs/boom.toml", BOOM),
        ("rigs/lamp.toml", LAMP),
        ("rigs/vane.toml", VANE),
        ("cues/all.toml", cues),
    ]
}

/// A list in which they do so four times, nothing written that keeps them apart.
pub fn crossings() -> String {
    let mut cues = String::new();
    let legs = [
        ("boom", "reach", [4.0, 3.8, 0.0, 4.0], 7.0),
        ("lamp", "height", [1.0, 5.0, 2.6, 0.5], 7.0),
        ("vane", "turn", [180.0, 0.0, 180.0, 0.0], 9.0),
    ];
    for round in 0..4 {
        for (number, (rig, axis, to, time)) in legs.iter().enumerate() {
            cues += &cue(&format!("{}", 1 + 3 * round + number), "", rig, axis, to[round], *time);
        }
    }
    cues
}
