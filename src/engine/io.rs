//! What the engine is given each tick and what it gives back.

use serde::{Deserialize, Serialize};

use super::event::Event;
use super::in_hand::StickSample;
use super::request::{Answer, Request};
use super::status::Status;
use super::stop::StopCalls;
use crate::show::Nanos;

/// What a driver heard from its rig, as of this tick.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct RigReport {
    /// Of the newest report; [`Nanos::NEVER`] if there was none yet.
    pub age: Nanos,
    /// Power on, as the rig says.
    pub enabled: bool,
    /// The rig's own fault.
    pub fault: bool,
    /// Whether no machine moves.
    pub simulated: bool,
}

/// Measured, in the axis's own unit and per second.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct AxisReport {
    pub position: f64,
    pub speed: f64,
}

/// What a rig is told each tick, beside its setpoints.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct RigCommand {
    /// Power on. Without it, brakes hold.
    pub enable: bool,
    /// Withheld, the rig's own watchdog stops it.
    pub heartbeat: bool,
}

/// Where an axis shall be at the end of this tick, in its own unit and per second.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Setpoint {
    pub position: f64,
    pub speed: f64,
    pub acceleration: f64,
    pub jerk: f64,
}

/// Everything that the engine learns in one tick. The order of the requests is fixed by who calls.
#[derive(Clone, Copy, Debug)]
pub struct TickInput<'a> {
    pub stop: StopCalls,
    pub requests: &'a [Request],
    /// What sticks and dials said since the last tick: of each axis and client the newest, at most
    /// [`super::STICKS_MAX`].
    pub sticks: &'a [StickSample],
    /// By `RigId`.
    pub rigs: &'a [RigReport],
    /// By `AxisId`.
    pub axes: &'a [AxisReport],
    /// How late the loop woke for this tick.
    pub late: Nanos,
    /// A journal is to be kept of this run, and at present it is not.
    pub unrecorded: bool,
}

/// Everything that the engine has to say after one tick.
#[derive(Clone, Copy, Debug)]
pub struct TickOutput<'a> {
    /// By `RigId`.
    pub rigs: &'a [RigCommand],
    /// By `AxisId`.
    pub setpoints: &'a [Setpoint],
    pub answers: &'a [Answer],
    pub events: &'a [Event],
    pub status: &'a Status,
}
