//! Cues that may move what another aims at, or what its lens rides on, at times that nothing settles.

use super::scene::{carriers, tied};
use crate::proof::crew::Crew;
use crate::proof::plan::Plan;
use crate::proof::together::Starts;
use crate::show::{AimedAt, AxisId, Code, CueId, Finding, Move, Severity, Show};

/// Tells each aimed move beside which a cue can run that moves its point or its lens and is not tied to it.
pub fn find_unknown(show: &Show, plan: &Plan, crew: &dyn Crew, findings: &mut Vec<Finding>) {
    if !show.cues.iter().any(|cue| cue.moves.iter().any(|step| step.aim.is_some())) {
        return;
    }
    let pairs = Starts::new(show, plan).pairs(crew);
    for id in show.cue_ids() {
        let known = tied(show, id);
        for step in &show.cue(id).moves {
            let Some(aim) = &step.aim else { continue };
            let carriers = carriers(show, step.rig, aim);
            for pair in pairs.together.iter().filter(|pair| pair.first == id || pair.second == id) {
                let other = if pair.first == id { pair.second } else { pair.first };
                let apart =
                    pair.from >= plan.cue(pair.first).duration || pair.to <= -plan.cue(pair.second).duration;
                if apart || known.iter().any(|(leader, _)| *leader == other) {
                    continue;
                }
                let moved = plan.cue(other).moved_axes();
                if let Some(&axis) = carriers.iter().find(|axis| moved[axis.index()]) {
                    findings.push(told(show, (id, step), other, axis));
                    break;
                }
            }
        }
    }
}

fn told(show: &Show, (id, step): (CueId, &Move), other: CueId, axis: AxisId) -> Finding {
    let (number, second, name) = (&show.cue(id).number, &show.cue(other).number, show.axis_name(axis));
    let rig = &show.rig(step.rig).name;
    let target = match step.aim.as_ref().map(|aim| aim.at) {
        Some(AimedAt::Body { rig, .. }) => show.rig(rig).name.clone(),
        Some(AimedAt::Point(_)) | None => "its point".into(),
    };
    let message = format!(
        "cue {number} aims {rig} at {target}, and cue {second} can move {name} meanwhile, at a time that a hand gives: where \
         that is then nobody knows, and {rig} looks past it"
    );
    let fix = if other < id {
        format!(
            "let cue {number} follow cue {second} from its start, or need it done: needs = {{ cue = \"{second}\", state = \
             \"done\" }}"
        )
    } else {
        format!("let cue {second} need {number} done: needs = {{ cue = \"{number}\", state = \"done\" }}")
    };
    let place = step.aim.as_ref().map_or(step.place, |aim| aim.place);
    let mut finding = Finding::new(Code::StartPose, message).at(place).cue(number).cue(second).rig(rig).axis(name);
    // The camera misses; nothing touches.
    finding.severity = Severity::Warning;
    finding.fix(fix)
}
