//! One cue over its own time, from the pose in which the cues before leave the rigs.

use super::aimed::{Aimed, Untimed, plan_aimed};
use super::pace::{Timed, time_move};
use super::plan::{AxisPath, CuePlan, MovePlan};
use super::played::plan_played;
use super::{shown, through, turns};
use crate::motion::{Ceiling, least_time};
use crate::show::{AxisId, Code, CueId, Finding, Move, Show};

/// Plans the cue from `start` (by `AxisId`), but for its longest stop. `earlier` holds the plans of the cues before it in the
/// list, of which those that it is tied to tell where what they move is meanwhile.
pub fn plan_cue(
    show: &Show,
    id: CueId,
    start: &[f64],
    earlier: &[CuePlan],
    findings: &mut Vec<Finding>,
) -> CuePlan {
    plan_cue_untimed(show, id, start, (earlier, Untimed::AsWritten), findings)
}

/// The same, with what an aimed move that has no `time` is given.
pub fn plan_cue_untimed(
    show: &Show,
    id: CueId,
    start: &[f64],
    (earlier, untimed): (&[CuePlan], Untimed),
    findings: &mut Vec<Finding>,
) -> CuePlan {
    let cue = show.cue(id);
    let mut moves = Vec::new();
    let mut pace_setters = Vec::new();
    for written in &cue.moves {
        let (step, pace_setter) = match &written.playing {
            Some(playing) => plan_played(show, id, (written, playing), start, findings),
            None if written.aim.is_some() && written.time.is_none() => {
                let mut told = Vec::new();
                let planned = plan_step(show, id, written, start, &mut told);
                // Its time is told once it is aimed.
                findings.extend(told.into_iter().filter(|finding| finding.code != Code::Untimed));
                planned
            }
            None => plan_step(show, id, written, start, findings),
        };
        moves.push(step);
        pace_setters.push(pace_setter);
    }
    for (index, written) in cue.moves.iter().enumerate() {
        if let Some(aim) = &written.aim {
            let aimed = Aimed { show, id, index, written, aim, untimed, start, earlier };
            plan_aimed(aimed, &mut moves, findings);
            pace_setters[index] = nearest_its_limits(show, &moves[index]);
        }
    }
    let mut end = start.to_vec();
    for path in moves.iter().flat_map(|step| &step.axes) {
        end[path.axis.index()] = path.to;
    }
    let ends = moves.iter().map(MovePlan::end);
    let duration = ends.clone().fold(0.0, f64::max);
    let bottleneck = ends.zip(&pace_setters).find(|&(end, _)| end == duration).and_then(|(_, &axis)| axis);
    CuePlan { duration, stop_time: 0.0, bottleneck, start: start.to_vec(), end, moves }
}

/// The axis of a planned move that could be stretched into less time the least: one of its limits is the nearest.
fn nearest_its_limits(show: &Show, step: &MovePlan) -> Option<AxisId> {
    let moving = step.axes.iter().filter(|path| path.moves());
    let asked = moving.map(|path| (least_time(step.peaks(path), Ceiling::of(show.axis(path.axis).run)), path.axis));
    asked.max_by(|a, b| a.0.total_cmp(&b.0)).map(|(_, axis)| axis)
}

/// A move but for the axes that aim it, and the axis that sets its pace.
pub fn plan_step(
    show: &Show,
    id: CueId,
    written: &Move,
    start: &[f64],
    findings: &mut Vec<Finding>,
) -> (MovePlan, Option<AxisId>) {
    let told = findings.len();
    let mut axes = paths(show, id, written, start, findings);
    // How long it takes to where it cannot go helps nobody.
    let lost = findings.len() > told;
    let heard = if lost { &mut Vec::new() } else { findings };
    let Timed { profile, pace_setter, passes } = match through::through_marks(show, id, written, &mut axes, heard) {
        Some(timed) => timed,
        None => time_move(show, id, written, &mut axes, heard),
    };
    (MovePlan { rig: written.rig, delay: written.delay, profile, axes, passes }, pace_setter)
}

/// Every cue from where the cues before it leave the rigs, by `CueId`, but for the longest stops. What is wrong with them is
/// for [`super::prove`] to tell.
pub fn timelines(show: &Show) -> Vec<CuePlan> {
    let mut pose: Vec<f64> = show.axes.iter().map(|axis| axis.start).collect();
    let mut plans: Vec<CuePlan> = Vec::with_capacity(show.cues.len());
    for id in show.cue_ids() {
        let plan = plan_cue(show, id, &pose, &plans, &mut Vec::new());
        pose.clone_from(&plan.end);
        plans.push(plan);
    }
    plans
}

fn paths(show: &Show, id: CueId, written: &Move, start: &[f64], findings: &mut Vec<Finding>) -> Vec<AxisPath> {
    let mut path = |&(axis, target): &(AxisId, f64)| {
        let from = start[axis.index()];
        let way = written.round.iter().find(|&&(turned, _)| turned == axis);
        let to = match way {
            _ if written.by => from + target,
            Some(&(_, way)) => {
                // Round from the last mark that it passes.
                let passed = written.via.iter().rev().flat_map(|via| &via.pose).find(|(passed, _)| *passed == axis);
                let before = passed.map_or(from, |&(_, position)| position);
                turns::place_round(show, id, written, (axis, before), (target, way), findings)
            }
            None => target,
        };
        AxisPath::straight(axis, from, to)
    };
    let axes: Vec<AxisPath> = written.to.iter().map(&mut path).collect();
    for path in &axes {
        let axis = show.axis(path.axis);
        let [low, high] = axis.travel;
        if let Some(finding) = turns::winds_too_far(show, id, written, path) {
            findings.push(finding);
        } else if path.to < low || path.to > high {
            let limit = if path.to < low { low } else { high };
            let (name, sign) = (show.axis_name(path.axis), axis.unit.sign());
            let message = format!(
                "cue {} takes {name} outside its travel: expected {low}{sign} to {high}{sign}, found {}{sign}",
                show.cue(id).number,
                shown(path.to)
            );
            findings.push(
                Finding::new(Code::Travel, message)
                    .at(written.place)
                    .cue(&show.cue(id).number)
                    .rig(&show.rig(axis.rig).name)
                    .axis(name)
                    .against(path.to, limit)
                    .fix(turns::other_way(show, written, path).map_or_else(
                        || format!("end the move at {limit}{sign}, or survey the axis again"),
                        |other| format!("{other}, or survey the axis again"),
                    )),
            );
        }
    }
    axes
}
