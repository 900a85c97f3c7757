//! The ways of the axes of cues under way, bent so that each passes through where its axis stands.

use crate::motion::{Ceiling, Course, Fade, Path, Track};
use crate::proof::{AxisPath, Bent, MovePlan, Plan, push_courses, room};
use crate::show::{AxisId, CueId, Show};

/// Which way along its path a cue runs.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Along {
    Forward,
    Back,
}

/// By `AxisId`.
#[derive(Clone, Debug)]
pub struct Ways {
    /// Where an axis that goes straight began as it was fired, and where the plan takes it.
    fired: Vec<[f64; 2]>,
    /// Bent so that it passes through where the axis stood when it was last set going; what it stood off fades towards the end that
    /// is run to.
    run: Vec<Bent>,
}

/// A part of a profile smaller than this is none.
const NO_PART: f64 = 1e-9;

impl Ways {
    pub fn new(show: &Show) -> Ways {
        let fired: Vec<[f64; 2]> = show.axes.iter().map(|axis| [axis.start; 2]).collect();
        Ways { run: fired.iter().map(|ends| Bent::straight(*ends)).collect(), fired }
    }

    /// How an axis runs now, or ran last.
    pub fn of(&self, axis: AxisId) -> &Bent {
        &self.run[axis.index()]
    }

    /// An axis is fired.
    pub fn begin(&mut self, axis: AxisId, bent: Bent) {
        (self.fired[axis.index()], self.run[axis.index()]) = (bent.ends, bent);
    }

    /// The way of an axis on from `time` s of its cue, through where it stands. `None` where it would leave the travel.
    pub fn through(
        &self,
        show: &Show,
        (step, path): (&MovePlan, &AxisPath),
        time: f64,
        along: Along,
        stands: f64,
    ) -> Option<Bent> {
        let run = *self.of(path.axis);
        let Some(curve) = &path.curve else {
            let ends = straight(step, self.fired[path.axis.index()], time, along, stands);
            return Some(Bent { ends, ..run });
        };
        if run.fade.ends(along == Along::Forward) && stands == step.bent(path, &run, time).position {
            // On its way still.
            return Some(run);
        }
        let (whole, time) = (curve.duration(), (time - step.delay).clamp(0.0, curve.duration()));
        let goal = match along {
            Along::Forward => whole,
            Along::Back => 0.0,
        };
        let (off, room) = (stands - curve.at(time).position, room(show.axis(path.axis)));
        Fade::within(curve, off, [time, goal], room, Ceiling::NONE).map(|fade| Bent { fade, ..run })
    }

    /// Bends the ways of a cue at `time` s through where its axes stand, by `AxisId`.
    pub fn bend(
        &mut self,
        show: &Show,
        plan: &Plan,
        (cue, time): (CueId, f64),
        along: Along,
        stands: impl Fn(AxisId) -> f64,
    ) {
        for step in &plan.cue(cue).moves {
            for path in &step.axes {
                // Whoever would leave the travel was not let on.
                if let Some(bent) = self.through(show, (step, path), time, along, stands(path.axis)) {
                    self.run[path.axis.index()] = bent;
                }
            }
        }
    }

    /// The highest rate, at most 1, at which what lies ahead of a cue keeps its limits on the ways that its axes have now.
    /// `room` is written on.
    pub fn pace(
        &self,
        show: &Show,
        plan: &Plan,
        (cue, time): (CueId, f64),
        along: Along,
        room: &mut Vec<Course<Track>>,
    ) -> f64 {
        room.clear();
        let mut pace = 1.0_f64;
        for step in &plan.cue(cue).moves {
            push_courses(show, step, |path| *self.of(path.axis), time, room);
            let (begin, end) = match along {
                Along::Forward => (time - step.delay, step.duration()),
                Along::Back => (0.0, time - step.delay),
            };
            let paces = room.drain(..).map(|course| Course::pace(&course.path, course.run, begin, end));
            pace = paces.fold(pace, f64::min);
        }
        pace
    }

    /// Adds what a cue at `time` s has under way.
    pub fn push_courses(&self, show: &Show, plan: &Plan, cue: CueId, time: f64, courses: &mut Vec<Course<Track>>) {
        for step in &plan.cue(cue).moves {
            push_courses(show, step, |path| *self.of(path.axis), time, courses);
        }
    }
}

/// The ends of a straight way: that which lies ahead as fired, the other so that it passes through where the axis stands.
fn straight(step: &MovePlan, fired: [f64; 2], time: f64, along: Along, stands: f64) -> [f64; 2] {
    let done = step.profile.at(time - step.delay).position;
    let [from, to] = fired;
    // What is added to an end counts by how near that is.
    let off = stands - if done == 1.0 { to } else { from + done * (to - from) };
    match along {
        Along::Forward if done < 1.0 - NO_PART => [from + off / (1.0 - done), to],
        Along::Back if done > NO_PART => [from, to + off / done],
        // Nothing is left of this move: its axes stay.
        Along::Forward | Along::Back => [stands, stands],
    }
}
