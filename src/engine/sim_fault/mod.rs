//! Faults that simulated rigs are asked to show. The engine only judges who may ask and for which rig; whoever drives
//! the rigs makes them fail when it is told so by an event.

mod kind;

use serde::{Deserialize, Serialize};

pub use kind::{NoSuchFault, SimFaultKind, Size};

use super::event::EventKind;
use super::reason::Reason;
use super::refusal::Refusal;
use super::request::{Accepted, Request};
use super::tick::Engine;
use crate::show::{AxisId, Nanos, RigId, Show};

/// One way to fail. Positions and rates in the axis's own unit.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum SimFault {
    /// Neither commands nor reports pass.
    LinkLost(RigId),
    /// Commands pass, but nothing is reported.
    Mute(RigId),
    /// Reports travel for so much longer, up to a second.
    LateReports(RigId, Nanos),
    /// Its drive brakes by itself and reports a fault.
    Drive(RigId),
    /// It keeps the speed that it has, whatever its setpoints say, until its power goes.
    IgnoresStop(RigId),
    /// Jammed where it is, drive and all.
    Stuck(AxisId),
    /// From where it stands it runs against what it is told.
    Reversed(AxisId),
    /// Slips against its drive by so much a second.
    Drift(AxisId, f64),
    /// Its closed brake lets it slide by so much a second.
    BrakeSlip(AxisId, f64),
    /// The encoder jumps by so much, once, and stays off by it.
    Jump(AxisId, f64),
    /// The encoder reads no number.
    NonFinite(AxisId),
    /// Hard ends lie so far inside the surveyed travel.
    WrongEnd(AxisId, f64),
    /// The cables of its motor and of the motor of the rig's next axis are crossed, from where both stand.
    Crossed(AxisId),
}

impl SimFault {
    pub fn kind(self) -> SimFaultKind {
        match self {
            SimFault::LinkLost(_) => SimFaultKind::LinkLost,
            SimFault::Mute(_) => SimFaultKind::Mute,
            SimFault::LateReports(..) => SimFaultKind::Late,
            SimFault::Drive(_) => SimFaultKind::Drive,
            SimFault::IgnoresStop(_) => SimFaultKind::IgnoresStop,
            SimFault::Stuck(_) => SimFaultKind::Stuck,
            SimFault::Reversed(_) => SimFaultKind::Reversed,
            SimFault::Drift(..) => SimFaultKind::Drift,
            SimFault::BrakeSlip(..) => SimFaultKind::BrakeSlip,
            SimFault::Jump(..) => SimFaultKind::Jump,
            SimFault::NonFinite(_) => SimFaultKind::NotANumber,
            SimFault::WrongEnd(..) => SimFaultKind::WrongEnd,
            SimFault::Crossed(_) => SimFaultKind::Crossed,
        }
    }

    /// The axis that fails, unless it is a whole rig.
    pub fn axis(self) -> Option<AxisId> {
        match self {
            SimFault::LinkLost(_)
            | SimFault::Mute(_)
            | SimFault::LateReports(..)
            | SimFault::Drive(_)
            | SimFault::IgnoresStop(_) => None,
            SimFault::Stuck(axis)
            | SimFault::Reversed(axis)
            | SimFault::Drift(axis, _)
            | SimFault::BrakeSlip(axis, _)
            | SimFault::Jump(axis, _)
            | SimFault::NonFinite(axis)
            | SimFault::Crossed(axis)
            | SimFault::WrongEnd(axis, _) => Some(axis),
        }
    }

    /// The rig that fails as a whole, unless it is an axis.
    pub fn whole_rig(self) -> Option<RigId> {
        match self {
            SimFault::LinkLost(rig)
            | SimFault::Mute(rig)
            | SimFault::LateReports(rig, _)
            | SimFault::Drive(rig)
            | SimFault::IgnoresStop(rig) => Some(rig),
            SimFault::Stuck(_)
            | SimFault::Reversed(_)
            | SimFault::Drift(..)
            | SimFault::BrakeSlip(..)
            | SimFault::Jump(..)
            | SimFault::NonFinite(_)
            | SimFault::WrongEnd(..)
            | SimFault::Crossed(_) => None,
        }
    }

    /// The rig that fails, or that has the axis.
    pub fn rig(self, show: &Show) -> Option<RigId> {
        self.whole_rig().or_else(|| self.axis().map(|axis| show.axis(axis).rig))
    }

    /// Whether both are of one kind and of one rig or axis, of whatever size.
    pub fn is_as(self, other: SimFault) -> bool {
        self.kind() == other.kind() && self.axis() == other.axis() && self.whole_rig() == other.whole_rig()
    }

    /// By how much, as [`SimFaultKind::size`] says; `None` where it says none.
    pub fn size(self) -> Option<f64> {
        match self {
            SimFault::LateReports(_, by) => Some(by.seconds()),
            SimFault::Drift(_, size)
            | SimFault::BrakeSlip(_, size)
            | SimFault::Jump(_, size)
            | SimFault::WrongEnd(_, size) => Some(size),
            SimFault::LinkLost(_)
            | SimFault::Mute(_)
            | SimFault::Drive(_)
            | SimFault::IgnoresStop(_)
            | SimFault::Stuck(_)
            | SimFault::Reversed(_)
            | SimFault::NonFinite(_)
            | SimFault::Crossed(_) => None,
        }
    }
}

impl Engine {
    /// What is real is never made to fail; whatever it is by now, a fault of it may be ended.
    pub(super) fn inject(&mut self, request: &Request, fault: SimFault, on: bool) -> Result<Accepted, Refusal> {
        if let Some(rig) = fault.rig(&self.show)
            && on
            && !self.is_simulated(rig)
        {
            return Err(Refusal::one(Reason::RealRig { rig }));
        }
        self.outbox.event(EventKind::SimFault { fault, on, by: request.client });
        Ok(Accepted::Done)
    }
}
