//! Axes without a survey: what the list would move of them, it may not.

use super::plan::Plan;
use crate::show::{AxisId, Code, CueId, Finding, Severity, Show};

/// Tells each axis that is not surveyed, with the cues that move it.
pub fn find(show: &Show, plan: &Plan, findings: &mut Vec<Finding>) {
    for axis in show.axis_ids().filter(|&axis| !show.axis(axis).surveyed) {
        let moves = |&cue: &CueId| plan.cue(cue).moved_axes()[axis.index()];
        findings.push(told(show, axis, &show.cue_ids().filter(moves).collect::<Vec<_>>()));
    }
}

fn told(show: &Show, axis: AxisId, cues: &[CueId]) -> Finding {
    let (name, of) = (show.axis_name(axis), show.axis(axis));
    let ([low, high], sign) = (of.travel, of.unit.sign());
    let provisional = format!("{name} is not surveyed: its travel {low}{sign} to {high}{sign} is provisional");
    let refused = match cues {
        [] => String::new(),
        [_] => format!(", and {} is refused", show.called(cues)),
        [..] => format!(", and {} are refused", show.called(cues)),
    };
    let mut finding = Finding::new(Code::Unsurveyed, format!("{provisional}{refused}")).at(of.place);
    if cues.is_empty() {
        // Nothing that was planned depends on it.
        finding.severity = Severity::Note;
    }
    finding.cues = cues.iter().map(|&cue| show.number_of(cue)).collect();
    let rig = &show.rig(of.rig).name;
    finding
        .rig(rig)
        .axis(name)
        .fix(format!("jog it to its ends and survey it: bellwire survey SHOW {rig} --to ADDR"))
}
