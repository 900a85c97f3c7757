//! What a rehearsal found out. Times are s of virtual time since the show was armed.

use super::track::Track;
use crate::engine::{Breach, Event, EventKind, HandEvent, Refusal, Status};
use crate::rig::FaultScript;
use crate::show::{AxisId, CueId, CueState, InputId, Limits, Show};

/// How a rehearsal is to go.
#[derive(Clone, Debug, PartialEq)]
pub struct Options {
    /// Factor on the show's clock, above 0 and at most 1.
    pub master: f64,
    /// With a seed, cues are called at random times and random operators hold, resume, return and stop them, and
    /// take rigs in hand beside them. Without,
    /// every cue is called as the list has it. The seed is also that of the rigs' noise.
    pub seed: Option<u64>,
    /// Whether the caller keeps to the `gap`s; else each cue is called as soon as the one before has ended.
    pub gaps: bool,
    /// The first cue and the last; the whole list without them. The rigs begin where the list has them then.
    pub from: Option<CueId>,
    pub to: Option<CueId>,
    /// Inputs that stay silent. All others are supplied as true, again and again.
    pub without: Vec<InputId>,
    /// How the simulated rigs fail.
    pub faults: Option<FaultScript>,
}

impl Default for Options {
    fn default() -> Options {
        Options { master: 1.0, seed: None, gaps: true, from: None, to: None, without: Vec::new(), faults: None }
    }
}

/// How far a rehearsal came.
#[derive(Clone, Debug)]
pub enum Ending {
    /// To the last cue.
    Complete,
    /// Whoever paced it asked it to end.
    Interrupted,
    /// The show could not be armed.
    NotArmed(Box<Refused>),
    /// A stop whose cause did not go away.
    Stopped(Box<Refused>),
    /// The running cues were held, and could not be resumed.
    Held(Box<Refused>),
    /// The engine broke a promise: an error of bellwire itself.
    Broken(Breach),
}

/// A refusal, and the state in which it was given.
#[derive(Clone, Debug)]
pub struct Refused {
    pub reasons: Refusal,
    pub seen: Status,
}

/// How a cue came out.
#[derive(Clone, Debug)]
pub enum Outcome {
    Done,
    Refused(Box<Refused>),
    /// A follow whose leading cue was not run.
    NoLeader {
        leading: CueId,
    },
    /// A follow whose condition did not turn true before the end.
    NoCondition,
    /// Stopped or held on its way, and not carried on.
    OnItsWay,
    /// The rehearsal ended before it.
    NotReached,
}

impl Outcome {
    /// For scripts.
    pub fn word(&self) -> &'static str {
        match self {
            Outcome::Done => "done",
            Outcome::Refused(_) => "refused",
            Outcome::NoLeader { .. } => "no-leader",
            Outcome::NoCondition => "no-condition",
            Outcome::OnItsWay => "on-its-way",
            Outcome::NotReached => "not-reached",
        }
    }
}

/// The largest magnitudes of setpoints, in the axis's own unit per s, s² and s³.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Peaks {
    pub speed: f64,
    pub acceleration: f64,
    pub jerk: f64,
}

impl Peaks {
    pub fn raise(&mut self, other: Peaks) {
        self.speed = self.speed.max(other.speed);
        self.acceleration = self.acceleration.max(other.acceleration);
        self.jerk = self.jerk.max(other.jerk);
    }

    /// The largest part of its limit that any of them reached.
    pub fn most_of(&self, limits: Limits) -> f64 {
        let parts = [self.speed / limits.speed, self.acceleration / limits.acceleration, self.jerk / limits.jerk];
        parts.into_iter().fold(0.0, f64::max)
    }
}

/// One axis within one cue, or over the whole rehearsal.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct AxisRecord {
    pub axis: AxisId,
    /// Against the running limits.
    pub running: Peaks,
    /// While a hold, a stop or a lower master braked: against the stopping limits.
    pub stopping: Peaks,
    /// The largest following error of the simulated rig: measured against setpoint.
    pub lag: f64,
}

impl AxisRecord {
    pub fn new(axis: AxisId) -> AxisRecord {
        AxisRecord { axis, running: Peaks::default(), stopping: Peaks::default(), lag: 0.0 }
    }

    pub fn raise(&mut self, other: &AxisRecord) {
        self.running.raise(other.running);
        self.stopping.raise(other.stopping);
        self.lag = self.lag.max(other.lag);
    }
}

