//! Whether the list leaves the rigs where a cue's own conditions need them.

use super::shown;
use crate::show::{Atom, AtomId, AxisId, Code, CueId, Finding, Show, Truth};

/// A cue whose `needs` the expected pose alone makes false.
pub fn find_false_needs(show: &Show, id: CueId, start: &[f64], findings: &mut Vec<Finding>) {
    let cue = show.cue(id);
    let Some(needs) = &cue.needs else { return };
    let expected = |atom: AtomId| match &show.atoms[atom.index()] {
        // At its GO a cue is past no time of its own.
        Atom::CuePast { cue, .. } if *cue == id => Truth::False,
        atom => atom.of_pose(show, &|axis| Some(start[axis.index()])).unwrap_or(Truth::Unknown),
    };
    if needs.judge(&expected) != Truth::False {
        return;
    }
    let false_atom = needs.atoms().into_iter().find(|&atom| expected(atom) == Truth::False);
    let mut finding = Finding::new(
        Code::StartPose,
        format!(
            "cue {} needs what the list before it does not give: {}",
            cue.number,
            told(show, false_atom, start)
        ),
    )
    .at(cue.place)
    .cue(&cue.number)
    .fix("change where the cues before leave the rig, or the condition");
    if let Some((error, name)) = false_atom.and_then(|atom| error_of(show, atom, start)) {
        finding = finding.axis(name).against(error, 0.0);
    }
    findings.push(finding);
}

/// What an atom that a pose makes false expects, and what it finds.
pub fn told(show: &Show, atom: Option<AtomId>, start: &[f64]) -> String {
    let Some(atom) = atom else { return "its condition is false".to_owned() };
    let left = |axis: AxisId, expected: String| {
        let sign = show.axis(axis).unit.sign();
        let found = shown(start[axis.index()]);
        format!("expected {} {expected}{sign}, found {found}{sign}", show.axis_name(axis))
    };
    match &show.atoms[atom.index()] {
        Atom::Above { axis, limit } => left(*axis, format!("above {limit}")),
        Atom::Below { axis, limit } => left(*axis, format!("below {limit}")),
        Atom::Within { axis, from, to, modulo } => {
            let turn = modulo.map_or_else(String::new, |turn| format!(" modulo {turn}"));
            left(*axis, format!("within {from} to {to}{turn}"))
        }
        Atom::At { rig, mark, .. } => format!("{} is not left at its mark '{mark}'", show.rig(*rig).name),
        Atom::Input(_) | Atom::CueState { .. } | Atom::CuePast { .. } => "its condition is false".to_owned(),
    }
}

/// By how much the axis is off, the short way round if the condition wraps.
fn error_of(show: &Show, atom: AtomId, start: &[f64]) -> Option<(f64, String)> {
    let off = |value: f64, low: f64, high: f64| if value < low { value - low } else { value - high };
    let (axis, error) = match &show.atoms[atom.index()] {
        Atom::Above { axis, limit } | Atom::Below { axis, limit } => (*axis, start[axis.index()] - limit),
        Atom::Within { axis, from, to, modulo: None } => (*axis, off(start[axis.index()], *from, *to)),
        Atom::Within { axis, from, to, modulo: Some(turn) } => {
            let centre = (from + to) / 2.0;
            let away = start[axis.index()] - centre;
            (*axis, away - (away / turn).round() * turn)
        }
        Atom::At { .. } | Atom::Input(_) | Atom::CueState { .. } | Atom::CuePast { .. } => return None,
    };
    Some((error, show.axis_name(axis)))
}
