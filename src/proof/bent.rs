//! How the way of an axis is bent to where it stands as it is set going.
//!
//! A straight way runs from there, or to there; what is between two places inside the travel is inside. A curve may come near an end of
//! the travel anywhere, so what the axis stands off it fades as soon as that needs ([`Fade`]).

use super::plan::AxisPath;
use crate::motion::{Ceiling, Fade, Path, Range, Sample};
use crate::show::Axis;

/// Of its travel: so little beyond an end an axis is not outside, by the invariants.
const SLACK: f64 = 1e-9;
/// Of each running limit: what a fade may take by itself that is shorter than the move, as a cue is fired.
const SHARE: f64 = 0.5;

/// How an axis runs along its path.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Bent {
    /// Where it begins and ends if it goes straight.
    pub ends: [f64; 2],
    /// How far it is off if it follows a curve.
    pub fade: Fade,
}

impl Bent {
    pub fn straight(ends: [f64; 2]) -> Bent {
        Bent { ends, fade: Fade::NONE }
    }
}

/// Where an axis may be set, what the invariants take for nothing included.
pub fn room(axis: &Axis) -> Range {
    let [low, high] = axis.reach();
    let slack = (high - low) * SLACK;
    Range { low: low - slack, high: high + slack }
}

/// What a fade that begins with a cue may ask of an axis by itself, where it is shorter than the move.
pub fn for_a_fade(axis: &Axis) -> Ceiling {
    Ceiling::of(axis.run).times(SHARE)
}

impl AxisPath {
    /// As planned.
    pub fn as_planned(&self) -> Bent {
        Bent::straight(self.ends())
    }

    /// From where the axis stands as the cue is fired. `None` where it would leave the travel from there.
    pub fn begun(&self, axis: &Axis, stands: f64) -> Option<Bent> {
        let Some(curve) = &self.curve else { return Some(Bent::straight([stands, self.to])) };
        let fade = Fade::within(curve, stands - self.from, [0.0, curve.duration()], room(axis), for_a_fade(axis));
        fade.map(|fade| Bent { fade, ..self.as_planned() })
    }

    /// At `time` s of the move, when its profile is at `along`.
    pub fn bent(&self, bent: &Bent, along: Sample, time: f64) -> Sample {
        let Some(curve) = &self.curve else {
            let [from, to] = bent.ends;
            let position = if along.position == 1.0 { to } else { from + along.position * (to - from) };
            return Sample { position, ..along.times(to - from) };
        };
        let planned = curve.at(time);
        if bent.fade.is_none() { planned } else { planned.plus(bent.fade.at(time)) }
    }
}
