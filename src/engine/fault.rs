//! What goes wrong with the machine, and what keeps the stop latched.

use serde::{Deserialize, Serialize};

use crate::show::{AxisId, InterlockId, RigId};

/// One fault. Its reaction is chosen in one table, [`Fault::reaction`].
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Fault {
    /// No report within the rig's link time-out.
    LinkLost(RigId),
    /// The following error passed the axis's lag limit.
    Following(AxisId),
    /// A measured position or speed that is not a finite number.
    NonFinite(AxisId),
    /// The rig itself reports a fault.
    Drive(RigId),
    /// The tick loop came too late, once or again and again; hold first.
    OverrunHold,
    /// Late beyond what a hold can answer.
    OverrunStop,
    /// An invariant of the engine broke: our bug.
    Engine,
}

/// What is done about a fault; the worst of a tick wins.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Reaction {
    Warn,
    Hold,
    /// The latched stop of everything.
    Stop,
    /// The latched stop, and the rig (or all, if it is the engine's own) disabled at once.
    Disable,
}

impl Fault {
    pub fn reaction(self) -> Reaction {
        match self {
            Fault::OverrunHold => Reaction::Hold,
            Fault::Following(_) | Fault::OverrunStop => Reaction::Stop,
            Fault::LinkLost(_) | Fault::NonFinite(_) | Fault::Drive(_) | Fault::Engine => Reaction::Disable,
        }
    }
}

/// The road on which a stop came.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum StopLane {
    StopPort,
    Osc,
    Rpc,
    Http,
    /// The process was asked to end.
    Signal,
    /// The thread that watches the loop.
    Watch,
}

impl StopLane {
    pub const ALL: [StopLane; 6] =
        [StopLane::StopPort, StopLane::Osc, StopLane::Rpc, StopLane::Http, StopLane::Signal, StopLane::Watch];

    pub fn word(self) -> &'static str {
        match self {
            StopLane::StopPort => "stop port",
            StopLane::Osc => "OSC",
            StopLane::Rpc => "WebSocket",
            StopLane::Http => "HTTP",
            StopLane::Signal => "signal",
            StopLane::Watch => "watch thread",
        }
    }
}

/// Why the stop latched. A request is past at once; the others remain while they stand.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Cause {
    Request(StopLane),
    Fault(Fault),
    /// An interlock with `otherwise = "stop"`.
    Interlock(InterlockId),
}
