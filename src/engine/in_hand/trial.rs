//! Trials of an axis: what a survey has it do by itself, slowly, while a button is held.
//!
//! A trial is a row of stations. At each the axis comes to rest; at some of them it is measured, once it has settled.
//!
//! ```text
//!   home     home
//!   sign     a step back, HERE, a step on, HERE                 measured at HERE and a step on
//!   repeat   below, PLACE, above, PLACE, below, PLACE, ...      measured at PLACE
//! ```
//!
//! The step back takes up what play there is. Let go of, the axis comes to rest and the trial waits; where it goes on it first
//! does again whatever the next measurement needs. The step of a sign check is so small that an axis which runs the wrong way
//! stays well below what is a fault (half of its lag limit), and within tolerance, should it be let go of there.

use serde::{Deserialize, Serialize};

use super::gauge::Gauges;
use crate::motion::{APPROACHES_LEAST, APPROACHES_MAX, Approaches, Positioning, Side};
use crate::show::{Axis, AxisId};

/// What is tried.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Trial {
    /// Goes to where the show's file has the axis when it opens.
    Home,
    /// Whether what is measured goes the way that is commanded, and no other axis in its stead.
    Sign,
    /// How well it comes back to a place, in its own unit; without one, to where it stands. So often from either side.
    Repeat { at: Option<f64>, times: u8 },
}

impl Trial {
    pub fn word(self) -> &'static str {
        match self {
            Trial::Home => "home",
            Trial::Sign => "sign",
            Trial::Repeat { .. } => "repeat",
        }
    }
}

/// What a trial found, in the axis's own unit.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Found {
    Home {
        /// Where it was sent to.
        home: f64,
        measured: f64,
    },
    Sign {
        commanded: f64,
        measured: f64,
        sign: Sign,
        /// Another axis that moved meanwhile though nothing told it to, and by how much, in its own unit.
        other: Option<(AxisId, f64)>,
    },
    Repeat {
        at: f64,
        figures: Positioning,
        /// That a pose may be off.
        tolerance: f64,
    },
}

/// What is measured beside what is commanded.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Sign {
    Agrees,
    /// The way is right, and its length less than half or more than twice of what was commanded.
    WrongSize,
    Reversed,
    DidNotMove,
    /// It did not move, and another axis did.
    Swapped,
}

impl Sign {
    pub fn word(self) -> &'static str {
        match self {
            Sign::Agrees => "agrees",
            Sign::WrongSize => "wrong-size",
            Sign::Reversed => "reversed",
            Sign::DidNotMove => "did-not-move",
            Sign::Swapped => "swapped",
        }
    }
}

/// How far a trial is, for eyes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TrialStatus {
    pub axis: AxisId,
    pub trial: Trial,
    /// Stations done, of so many.
    pub done: u16,
    pub of: u16,
    /// Its button is held, and counts.
    pub runs: bool,
    pub found: Option<Found>,
}

/// s that an axis has to settle before it is measured, and for which its readings are averaged.
const SETTLES: f64 = 0.4;
pub(super) const MEASURED: f64 = 0.2;
/// Of the lag limit and of the tolerance, the step of a sign check.
const STEP_OF_LAG: f64 = 0.2;
const STEP_OF_TOLERANCE: f64 = 0.4;
/// Tolerances that an approach is long.
const RUN_UP: f64 = 4.0;
/// Of the travel, either is at most.
const OF_TRAVEL: f64 = 0.25;

/// How far a sign check sends an axis.
pub(super) fn step_of(axis: &Axis) -> f64 {
    let [low, high] = axis.reach();
    (STEP_OF_LAG * axis.lag_limit).min(STEP_OF_TOLERANCE * axis.tolerance).min(OF_TRAVEL * (high - low))
}

/// How far before a place its approach begins.
pub(super) fn run_up_of(axis: &Axis) -> f64 {
    let [low, high] = axis.reach();
    (RUN_UP * axis.tolerance).min(OF_TRAVEL * (high - low))
}

/// A trial that was asked for.
#[derive(Clone, Debug)]
pub(super) struct Course {
    pub axis: AxisId,
    pub trial: Trial,
    /// What it is about: the home, the place, where the sign is checked.
    pub at: f64,
    /// The step of a sign check, or the run-up to a place.
    pub way: f64,
    pub done: u16,
    stage: Stage,
    approaches: Approaches,
    pub found: Option<Found>,
}

#[derive(Clone, Copy, Debug, PartialEq)]
enum Stage {
    Going,
    /// Ticks for which it has stood at its station.
    Standing(u32),
}

