//! How long a straight move takes, how softly, and which axis sets its pace.

use std::sync::Arc;

use super::course::{NO_WAY, ceiling};
use super::plan::AxisPath;
use super::shown;
use crate::motion::{Ceiling, Curve, Profile, Violation, least_time, soft, verify_curve, verify_profile};
use crate::show::{AxisId, Code, CueId, Finding, Move, Show};

/// The time of a straight move, shared out along its way.
enum Pace {
    /// As fast at every point as the limits allow.
    Sharp(Profile),
    /// Softer: the same curve for all axes, of one second from 0 to 1.
    Soft(Curve),
}

impl Pace {
    fn new(ceiling: Ceiling, softness: f64) -> Pace {
        let fastest = Profile::fastest(ceiling);
        if softness > 0.0 { Pace::Soft(soft(&fastest, softness)) } else { Pace::Sharp(fastest) }
    }

    /// s
    fn least_time(&self, ceiling: Ceiling) -> f64 {
        match self {
            Pace::Sharp(fastest) => fastest.duration(),
            Pace::Soft(unit) => least_time(unit.peaks(), ceiling),
        }
    }

    /// How long one axis would need by itself, s.
    fn alone(&self, ceiling: Ceiling) -> f64 {
        match self {
            Pace::Sharp(_) => Profile::fastest(ceiling).duration(),
            Pace::Soft(unit) => least_time(unit.peaks(), ceiling),
        }
    }

    /// Takes the axes along it in `time` s, and gives the profile of the move.
    fn set(&self, time: f64, ceiling: Ceiling, axes: &mut [AxisPath]) -> Result<Profile, Violation> {
        match self {
            Pace::Sharp(fastest) => {
                verify_profile(fastest, ceiling)?;
                Ok(fastest.stretched((time / fastest.duration()).max(1.0)))
            }
            Pace::Soft(unit) => {
                let curve = unit.stretched(time);
                verify_curve(&curve, ceiling)?;
                for path in axes.iter_mut().filter(|path| path.from != path.to) {
                    path.curve = Some(Arc::new(curve.onto(path.from, path.to)));
                }
                Ok(Profile::idle(time))
            }
        }
    }
}

/// How a move runs.
pub struct Timed {
    pub profile: Profile,
    /// The axis that sets its pace.
    pub pace_setter: Option<AxisId>,
    /// When it passes its marks, s of the move.
    pub passes: Vec<f64>,
}

/// Gives a straight move its time. Softened axes are given their curves.
pub fn time_move(
    show: &Show,
    id: CueId,
    written: &Move,
    axes: &mut [AxisPath],
    findings: &mut Vec<Finding>,
) -> Timed {
    let straight = |profile, pace_setter| Timed { profile, pace_setter, passes: Vec::new() };
    let Some(ceiling) = ceiling(show, axes, AxisPath::ends, |axis| axis.run) else {
        return straight(written.time.map_or(Profile::NOTHING, Profile::idle), None);
    };
    let pace = Pace::new(ceiling, written.softness);
    let least = pace.least_time(ceiling);
    let setter = slowest_axis(show, axes, &pace);
    let time = lasts(show, id, written, (least, setter), findings);
    match pace.set(time, ceiling, axes) {
        Ok(profile) => straight(profile, setter),
        // Never seen; a plan that does not pass is not used without a word.
        Err(violation) => {
            let (number, rig) = (&show.cue(id).number, &show.rig(written.rig).name);
            let message = format!("cue {number}: the move of {rig} could not be verified: {violation:?}");
            findings.push(Finding::new(Code::Jerk, message).at(written.place).cue(number).rig(rig));
            straight(Profile::idle(time), setter)
        }
    }
}

/// s, that a move lasts which takes so long at least, by one axis of it. Tells a `time` that is too short, and one left out.
pub fn lasts(
    show: &Show,
    id: CueId,
    written: &Move,
    (least, setter): (f64, Option<AxisId>),
    findings: &mut Vec<Finding>,
) -> f64 {
    match written.time {
        Some(time) if time < least * (1.0 - 1e-9) => {
            findings.push(told_too_fast(show, id, written, setter, [least, time]));
            least
        }
        Some(time) => time.max(least),
        None => {
            findings.push(told_untimed(show, id, written, least));
            least
        }
    }
}

fn told_too_fast(
    show: &Show,
    id: CueId,
    written: &Move,
    setter: Option<AxisId>,
    [least, time]: [f64; 2],
) -> Finding {
    let (number, rig) = (&show.cue(id).number, &show.rig(written.rig).name);
    let name = setter.map_or_else(String::new, |axis| show.axis_name(axis));
    let soft = if written.softness > 0.0 { format!(" at shape {}", written.softness) } else { String::new() };
    let message = format!(
        "cue {number}: expected at least {} s for {rig}{soft}, which {name} needs; found {time} s",
        shown(least)
    );
    let or_sharper = if written.softness > 0.0 { ", or make its shape less soft" } else { "" };
    Finding::new(Code::TooFast, message)
        .at(written.time_place.unwrap_or(written.place))
        .cue(number)
        .rig(rig)
        .axis(name)
        .against(least, time)
        .fix(format!("write time = {} or more{or_sharper}", rounded_up(least)))
}

pub fn told_untimed(show: &Show, id: CueId, written: &Move, least: f64) -> Finding {
    let (number, rig) = (&show.cue(id).number, &show.rig(written.rig).name);
    let message = format!(
        "cue {number}: the move of {rig} has no `time`; it takes {} s, until an edit of a limit changes that",
        shown(least)
    );
    Finding::new(Code::Untimed, message)
        .at(written.place)
        .cue(number)
        .rig(rig)
        .against(least, least)
        .fix(format!("write time = {} to keep it", rounded_up(least)))
}

/// The axis that would take longest by itself.
fn slowest_axis(show: &Show, axes: &[AxisPath], pace: &Pace) -> Option<AxisId> {
    let moving = axes.iter().filter(|path| (path.to - path.from).abs() > NO_WAY);
    let alone = moving.map(|path| {
        let ceiling = Ceiling::over(show.axis(path.axis).run, path.to - path.from);
        (pace.alone(ceiling), path.axis)
    });
    alone.max_by(|a, b| a.0.total_cmp(&b.0)).map(|(_, axis)| axis)
}

/// For a time to write down: a little more, never a little less.
pub fn rounded_up(seconds: f64) -> f64 {
    (seconds * 100.0 - 1e-6).ceil() / 100.0
}
