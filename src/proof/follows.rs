//! Follows: chains that never end, and cues that a chain makes overlap.

use super::plan::Plan;
use crate::show::{After, AxisId, Code, CueId, Finding, Show};

/// The cue that a cue follows, if it follows one.
fn leader(show: &Show, cue: CueId) -> Option<CueId> {
    match show.cue(cue).after.as_ref()? {
        After::Start { cue, .. } | After::End { cue, .. } => Some(*cue),
        After::When(_) => None,
    }
}

/// Cues that wait on themselves, and follows of a cue that the list brings later.
pub fn find_bad_chains(show: &Show, findings: &mut Vec<Finding>) {
    for cue in show.cue_ids() {
        let Some(leading) = leader(show, cue) else { continue };
        let number = &show.cue(cue).number;
        let chain: Vec<CueId> = std::iter::successors(Some(cue), |&at| leader(show, at))
            .skip(1)
            .take(show.cues.len())
            .take_while(|&at| at != cue)
            .collect();
        let in_cycle =
            chain.len() < show.cues.len() && chain.last().is_none_or(|&last| leader(show, last) == Some(cue));
        if in_cycle {
            let names: Vec<String> = chain.iter().map(|&at| show.cue(at).number.to_string()).collect();
            let message = if names.is_empty() {
                format!("cue {number} follows itself, so nothing ever starts it")
            } else {
                format!("cue {number} follows {}, which follows {number} again", names.join(", which follows "))
            };
            findings.push(
                Finding::new(Code::Follow, message)
                    .at(show.cue(cue).place)
                    .cue(number)
                    .fix("let one cue of the circle start on GO: take its `after` away"),
            );
        } else if leading > cue {
            let later = &show.cue(leading).number;
            findings.push(
                Finding::new(
                    Code::Follow,
                    format!("cue {number} follows cue {later}, which comes after it in the list"),
                )
                .at(show.cue(cue).place)
                .cue(number)
                .cue(later)
                .fix(format!("give this cue a number after {later}")),
            );
        }
    }
}

/// When a cue of a chain runs, s from the GO of the chain's first cue.
#[derive(Clone, Copy)]
struct Stretch {
    first: CueId,
    begin: f64,
    end: f64,
}

/// Cues that must overlap and own one axis, or both move joints of one rig.
pub fn find_clashes(show: &Show, plan: &Plan, findings: &mut Vec<Finding>) {
    // Leaders come first in the list, or the chain was found bad already.
    let mut stretches: Vec<Stretch> = Vec::with_capacity(show.cues.len());
    for cue in show.cue_ids() {
        let duration = plan.cue(cue).duration;
        let before = |leading: CueId| stretches.get(leading.index()).copied();
        let begin = match &show.cue(cue).after {
            Some(After::Start { cue, wait }) => before(*cue).map(|lead| (lead.first, lead.begin + wait)),
            Some(After::End { cue, wait }) => before(*cue).map(|lead| (lead.first, lead.end + wait)),
            Some(After::When(_)) | None => None,
        };
        let (first, begin) = begin.unwrap_or((cue, 0.0));
        stretches.push(Stretch { first, begin, end: begin + duration });
    }
    for b in show.cue_ids() {
        for a in show.cue_ids().take_while(|&a| a < b) {
            let (before, after) = (stretches[a.index()], stretches[b.index()]);
            let overlap = before.begin.max(after.begin) < before.end.min(after.end);
            if before.first == after.first && overlap {
                report_clash(show, plan, a, b, after.begin - before.begin, findings);
            }
        }
    }
}

fn report_clash(show: &Show, plan: &Plan, a: CueId, b: CueId, offset: f64, findings: &mut Vec<Finding>) {
    let owned = |cue: CueId| plan.cue(cue).moves.iter().flat_map(|step| step.axes.iter().map(|path| path.axis));
    let (first, second) = (&show.cue(a).number, &show.cue(b).number);
    let clash =
        owned(a).find_map(|axis| owned(b).find(|&other| meet(show, axis, other)).map(|other| (axis, other)));
    let Some((axis, other)) = clash else { return };
    let (name, other_name) = (show.axis_name(axis), show.axis_name(other));
    let message = if axis == other {
        format!("cue {second} starts {offset:.1} s into cue {first}, and both move {name}")
    } else {
        format!(
            "cue {second} starts {offset:.1} s into cue {first}; they move {other_name} and {name}, joints of one \
             rig or of what it rides on"
        )
    };
    let fix = format!("let cue {second} follow the end of cue {first}, or join them in one cue");
    findings.push(
        Finding::new(Code::Ownership, message)
            .at(show.cue(b).place)
            .cue(first)
            .cue(second)
            .axis(name)
            .time(offset)
            .fix(fix),
    );
}

/// Whether two running cues may not own these two axes: one and the same, or joints of one carriage.
pub fn meet(show: &Show, a: AxisId, b: AxisId) -> bool {
    let (one, other) = (show.axis(a), show.axis(b));
    let joints = one.joint.is_some() && other.joint.is_some();
    a == b || (joints && show.same_carriage(one.rig, other.rig))
}