/// What a trial is to do in a tick, besides going to its station.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Do {
    Nothing,
    /// The readings of this tick count; the first of them, or a further one.
    Measure {
        first: bool,
    },
    /// What was measured is whole.
    Weigh,
}

impl Course {
    pub fn new(axis: AxisId, of: &Axis, trial: Trial, stands: f64) -> Course {
        let [low, high] = of.reach();
        let (at, way) = match trial {
            Trial::Home => (of.start.clamp(low, high), 0.0),
            Trial::Sign => {
                let step = step_of(of);
                (stands.clamp(low + step, high - step), step)
            }
            Trial::Repeat { at, .. } => (at.unwrap_or(stands), run_up_of(of)),
        };
        let trial = match trial {
            Trial::Repeat { at: _, times } => {
                let times = times.clamp(APPROACHES_LEAST as u8, APPROACHES_MAX as u8);
                Trial::Repeat { at: Some(at), times }
            }
            Trial::Home | Trial::Sign => trial,
        };
        let (stage, approaches) = (Stage::Going, Approaches::default());
        Course { axis, trial, at, way, done: 0, stage, approaches, found: None }
    }

    pub fn stations(&self) -> u16 {
        match self.trial {
            Trial::Home => 1,
            Trial::Sign => 4,
            Trial::Repeat { times, .. } => 4 * u16::from(times),
        }
    }

    /// Where the axis is to go now, and whether it is measured there.
    pub fn station(&self) -> (f64, bool) {
        let Course { at, way, .. } = *self;
        match (self.trial, self.done % 4) {
            (Trial::Home, _) => (at, true),
            (Trial::Sign, 0) => (at - way, false),
            (Trial::Sign, 1) => (at, true),
            (Trial::Sign, 2) => (at + way, true),
            (Trial::Sign, _) => (at, false),
            (Trial::Repeat { .. }, 0) => (at - way, false),
            (Trial::Repeat { .. }, 2) => (at + way, false),
            (Trial::Repeat { .. }, _) => (at, true),
        }
    }

    /// It was let go of: what the next measurement needs is done again.
    pub fn interrupt(&mut self) {
        self.stage = Stage::Going;
        let (_, measures) = self.station();
        self.done = match self.trial {
            Trial::Home => 0,
            Trial::Sign if self.done < 3 => 0,
            Trial::Sign => self.done,
            Trial::Repeat { .. } => self.done - u16::from(measures),
        };
    }

    /// One tick while its button is held; `arrived` says that its axis rests at its station.
    pub fn turn(&mut self, arrived: bool, period: f64) -> Do {
        let Stage::Standing(ticks) = self.stage else {
            if arrived {
                self.stage = Stage::Standing(0);
            }
            return Do::Nothing;
        };
        if !arrived {
            self.stage = Stage::Going;
            return Do::Nothing;
        }
        if !self.station().1 {
            self.leave();
            return Do::Nothing;
        }
        self.stage = Stage::Standing(ticks + 1);
        let ticks_in = |seconds: f64| (seconds / period) as u32;
        let (settled, whole) = (ticks_in(SETTLES), ticks_in(SETTLES) + ticks_in(MEASURED).max(1));
        if ticks < settled {
            Do::Nothing
        } else if ticks < whole {
            Do::Measure { first: ticks == settled }
        } else {
            Do::Weigh
        }
    }

    /// To the next station.
    pub fn leave(&mut self) {
        (self.done, self.stage) = (self.done + 1, Stage::Going);
    }

    pub fn is_over(&self) -> bool {
        self.done >= self.stations()
    }

    /// Takes in what was measured at its station. The gauges hold the readings of every axis, here and at the one before.
    pub fn weigh(&mut self, axes: &[Axis], gauges: &Gauges) {
        let measured = gauges.now(self.axis).mean;
        let axis = &axes[self.axis.index()];
        match self.trial {
            Trial::Home => self.found = Some(Found::Home { home: self.at, measured }),
            Trial::Sign if self.done == 2 => {
                let (commanded, measured) = (self.way, gauges.moved(self.axis));
                let (sign, other) = gauges.sign(self.axis, axes, commanded);
                self.found = Some(Found::Sign { commanded, measured, sign, other });
            }
            Trial::Sign => {}
            Trial::Repeat { .. } => {
                let side = if self.done % 4 == 1 { Side::Below } else { Side::Above };
                self.approaches.add(side, measured - self.at);
                let last = self.done + 1 == self.stations();
                if let Some(figures) = self.approaches.positioning().filter(|_| last) {
                    self.found = Some(Found::Repeat { at: self.at, figures, tolerance: axis.tolerance });
                }
            }
        }
    }
}
