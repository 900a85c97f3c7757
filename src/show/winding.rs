//! Cables that a turning axis winds up.

use super::finding::{Code, Finding};
use super::model::Axis;

/// What is wrong with a position that is past the turns that the axis's cables allow; `what` begins the sentence.
pub fn beyond_winding(name: &str, what: &str, axis: &Axis, position: f64) -> Option<Finding> {
    let (winding, whole) = (axis.winding?, axis.unit.whole_turn()?);
    let [least, most] = winding.map(|end| end / whole);
    let turns = position / whole;
    // Rounding is no turn of a cable.
    let limit = match (turns < least - 1e-9, turns > most + 1e-9) {
        (true, _) => least,
        (_, true) => most,
        (false, false) => return None,
    };
    let found = (turns * 1000.0).round() / 1000.0;
    let message =
        format!("{what} {name} is past the turns of its cable: expected {least} to {most} turns, found {found}");
    Some(
        Finding::new(Code::Winding, message)
            .rig(name.split('.').next().unwrap_or(name))
            .axis(name)
            .against(turns, limit),
    )
}
