//! The whole state of the running show, for eyes. Every list has its full length from the start.

use arrayvec::ArrayVec;

use super::company::{ClearSpan, SPANS_MAX};
use super::elsewhere::Aside;
use super::fault::{Cause, Fault};
use super::in_hand::{FocusStatus, TrialStatus};
use super::reason::Owner;
use super::refusal::Refusal;
use super::request::{ClientId, STANDBY_MAX};
use crate::proof::Near;
use crate::show::{AxisId, CueId, CueState, InterlockId, Nanos, RigId, Show, Truth};

/// Cues that run, or wait for their follow, at once at most.
pub const RUNNING_MAX: usize = 16;
pub const WAITING_MAX: usize = 16;
/// Rigs that one preset takes along its way at most.
pub const LEGS_MAX: usize = 32;
/// Faults shown at once; more change nothing for eyes.
pub const FAULTS_SHOWN: usize = 32;
/// Causes kept for one latched stop.
pub const CAUSES_MAX: usize = 8;
/// Ways by hand out of where interlocks do not permit, shown at once.
pub const WAYS_OUT_MAX: usize = 4;

#[derive(Clone, Debug, PartialEq)]
pub struct Status {
    /// Of the show; counts up as reloads replace it.
    pub edition: u32,
    pub tick: u64,
    pub armed: bool,
    /// What was asked, 0 to 1.
    pub master: f64,
    /// The rate of the group that is fastest now, negative while returning; with nothing running, of the show's clock.
    pub rate: f64,
    /// s, from a stop asked for now to standstill, at most.
    pub stop_bound: f64,
    pub held: bool,
    pub stopped: Option<Stopped>,
    /// What is wrong now, warnings too.
    pub faults: ArrayVec<Fault, FAULTS_SHOWN>,
    pub standby: ArrayVec<Standby, STANDBY_MAX>,
    pub running: ArrayVec<Running, RUNNING_MAX>,
    pub waiting: ArrayVec<Waiting, WAITING_MAX>,
    /// The preset that is on standby or under way.
    pub way: Option<Way>,
    /// By `CueId`.
    pub cues: Vec<CueState>,
    /// By `RigId`.
    pub rigs: Vec<RigStatus>,
    /// By `AxisId`.
    pub axes: Vec<AxisStatus>,
    /// By `InputId`.
    pub inputs: Vec<InputStatus>,
    /// By `InterlockId`.
    pub interlocks: Vec<Truth>,
    /// Of interlocks that are in somebody's way now, if a hand can lead out of where they do not permit.
    pub ways_out: ArrayVec<WayOut, WAYS_OUT_MAX>,
}

/// An axis that a hand may move, slowly, to where an interlock permits again, or nearer to that.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct WayOut {
    pub interlock: InterlockId,
    pub axis: AxisId,
    /// In its own unit: where it gains nothing more by going on.
    pub to: f64,
}

#[derive(Clone, Debug, PartialEq)]
pub struct Stopped {
    /// The first cause.
    pub by: Cause,
    /// Every cause, those that still stand marked.
    pub causes: ArrayVec<(Cause, bool), CAUSES_MAX>,
    /// All axes measured at rest.
    pub standstill: bool,
}

#[derive(Clone, Debug, PartialEq)]
pub struct Standby {
    pub cue: CueId,
    pub ready: bool,
    /// A GO takes it back to its start instead.
    pub returning: bool,
    /// A GO carries it on from here, s on its own clock; 0 from the top.
    pub from: f64,
    pub reasons: Refusal,
    /// When it may be fired beside what runs; empty if that is always.
    pub clear: ArrayVec<ClearSpan, SPANS_MAX>,
    /// A rig that stands elsewhere than the list leaves it, which it is proved clear of.
    pub aside: Option<Aside>,
}

#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Running {
    pub cue: CueId,
    pub state: CueState,
    /// s, the cue's own.
    pub time: f64,
    pub duration: f64,
    pub rate: f64,
    /// s of real time at the present master; to the start while returning.
    pub left: f64,
}

