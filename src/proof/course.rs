//! A move as the rate control takes it: one course for all axes that go straight, one for each that follows a curve.

use super::bent::{Bent, for_a_fade, room};
use super::plan::{AxisPath, CuePlan, MovePlan};
use crate::motion::{Ceiling, Course, Fade, Track};
use crate::show::{Axis, Limits, Show};

/// A way shorter than this, in an axis's own unit, is none.
pub const NO_WAY: f64 = 1e-9;

/// Courses that stand for all starts of one axis along a curve, at most: the error either way, by each of its fades.
pub const STARTS: usize = 2 * Fade::SHAPES;

/// The moves of a cue at `time` s of its own time.
pub fn courses(show: &Show, plan: &CuePlan, time: f64) -> Vec<Course<Track>> {
    let mut courses = Vec::new();
    for step in &plan.moves {
        push_courses(show, step, AxisPath::as_planned, time, &mut courses);
    }
    courses
}

/// The moves of a cue as they may run from wherever its rigs stand within their start tolerances, at `time` s of its own time, for
/// its stops: a brake that keeps the limits of all of these keeps them from wherever it is. A straight way may be longer by the
/// tolerance. What an error adds along a curve goes with the error, so it is most at either end, for each of the fades that a
/// start may have. Takes no memory if there is room: at most one for each move and [`STARTS`] for each axis along a curve.
pub fn push_courses_to_stop(show: &Show, plan: &CuePlan, time: f64, courses: &mut Vec<Course<Track>>) {
    for step in &plan.moves {
        let time = time - step.delay;
        let ways = step.axes.iter().filter(|path| path.curve.is_none()).map(|path| {
            let axis = show.axis(path.axis);
            (axis, (path.to - path.from).abs() + axis.tolerance)
        });
        let stops = ways.filter(|(_, way)| *way > NO_WAY).map(|(axis, way)| Ceiling::over(axis.stop, way));
        if let Some(stop) = stops.reduce(Ceiling::least).map(without_speed) {
            push(courses, Course { path: Track::Straight(step.profile), time, run: stop, stop });
        }
        for path in &step.axes {
            let Some(curve) = &path.curve else { continue };
            let axis = show.axis(path.axis);
            let stop = without_speed(Ceiling::of(axis.stop));
            for (fade, off) in Fade::of_starts(curve, axis.tolerance, room(axis), for_a_fade(axis)) {
                for off in [-off, off] {
                    let path =
                        Track::Curved { curve: curve.clone(), fade: Fade::between(off, 0.0, fade.duration()) };
                    courses.push(Course { path, time, run: stop, stop });
                }
            }
        }
    }
}

/// A brake adds no speed; and what would be too fast from where it begins goes at a lower rate.
fn without_speed(stop: Ceiling) -> Ceiling {
    Ceiling { speed: f64::INFINITY, ..stop }
}

/// Moves that go alike are one.
fn push(courses: &mut Vec<Course<Track>>, course: Course<Track>) {
    match courses.iter_mut().find(|other| other.goes_like(&course)) {
        Some(other) => (other.run, other.stop) = (other.run.least(course.run), other.stop.least(course.stop)),
        None => courses.push(course),
    }
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
        push(courses, Course { path: Track::Straight(step.profile), time, run, stop });
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
