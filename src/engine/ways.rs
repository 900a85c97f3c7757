//! The ways of the axes of cues under way, bent so that each passes through where its axis stands.

use crate::motion::{Course, Track};
use crate::proof::{Plan, push_courses};
use crate::show::{AxisId, CueId, Show};

/// Which way along its path a cue runs.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Along {
    Forward,
    Back,
}

/// Where axes begin and end, by `AxisId`, each in its own unit.
#[derive(Clone, Debug)]
pub struct Ends {
    pub from: Vec<f64>,
    pub to: Vec<f64>,
}

#[derive(Clone, Debug)]
pub struct Ways {
    /// As fired: from where the axes stood to where the plan takes them.
    pub fired: Ends,
    /// As run: the end that lies ahead as fired, the other bent so that the way passes through where each axis
    /// stood when it was last set going. So an error fades to nothing at the end that is run to.
    pub run: Ends,
}

/// A part of a profile smaller than this is none.
const NO_PART: f64 = 1e-9;

impl Ends {
    pub fn of(&self, axis: AxisId) -> [f64; 2] {
        [self.from[axis.index()], self.to[axis.index()]]
    }

    fn set(&mut self, axis: AxisId, [from, to]: [f64; 2]) {
        (self.from[axis.index()], self.to[axis.index()]) = (from, to);
    }
}

impl Ways {
    pub fn new(show: &Show) -> Ways {
        let starts: Vec<f64> = show.axes.iter().map(|axis| axis.start).collect();
        let ends = Ends { from: starts.clone(), to: starts };
        Ways { fired: ends.clone(), run: ends }
    }

    /// An axis is fired from where it stands.
    pub fn begin(&mut self, axis: AxisId, ends: [f64; 2]) {
        self.fired.set(axis, ends);
        self.run.set(axis, ends);
    }

    /// Bends the ways of a cue at `time` s through where its axes stand, by `AxisId`; the end ahead stays.
    pub fn bend(&mut self, plan: &Plan, cue: CueId, time: f64, along: Along, stands: impl Fn(AxisId) -> f64) {
        for step in &plan.cue(cue).moves {
            let done = step.profile.at(time - step.delay).position;
            for path in &step.axes {
                let (ends, stands) = (self.fired.of(path.axis), stands(path.axis));
                let [from, to] = ends;
                // Off the way as fired. What is added to an end counts by how near that is.
                let off = stands - step.between(path, ends, time).position;
                let bent = match along {
                    Along::Forward if done < 1.0 - NO_PART => [from + off / (1.0 - done), to],
                    Along::Back if done > NO_PART => [from, to + off / done],
                    // Nothing is left of this move: its axes stay.
                    Along::Forward | Along::Back => [stands, stands],
                };
                self.run.set(path.axis, bent);
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
            push_courses(show, step, |path| self.run.of(path.axis), time, room);
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
            push_courses(show, step, |path| self.run.of(path.axis), time, courses);
        }
    }
}
