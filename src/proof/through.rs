//! Moves through marks.

use std::sync::Arc;

use super::pace::{Timed, lasts};
use super::plan::AxisPath;
use crate::motion::{Ceiling, Curve, Path, Profile, Through, through, verify_curve};
use crate::show::{AxisId, Code, CueId, Finding, Move, Show, beyond_winding};

/// Bends the axes of a move through its marks; `None` where it passes none on its way, and so goes straight.
pub fn through_marks(
    show: &Show,
    id: CueId,
    written: &Move,
    axes: &mut [AxisPath],
    findings: &mut Vec<Finding>,
) -> Option<Timed> {
    if written.via.is_empty() {
        return None;
    }
    tell_wound(show, id, written, findings);
    let asked = axes.iter().map(|path| {
        let axis = show.axis(path.axis);
        let marks = written.via.iter().map(|via| {
            let named = via.pose.iter().find(|(named, _)| *named == path.axis);
            named.map(|&(_, position)| position)
        });
        let at = [Some(path.from)].into_iter().chain(marks).chain([Some(path.to)]);
        Through { at: at.collect(), limits: Ceiling::of(axis.run), travel: axis.reach() }
    });
    let way = through(&asked.collect::<Vec<_>>())?;
    tell_unverified(show, id, written, axes, &way.curves, findings);
    let pace_setter = pace_setter(show, axes, &way.curves);
    let least = way.curves[0].duration();
    let time = lasts(show, id, written, (least, pace_setter), findings);
    let factor = time / least;
    for (path, curve) in axes.iter_mut().zip(way.curves) {
        path.curve = Some(Arc::new(if factor == 1.0 { curve } else { curve.stretched(factor) }));
    }
    let [_, passes @ .., _] = &way.times[..] else { return None };
    Some(Timed {
        profile: Profile::idle(time),
        pace_setter,
        passes: passes.iter().map(|time| time * factor).collect(),
    })
}

/// A mark may lie inside the travel and past what a cable allows.
fn tell_wound(show: &Show, id: CueId, written: &Move, findings: &mut Vec<Finding>) {
    let number = &show.cue(id).number;
    for via in &written.via {
        let what = format!("cue {number}, passing {}:", via.mark);
        let wound = via
            .pose
            .iter()
            .filter_map(|&(axis, at)| beyond_winding(&show.axis_name(axis), &what, show.axis(axis), at));
        findings.extend(wound.map(|finding| finding.at(written.place).cue(number)));
    }
}

/// Never seen; a plan that does not pass is not used without a word.
fn tell_unverified(
    show: &Show,
    id: CueId,
    written: &Move,
    axes: &[AxisPath],
    curves: &[Curve],
    findings: &mut Vec<Finding>,
) {
    let (number, rig) = (&show.cue(id).number, &show.rig(written.rig).name);
    for (path, curve) in axes.iter().zip(curves) {
        if let Err(violation) = verify_curve(curve, Ceiling::of(show.axis(path.axis).run)) {
            let name = show.axis_name(path.axis);
            let message = format!("cue {number}: the way of {name} could not be verified: {violation:?}");
            findings.push(Finding::new(Code::Jerk, message).at(written.place).cue(number).rig(rig).axis(name));
        }
    }
}

/// The axis that is nearest to one of its limits for the longest time.
fn pace_setter(show: &Show, axes: &[AxisPath], curves: &[Curve]) -> Option<AxisId> {
    let limits: Vec<Ceiling> = axes.iter().map(|path| Ceiling::of(show.axis(path.axis).run)).collect();
    let mut leads = vec![0.0; axes.len()];
    for piece in 0..curves.first()?.knots().len() - 1 {
        let load = |axis: usize| {
            let (state, limit) = (curves[axis].knots()[piece].state, limits[axis]);
            let rates = (state.speed.abs() / limit.speed).max(state.acceleration.abs() / limit.acceleration);
            rates.max(state.jerk.abs() / limit.jerk)
        };
        let knots = curves[0].knots();
        let leader = (0..axes.len()).max_by(|&a, &b| load(a).total_cmp(&load(b)))?;
        leads[leader] += knots[piece + 1].time - knots[piece].time;
    }
    let leader = (0..axes.len()).max_by(|&a, &b| leads[a].total_cmp(&leads[b]))?;
    Some(axes[leader].axis)
}
