//! Legs as motion: one rig after the other, at the speed of a return.

use arrayvec::ArrayVec;

use super::{PRESET_RIGS_MAX, PresetLeg};
use crate::motion::Profile;
use crate::proof::along::path_of;
use crate::proof::course::{NO_WAY, ceiling};
use crate::proof::plan::{AxisPath, CuePlan, MovePlan, Plan};
use crate::show::{AxisId, CueId, RigId, Show};

/// Between two legs, so that a rig that trails its setpoint stands before the next one moves, s of the preset's own time.
const PAUSE: f64 = 0.5;
/// Room for the way of every rig, each through a mark.
pub fn empty_way(show: &Show) -> CuePlan {
    let starts: Vec<f64> = show.axes.iter().map(|axis| axis.start).collect();
    let widest = show.rigs.iter().map(|rig| rig.axes.len()).max().unwrap_or(0);
    let leg = |rig| MovePlan {
        rig,
        delay: 0.0,
        profile: Profile::NOTHING,
        axes: Vec::with_capacity(widest),
        passes: Vec::new(),
    };
    CuePlan {
        duration: 0.0,
        stop_time: 0.0,
        bottleneck: None,
        start: starts.clone(),
        end: starts,
        moves: show.rig_ids().flat_map(|rig| [leg(rig), leg(rig)]).collect(),
    }
}

/// The cue before `to` that last moved the rig: in this order the list itself would bring the rigs there.
fn last_moved(plan: &Plan, rig: RigId, to: CueId) -> Option<usize> {
    let moves = |cue: &CuePlan| cue.moves.iter().any(|step| step.rig == rig);
    plan.cues[..to.index()].iter().rposition(moves)
}

/// The rigs with an axis that stands further than its tolerance from where `to` starts, or where `to` may not begin, in the order
/// in which the list last moved them. `stands` by `AxisId`; what is not known to stand right stands wrong.
pub fn who_goes(show: &Show, plan: &Plan, stands: &[f64], to: CueId) -> ArrayVec<RigId, PRESET_RIGS_MAX> {
    who_has_to_go(show, plan, to, |axis| [stands[axis.index()]; 2])
}

/// The same of where each axis is measured, and where it sets out from.
pub fn who_has_to_go(
    show: &Show,
    plan: &Plan,
    to: CueId,
    stands: impl Fn(AxisId) -> [f64; 2],
) -> ArrayVec<RigId, PRESET_RIGS_MAX> {
    let cue = plan.cue(to);
    let stands_right = |id: AxisId| {
        let (axis, [measured, sets_out]) = (show.axis(id), stands(id));
        let begins = || path_of(cue, id).is_none_or(|(_, path)| path.begun(axis, sets_out).is_some());
        (measured - cue.start[id.index()]).abs() <= axis.tolerance && begins()
    };
    let wrong = show.rig_ids().filter(|&rig| !show.rig(rig).axis_ids().all(stands_right));
    let mut rigs: ArrayVec<RigId, PRESET_RIGS_MAX> = wrong.take(PRESET_RIGS_MAX).collect();
    rigs.sort_unstable_by_key(|&rig| (last_moved(plan, rig, to), rig));
    rigs
}

/// Where the mark that a leg goes through has an axis; one that it leaves out stays as it was.
pub fn at_mark(show: &Show, rig: RigId, mark: usize, axis: AxisId, from: f64) -> f64 {
    let pose = &show.rig(rig).marks[mark].pose;
    pose.iter().find(|(marked, _)| *marked == axis).map_or(from, |(_, position)| *position)
}

/// See [`super::PresetPlanner::write`].
pub fn write(
    show: &Show,
    legs: impl Iterator<Item = PresetLeg>,
    [from, to]: [&[f64]; 2],
    to_mark: bool,
    plan: &mut CuePlan,
) {
    for step in &mut plan.moves {
        step.axes.clear();
        (step.delay, step.profile) = (0.0, Profile::NOTHING);
    }
    plan.start.copy_from_slice(from);
    plan.end.copy_from_slice(from);
    let (mut used, mut time) = (0, 0.0);
    for leg in legs {
        let parts = if leg.via.is_some() { 2 } else { 1 };
        for part in 0..parts {
            let goes_on = part + 1 == parts;
            let step = &mut plan.moves[used];
            (step.rig, step.delay) = (leg.rig, time);
            for axis in show.rig(leg.rig).axis_ids() {
                let begin = plan.end[axis.index()];
                let end = match leg.via {
                    Some(mark) if !goes_on => at_mark(show, leg.rig, mark, axis, begin),
                    Some(_) | None => to[axis.index()],
                };
                if (end - begin).abs() > NO_WAY {
                    step.axes.push(AxisPath::straight(axis, begin, end));
                    plan.end[axis.index()] = end;
                }
            }
            if let Some(ceiling) = ceiling(show, &step.axes, AxisPath::ends, |axis| axis.run) {
                step.profile = Profile::fastest(ceiling).stretched(1.0 / show.settings.return_rate);
            }
            (used, time) = (used + 1, step.end() + PAUSE);
            if to_mark && !goes_on {
                plan.duration = step.end();
                return;
            }
        }
    }
    // Steps beyond those that move keep any rig: without axes they are none's.
    plan.duration = plan.moves.iter().map(MovePlan::end).fold(0.0, f64::max);
}
