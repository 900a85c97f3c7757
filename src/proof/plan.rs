//! The cue list over time: where every cue finds the rigs, what it does, where it leaves them.

use super::bodies::Span;
use super::maps::Maps;
use crate::motion::Profile;
use crate::show::{AxisId, CueId, RigId};

/// Every cue of a show, by `CueId`.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Plan {
    pub cues: Vec<CuePlan>,
    /// Of the cues that can be running together.
    pub maps: Maps,
}

impl Plan {
    pub fn cue(&self, id: CueId) -> &CuePlan {
        &self.cues[id.index()]
    }
}

/// The timeline of one cue.
#[derive(Clone, Debug, PartialEq)]
pub struct CuePlan {
    /// s, until the last move has ended.
    pub duration: f64,
    /// s, the longest that a stop at any time of the cue takes to standstill.
    pub stop_time: f64,
    /// The axis that sets the pace of the move that ends last.
    pub bottleneck: Option<AxisId>,
    /// The expected pose before the cue, by `AxisId`.
    pub start: Vec<f64>,
    /// Where the cue leaves every axis, by `AxisId`.
    pub end: Vec<f64>,
    pub moves: Vec<MovePlan>,
}

/// One move: its axes in proportion, a straight line in the rig's joint space.
#[derive(Clone, Debug, PartialEq)]
pub struct MovePlan {
    pub rig: RigId,
    /// s, from the start of the cue.
    pub delay: f64,
    pub profile: Profile,
    pub axes: Vec<AxisPath>,
}

#[derive(Clone, Copy, Debug, PartialEq)]
pub struct AxisPath {
    pub axis: AxisId,
    pub from: f64,
    pub to: f64,
}

impl MovePlan {
    /// s, from the start of the cue.
    pub fn end(&self) -> f64 {
        self.delay + self.profile.duration()
    }
}

impl CuePlan {
    /// Of nothing at all; takes no memory.
    pub const EMPTY: CuePlan = CuePlan {
        duration: 0.0,
        stop_time: 0.0,
        bottleneck: None,
        start: Vec::new(),
        end: Vec::new(),
        moves: Vec::new(),
    };

    /// The pose at `time` s of the cue's own time, by `AxisId`, written over `pose`.
    pub fn pose_at(&self, time: f64, pose: &mut [f64]) {
        self.pose_by(|_| time, pose);
    }

    /// The same where not every rig is at one time of the cue.
    pub fn pose_by(&self, time: impl Fn(RigId) -> f64, pose: &mut [f64]) {
        pose.copy_from_slice(&self.start);
        for step in &self.moves {
            let along = step.profile.at(time(step.rig) - step.delay).position;
            for path in &step.axes {
                pose[path.axis.index()] = path.from + along * (path.to - path.from);
            }
        }
    }

    /// By `AxisId`: whether the cue moves it.
    pub fn moved_axes(&self) -> Vec<bool> {
        let mut moved = vec![false; self.start.len()];
        for path in self.moves.iter().flat_map(|step| &step.axes) {
            moved[path.axis.index()] |= path.from != path.to;
        }
        moved
    }

    /// How far each axis strays within the span that its rig is in from where it is at the middle of that, by `AxisId`,
    /// in its own unit, written over `strays`. Exact: along a move every axis goes one way.
    pub fn strays(&self, span: impl Fn(RigId) -> Span, strays: &mut [f64]) {
        strays.fill(0.0);
        for step in &self.moves {
            let along = |time: f64| step.profile.at(time - step.delay).position;
            let span = span(step.rig);
            let here = along(span.middle());
            let share = (here - along(span.from)).max(along(span.to) - here);
            for path in &step.axes {
                strays[path.axis.index()] = share * (path.to - path.from).abs();
            }
        }
    }
}
