//! The cue list over time: where every cue finds the rigs, what it does, where it leaves them.

use std::sync::Arc;

use super::bent::Bent;
use super::bodies::Span;
use super::maps::Maps;
use crate::motion::{Ceiling, Curve, Path, Profile, Range, Sample};
use crate::show::{AxisId, CueId, RigId, Show};

/// So little beyond an end of its travel, in its own unit, an axis is not outside.
pub const ROUNDING: f64 = 1e-9;

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

/// One move of a rig: its axes in proportion, a straight line in the rig's joint space; or each along a curve of its own.
#[derive(Clone, Debug, PartialEq)]
pub struct MovePlan {
    pub rig: RigId,
    /// s, from the start of the cue.
    pub delay: f64,
    /// How far an axis without a curve has come, from 0 to 1; it lasts as long as the curves of the others.
    pub profile: Profile,
    pub axes: Vec<AxisPath>,
    /// When it passes its marks, in order, s of the move.
    pub passes: Vec<f64>,
}

#[derive(Clone, Debug, PartialEq)]
pub struct AxisPath {
    pub axis: AxisId,
    pub from: f64,
    pub to: f64,
    /// Of the axis over the move's own time, from `from` to `to`; `None` if it goes straight.
    pub curve: Option<Arc<Curve>>,
}

impl MovePlan {
    /// s
    pub fn duration(&self) -> f64 {
        self.profile.duration()
    }

    /// s, from the start of the cue.
    pub fn end(&self) -> f64 {
        self.delay + self.duration()
    }

    /// The least and the greatest position of one of its axes from `begin` to `end` s of the cue.
    pub fn positions(&self, path: &AxisPath, begin: f64, end: f64) -> Range {
        match &path.curve {
            Some(curve) => curve.positions(begin - self.delay, end - self.delay),
            None => Range::of(self.at(path, begin).position, self.at(path, end).position),
        }
    }

    /// The times of the cue at which one of its axes turns, comes to stand or goes again, s.
    pub fn turns<'a>(&'a self, path: &'a AxisPath) -> impl DoubleEndedIterator<Item = f64> + 'a {
        let turns = path.curve.as_ref().map_or(&[][..], |curve| curve.turns());
        turns.iter().map(|turn| self.delay + turn.time)
    }

    /// The times of the cue at which the jerk of one of its axes changes, s, in order.
    pub fn changes<'a>(&'a self, path: &'a AxisPath) -> impl Iterator<Item = f64> + 'a {
        let knots = path.curve.iter().flat_map(|curve| curve.knots().iter().map(|knot| knot.time));
        let breaks = path.curve.is_none().then(|| [0.0].into_iter().chain(self.profile.breaks()));
        knots.chain(breaks.into_iter().flatten()).map(|at| self.delay + at)
    }

    /// The highest speed, acceleration and jerk that one of its axes reaches.
    pub fn peaks(&self, path: &AxisPath) -> Ceiling {
        path.curve
            .as_ref()
            .map_or_else(|| self.profile.peaks().times((path.to - path.from).abs()), |curve| curve.peaks())
    }

    /// Its axes at `time` s of the cue, written into a pose by `AxisId`.
    pub fn put(&self, time: f64, pose: &mut [f64]) {
        let time = time - self.delay;
        let along = self.profile.at(time);
        for path in &self.axes {
            pose[path.axis.index()] = path.bent(&path.as_planned(), along, time).position;
        }
    }

    /// One of its axes at `time` s of the cue.
    pub fn at(&self, path: &AxisPath, time: f64) -> Sample {
        self.bent(path, &path.as_planned(), time)
    }

    /// The same as it really runs.
    pub fn bent(&self, path: &AxisPath, bent: &Bent, time: f64) -> Sample {
        path.bent(bent, self.profile.at(time - self.delay), time - self.delay)
    }
}

impl AxisPath {
    /// Straight from one position to another.
    pub fn straight(axis: AxisId, from: f64, to: f64) -> AxisPath {
        AxisPath { axis, from, to, curve: None }
    }

    /// As planned.
    pub fn ends(&self) -> [f64; 2] {
        [self.from, self.to]
    }

    /// Whether it goes anywhere.
    pub fn moves(&self) -> bool {
        self.from != self.to || self.curve.as_ref().is_some_and(|curve| curve.peaks().speed > 0.0)
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
            step.put(time(step.rig), pose);
        }
    }

    /// By `AxisId`: whether the cue moves it.
    pub fn moved_axes(&self) -> Vec<bool> {
        let mut moved = vec![false; self.start.len()];
        for path in self.moves.iter().flat_map(|step| &step.axes) {
            moved[path.axis.index()] |= path.moves();
        }
        moved
    }

    /// The first axis that the path takes outside its travel; a stop ends on the path, so none comes to stand there if there
    /// is none.
    pub fn leaves_travel(&self, show: &Show) -> Option<AxisId> {
        let mut paths = self.moves.iter().flat_map(|step| step.axes.iter().map(move |path| (step, path)));
        let outside = |(step, path): &(&MovePlan, &AxisPath)| {
            let ([low, high], way) = (show.axis(path.axis).travel, step.positions(path, step.delay, step.end()));
            way.low < low - ROUNDING || way.high > high + ROUNDING
        };
        paths.find(outside).map(|(_, path)| path.axis)
    }

    /// How far each axis strays within the span that its rig is in from where it is at the middle of that, by `AxisId`,
    /// in its own unit, written over `strays`. Exact.
    pub fn strays(&self, span: impl Fn(RigId) -> Span, strays: &mut [f64]) {
        strays.fill(0.0);
        for step in &self.moves {
            let along = |time: f64| step.profile.at(time - step.delay).position;
            let span = span(step.rig);
            let here = along(span.middle());
            // Along a straight move every axis goes one way, and all of them in proportion.
            let share = (here - along(span.from)).max(along(span.to) - here);
            for path in &step.axes {
                strays[path.axis.index()] = match &path.curve {
                    None => share * (path.to - path.from).abs(),
                    Some(curve) => {
                        let here = curve.at(span.middle() - step.delay).position;
                        let range = curve.positions(span.from - step.delay, span.to - step.delay);
                        (here - range.low).max(range.high - here)
                    }
                };
            }
        }
    }
}
