//! What goes wrong with the machine, and what keeps the stop latched.

use serde::{Deserialize, Serialize};

use super::fault_table::{Clears, FaultKind, Reaction};
use crate::show::{AxisId, InterlockId, RigId, Show};

/// One fault. Its reaction and its clear rule stand in one table, [`FaultKind::rule`].
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
    /// Reports older than half the link time-out.
    LateReports(RigId),
    /// Another than at arming: simulated then and real now, or the reverse.
    Swapped(RigId),
    /// A step of the measured position that no speed explains.
    Jump(AxisId),
    /// It lags by more than its limit and stands, though it is told to move.
    Stuck(AxisId),
    /// It moves against its command.
    Reversed(AxisId),
    /// It goes on though it is told to stop.
    RunsOn(AxisId),
    /// Measured outside its surveyed travel by more than its tolerance.
    OverTravel(AxisId),
    /// Under power and told to stand, it has left its setpoint by more than its tolerance.
    Creeps(AxisId),
    /// Without power it moves by more than its tolerance.
    MovesUnpowered(AxisId),
    /// The same of an axis that only its brake holds up.
    BrakeSlip(AxisId),
}

impl Fault {
    pub fn kind(self) -> FaultKind {
        match self {
            Fault::LinkLost(_) => FaultKind::LinkLost,
            Fault::Following(_) => FaultKind::Following,
            Fault::NonFinite(_) => FaultKind::NonFinite,
            Fault::Drive(_) => FaultKind::Drive,
            Fault::OverrunHold => FaultKind::OverrunHold,
            Fault::OverrunStop => FaultKind::OverrunStop,
            Fault::Engine => FaultKind::Engine,
            Fault::LateReports(_) => FaultKind::LateReports,
            Fault::Swapped(_) => FaultKind::Swapped,
            Fault::Jump(_) => FaultKind::Jump,
            Fault::Stuck(_) => FaultKind::Stuck,
            Fault::Reversed(_) => FaultKind::Reversed,
            Fault::RunsOn(_) => FaultKind::RunsOn,
            Fault::OverTravel(_) => FaultKind::OverTravel,
            Fault::Creeps(_) => FaultKind::Creeps,
            Fault::MovesUnpowered(_) => FaultKind::MovesUnpowered,
            Fault::BrakeSlip(_) => FaultKind::BrakeSlip,
        }
    }

    pub fn reaction(self) -> Reaction {
        self.kind().rule().reaction
    }

    /// Whether it keeps a show that does not move from moving.
    pub fn forbids_motion(self) -> bool {
        self.reaction() > Reaction::Warn
    }

    /// Whether it has to end before a reset is taken.
    pub fn blocks_reset(self) -> bool {
        match self.kind().rule().clears {
            Clears::Alone | Clears::Acknowledged => false,
            Clears::Resume | Clears::Reset | Clears::ResetWithoutPower | Clears::Disarm | Clears::NewStart => true,
        }
    }

    /// The axis it is about, if it is about one.
    pub fn axis(self) -> Option<AxisId> {
        match self {
            Fault::Following(axis)
            | Fault::NonFinite(axis)
            | Fault::Jump(axis)
            | Fault::Stuck(axis)
            | Fault::Reversed(axis)
            | Fault::RunsOn(axis)
            | Fault::OverTravel(axis)
            | Fault::Creeps(axis)
            | Fault::MovesUnpowered(axis)
            | Fault::BrakeSlip(axis) => Some(axis),
            Fault::LinkLost(_)
            | Fault::Drive(_)
            | Fault::LateReports(_)
            | Fault::Swapped(_)
            | Fault::OverrunHold
            | Fault::OverrunStop
            | Fault::Engine => None,
        }
    }

    /// The rig it is about, be it of one of its axes; `None` if it is the engine's own.
    pub fn rig(self, show: &Show) -> Option<RigId> {
        match self {
            Fault::LinkLost(rig) | Fault::Drive(rig) | Fault::LateReports(rig) | Fault::Swapped(rig) => Some(rig),
            Fault::OverrunHold | Fault::OverrunStop | Fault::Engine => None,
            Fault::Following(axis)
            | Fault::NonFinite(axis)
            | Fault::Jump(axis)
            | Fault::Stuck(axis)
            | Fault::Reversed(axis)
            | Fault::RunsOn(axis)
            | Fault::OverTravel(axis)
            | Fault::Creeps(axis)
            | Fault::MovesUnpowered(axis)
            | Fault::BrakeSlip(axis) => Some(show.axis(axis).rig),
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