#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Waiting {
    pub cue: CueId,
    /// s of the clock it waits on, what is left of the cue that it follows included; `None` while it waits for a
    /// condition, or for a cue that waits itself.
    pub left: Option<f64>,
}

/// A preset: rig after rig to where a cue starts.
#[derive(Clone, Debug, PartialEq)]
pub struct Way {
    pub to: CueId,
    /// A rig on it is real: it runs only while an operator keeps asking.
    pub by_hand: bool,
    pub legs: ArrayVec<Leg, LEGS_MAX>,
}

/// s, of the preset's own time.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Leg {
    pub rig: RigId,
    pub from: f64,
    pub until: f64,
    /// Index into the rig's marks, if the preset ends at one, and another has to go on from there.
    pub to_mark: Option<usize>,
}

/// After PLCopen Part 1 and CiA 402.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum AxisState {
    Disabled,
    Standstill,
    Moving,
    Stopping,
    Fault,
}

impl AxisState {
    pub fn word(self) -> &'static str {
        match self {
            AxisState::Disabled => "disabled",
            AxisState::Standstill => "standstill",
            AxisState::Moving => "moving",
            AxisState::Stopping => "stopping",
            AxisState::Fault => "fault",
        }
    }
}

#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RigStatus {
    /// The worst of its axes.
    pub state: AxisState,
    pub owner: Owner,
    pub simulated: bool,
    /// Of its newest report; `Nanos::NEVER` before the first.
    pub age: Nanos,
    pub hand: Option<HandStatus>,
}

/// Of a rig in hand.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct HandStatus {
    pub client: ClientId,
    /// Whose sticks and dials drive it.
    pub sticks: ClientId,
    pub offered: Option<ClientId>,
    /// It comes to rest, and is nobody's then.
    pub let_go: bool,
    /// What is in the way of one of its axes.
    pub near: Option<Near>,
    /// An interlock that forbids what one of its axes is asked for.
    pub barred: Option<InterlockId>,
    /// It is in hand for a survey.
    pub survey: bool,
    pub trial: Option<TrialStatus>,
    /// While its focus follows something.
    pub focus: Option<FocusStatus>,
}

#[derive(Clone, Copy, Debug, PartialEq)]
pub struct AxisStatus {
    pub state: AxisState,
    /// Measured; `None` before the first report or if it is not finite.
    pub position: Option<f64>,
    pub speed: Option<f64>,
    pub setpoint: f64,
    /// In hand: its stick counts only after it has been at zero, its dial once it is picked up.
    pub waits: bool,
}

#[derive(Clone, Copy, Debug, PartialEq)]
pub struct InputStatus {
    /// As last received; `None` before that. A stale one keeps its value here, but counts as unknown.
    pub value: Option<bool>,
    pub age: Nanos,
    pub truth: Truth,
    /// Fell while `trips`; stays false until reset.
    pub tripped: bool,
}

impl Status {
    /// Before the first tick.
    pub fn at_rest(show: &Show) -> Status {
        Status {
            edition: 1,
            tick: 0,
            armed: false,
            master: 1.0,
            rate: 0.0,
            stop_bound: 0.0,
            held: false,
            stopped: None,
            faults: ArrayVec::new(),
            standby: ArrayVec::new(),
            running: ArrayVec::new(),
            waiting: ArrayVec::new(),
            way: None,
            cues: vec![CueState::Idle; show.cues.len()],
            rigs: vec![
                RigStatus {
                    state: AxisState::Disabled,
                    owner: Owner::Nobody,
                    simulated: true,
                    age: Nanos::NEVER,
                    hand: None,
                };
                show.rigs.len()
            ],
            axes: show
                .axes
                .iter()
                .map(|axis| AxisStatus {
                    state: AxisState::Disabled,
                    position: None,
                    speed: None,
                    setpoint: axis.start,
                    waits: false,
                })
                .collect(),
            inputs: vec![
                InputStatus { value: None, age: Nanos::NEVER, truth: Truth::Unknown, tripped: false };
                show.inputs.len()
            ],
            interlocks: vec![Truth::Unknown; show.interlocks.len()],
            ways_out: ArrayVec::new(),
        }
    }
}
