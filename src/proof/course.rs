//! A move as the rate control takes it: one course for all axes that go straight, one for each that follows a curve.

use super::bent::Bent;
use super::plan::{AxisPath, CuePlan, MovePlan};
use crate::motion::{Ceiling, Course, Track};
use crate::show::{Axis, Limits, Show};

/// A way shorter than this, in an axis's own unit, is none.
pub const NO_WAY: f64 = 1e-9;

/// The moves of a cue at `time` s of its own time.
pub fn courses(show: &Show, plan: &CuePlan, time: f64) -> Vec<Course<Track>> {
    let mut courses = Vec::new();
    for step in &plan.moves {
        push_courses(show, step, AxisPath::as_planned, time, &mut courses);
    }
    courses
}

/// Adds those of one move whose axes run as `runs` tells, at `time` s of the cue. Takes no memory if there is room: at most
/// one for the move and one an axis.
pub fn push_courses(
    show: &Show,
    step: &MovePlan,
    runs: impl Fn(&AxisPath) -> Bent,
    time: f64,
    courses: &mut Vec<Course<Track>>,
) {
    let time = time - step.delay;
    let ends = |path: &AxisPath| runs(path).ends;
    let run = ceiling(show, &step.axes, ends, |axis| axis.run);
    let stop = ceiling(show, &step.axes, ends, |axis| axis.stop);
    if let (Some(run), Some(stop)) = (run, stop) {
        let course = Course { path: Track::Straight(step.profile), time, run, stop };
        // Moves that go alike are one.
        match courses.iter_mut().find(|other| other.goes_like(&course)) {
            Some(other) => (other.run, other.stop) = (other.run.least(run), other.stop.least(stop)),
            None => courses.push(course),
        }
    }
    for path in &step.axes {
        let Some(curve) = &path.curve else { continue };
        let axis = show.axis(path.axis);
        let path = Track::Curved { curve: curve.clone(), fade: runs(path).fade };
        courses.push(Course { path, time, run: Ceiling::of(axis.run), stop: Ceiling::of(axis.stop) });
    }
}

/// The limits of the axes that go straight, in units of their ways, the least of each; `None` if none has a way to go.
pub fn ceiling(
    show: &Show,
    axes: &[AxisPath],
    ends: impl Fn(&AxisPath) -> [f64; 2],
    limits: impl Fn(&Axis) -> Limits,
) -> Option<Ceiling> {
    let straight = axes.iter().filter(|path| path.curve.is_none());
    let ways = straight.map(|path| {
        let [from, to] = ends(path);
        (path.axis, to - from)
    });
    let moving = ways.filter(|(_, way)| way.abs() > NO_WAY);
    moving.map(|(axis, way)| Ceiling::over(limits(show.axis(axis)), way)).reduce(Ceiling::least)
}
