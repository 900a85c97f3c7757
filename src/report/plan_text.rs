//! One cue's motion, for people.

use std::fmt::Write;

use crate::proof::{CuePlan, MovePlan};
use crate::show::{After, Cue, CueId, Show};

/// What starts the cue, what each rig does and when, how fast each axis gets.
pub fn plan_text(show: &Show, id: CueId, plan: &CuePlan) -> String {
    let cue = show.cue(id);
    let mut text = format!("cue {}, {}: {:.3} s\n", cue.number, cue.name, plan.duration);
    // Writing to a string cannot fail.
    let _ = writeln!(text, "  starts {}", start(show, cue));
    let _ = writeln!(text, "  a stop takes at most {:.3} s", plan.stop_time);
    if let Some(axis) = plan.bottleneck {
        let _ = writeln!(text, "  its pace is set by {}", show.axis_name(axis));
    }
    for (step, written) in plan.moves.iter().zip(&cue.moves) {
        let to = written.mark.as_ref().map(|mark| format!(" to {mark}")).unwrap_or_default();
        let end = step.delay + step.profile.duration();
        let _ = writeln!(text, "  {}{to}: {:.3} s to {end:.3} s", show.rig(step.rig).name, step.delay);
        write_axes(&mut text, show, step);
    }
    text
}

fn start(show: &Show, cue: &Cue) -> String {
    match &cue.after {
        None => "on a GO".into(),
        Some(After::Start { cue, wait }) => format!("{wait} s after the start of cue {}", show.cue(*cue).number),
        Some(After::End { cue, wait }) => format!("{wait} s after the end of cue {}", show.cue(*cue).number),
        Some(After::When(_)) => "when its condition becomes true".into(),
    }
}

fn write_axes(text: &mut String, show: &Show, step: &MovePlan) {
    let peaks = step.profile.peaks();
    for path in &step.axes {
        let axis = show.axis(path.axis);
        let (sign, way) = (axis.unit.sign(), (path.to - path.from).abs());
        let (from, to) = (path.from, path.to);
        let (speed, acceleration) = (peaks.speed * way, peaks.acceleration * way);
        let _ = writeln!(
            text,
            "    {}: {from}{sign} to {to}{sign}, at most {speed:.3}{sign}/s and {acceleration:.3}{sign}/s²",
            axis.name
        );
    }
}