/// One cue of the list.
#[derive(Clone, Debug)]
pub struct CueRecord {
    pub cue: CueId,
    pub outcome: Outcome,
    /// When its `gap` has it called, if it has one and the caller kept to it.
    pub due: Option<f64>,
    /// Of its last run from the top.
    pub fired: Option<f64>,
    pub ended: Option<f64>,
    /// s, at the rehearsal's master.
    pub planned: f64,
    /// s, of those between `fired` and `ended` in which it did not run forwards at the master: held, stopped,
    /// returning, coming to rest.
    pub interrupted: f64,
    /// In order, each with the time at which it was entered.
    pub states: Vec<(f64, CueState)>,
    /// Of the axes that it moves.
    pub axes: Vec<AxisRecord>,
    /// s, the longest that a stop would have taken at any time of the run.
    pub stop_bound: f64,
}

impl CueRecord {
    /// s, from its GO to its end, whatever came between.
    pub fn taken(&self) -> Option<f64> {
        Some(self.ended? - self.fired?)
    }
}

/// A whole rehearsal.
#[derive(Clone, Debug)]
pub struct Rehearsal {
    pub options: Options,
    pub ending: Ending,
    /// In the order of the list, from `from` to `to`.
    pub cues: Vec<CueRecord>,
    /// What every axis reached in presets, by `AxisId`.
    pub preset: Vec<AxisRecord>,
    /// Everything that the engine told, with its time.
    pub events: Vec<(f64, Event)>,
    /// Position and speed of every axis, by `AxisId`, while anything moved.
    pub tracks: Vec<Track>,
    /// s of virtual time, from arming to the end.
    pub length: f64,
    /// Ticks that were run, those before arming included.
    pub ticks: u64,
    /// Over every setpoint, command, answer and event: equal if and only if two rehearsals went alike.
    pub fingerprint: u64,
}

impl Rehearsal {
    /// s, from the first GO to the end of the last cue.
    pub fn act(&self) -> Option<f64> {
        let first = self.cues.iter().filter_map(|cue| cue.fired).fold(f64::INFINITY, f64::min);
        let last = self.cues.iter().filter_map(|cue| cue.ended).fold(f64::NEG_INFINITY, f64::max);
        (first < last).then_some(last - first)
    }

    /// Every cue was run to its end, and no fault came between.
    pub fn is_clean(&self) -> bool {
        let complete = match self.ending {
            Ending::Complete => true,
            Ending::Interrupted
            | Ending::NotArmed(_)
            | Ending::Stopped(_)
            | Ending::Held(_)
            | Ending::Broken(_) => false,
        };
        let done = self.cues.iter().all(|record| matches!(record.outcome, Outcome::Done));
        complete && done && !self.was_stopped_by_fault()
    }

    /// A stop that nobody asked for.
    pub fn was_stopped_by_fault(&self) -> bool {
        self.events.iter().any(|(_, event)| match &event.kind {
            EventKind::Stop { cause } => match cause {
                crate::engine::Cause::Request(_) => false,
                crate::engine::Cause::Fault(_) | crate::engine::Cause::Interlock(_) => true,
            },
            EventKind::Standby { .. }
            | EventKind::Dropped { .. }
            | EventKind::Go { .. }
            | EventKind::Refused { .. }
            | EventKind::Cue { .. }
            | EventKind::Held { .. }
            | EventKind::Standstill { .. }
            | EventKind::Reset
            | EventKind::Armed { .. }
            | EventKind::PartSimulated { .. }
            | EventKind::Fault { .. }
            | EventKind::Interlock { .. }
            | EventKind::Input { .. }
            | EventKind::Master { .. }
            | EventKind::Placed { .. }
            | EventKind::Offered { .. }
            | EventKind::Replaced { .. }
            | EventKind::ClientLost { .. }
            | EventKind::Journal { .. }
            | EventKind::SimFault { .. }
            | EventKind::Hand(_) => false,
        })
    }

    /// How often somebody took a rig in hand.
    pub fn taken_in_hand(&self) -> usize {
        let taken = |event: &Event| matches!(event.kind, EventKind::Hand(HandEvent::Taken { .. }));
        self.events.iter().filter(|(_, event)| taken(event)).count()
    }

    /// Each axis over all cues and presets, by `AxisId`.
    pub fn axes(&self, show: &Show) -> Vec<AxisRecord> {
        let mut axes: Vec<AxisRecord> = show.axis_ids().map(AxisRecord::new).collect();
        for record in self.cues.iter().flat_map(|cue| &cue.axes).chain(&self.preset) {
            axes[record.axis.index()].raise(record);
        }
        axes
    }
}
