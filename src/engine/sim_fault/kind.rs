//! The kinds of faults of simulated rigs, by the words that people write for them.

use std::ops::Range;

use super::SimFault;
use crate::show::{AxisId, Nanos, RigId};

/// A way to fail, without saying which rig or axis fails and by how much.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum SimFaultKind {
    LinkLost,
    Mute,
    Late,
    Drive,
    IgnoresStop,
    Stuck,
    Reversed,
    Drift,
    BrakeSlip,
    Jump,
    NotANumber,
    WrongEnd,
    Crossed,
}

/// What the size of a fault measures.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Size {
    /// s, above zero, at most [`SimFaultKind::LATE_MAX`].
    Seconds,
    /// In the axis's unit, up or down.
    Way,
    /// In the axis's unit, above zero.
    Inwards,
    /// In the axis's unit per s, up or down.
    Speed,
}

/// Why a kind, a rig, an axis and a size make no fault.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum NoSuchFault {
    /// The kind is one of an axis, and the rig has several.
    WhichAxis,
    /// The kind is one of a whole rig.
    WholeRig,
    /// The kind needs to know how much.
    HowMuch(Size),
    /// The kind has no size.
    NoSize,
    /// No such size, or zero.
    BadSize(Size),
}

impl Size {
    /// For people, with its range.
    pub fn meaning(self) -> &'static str {
        match self {
            Size::Seconds => "seconds above 0, at most 1",
            Size::Way => "a number other than 0, in the axis's unit",
            Size::Inwards => "a number above 0, in the axis's unit",
            Size::Speed => "a number other than 0, in the axis's unit per second",
        }
    }
}

impl SimFaultKind {
    pub const ALL: [SimFaultKind; 13] = [
        SimFaultKind::LinkLost,
        SimFaultKind::Mute,
        SimFaultKind::Late,
        SimFaultKind::Drive,
        SimFaultKind::IgnoresStop,
        SimFaultKind::Stuck,
        SimFaultKind::Reversed,
        SimFaultKind::Drift,
        SimFaultKind::BrakeSlip,
        SimFaultKind::Jump,
        SimFaultKind::NotANumber,
        SimFaultKind::WrongEnd,
        SimFaultKind::Crossed,
    ];

    /// Reports are late by no more than this, s.
    pub const LATE_MAX: f64 = 1.0;

    pub fn word(self) -> &'static str {
        match self {
            SimFaultKind::LinkLost => "link-lost",
            SimFaultKind::Mute => "mute",
            SimFaultKind::Late => "late",
            SimFaultKind::Drive => "drive",
            SimFaultKind::IgnoresStop => "ignores-stop",
            SimFaultKind::Stuck => "stuck",
            SimFaultKind::Reversed => "reversed",
            SimFaultKind::Drift => "drift",
            SimFaultKind::BrakeSlip => "brake-slip",
            SimFaultKind::Jump => "jump",
            SimFaultKind::NotANumber => "not-a-number",
            SimFaultKind::WrongEnd => "wrong-end",
            SimFaultKind::Crossed => "crossed",
        }
    }

    /// What the rig or axis then does, for people.
    pub fn meaning(self) -> &'static str {
        match self {
            SimFaultKind::LinkLost => "neither commands nor reports pass",
            SimFaultKind::Mute => "commands pass, but nothing is reported",
            SimFaultKind::Late => "reports come late by `size` s",
            SimFaultKind::Drive => "the drive brakes by itself and reports a fault",
            SimFaultKind::IgnoresStop => "the rig keeps its speed whatever it is told, until its power goes",
            SimFaultKind::Stuck => "the axis is jammed where it is",
            SimFaultKind::Reversed => "the axis runs against what it is told",
            SimFaultKind::Drift => "the axis slips against its drive by `size` a second",
            SimFaultKind::BrakeSlip => "without power the axis slides by `size` a second",
            SimFaultKind::Jump => "the encoder jumps by `size`, once, and stays off by it",
            SimFaultKind::NotANumber => "the encoder reads no number",
            SimFaultKind::Crossed => "its motor's cable and that of the rig's next axis are crossed",
            SimFaultKind::WrongEnd => "the axis meets a hard end `size` inside its surveyed travel",
        }
    }

    pub fn is_of_an_axis(self) -> bool {
        match self.makes() {
            Makes::OfRig(_) => false,
            Makes::OfAxis(_) => true,
        }
    }

    fn makes(self) -> Makes {
        match self {
            SimFaultKind::LinkLost => Makes::OfRig(|rig, _| SimFault::LinkLost(rig)),
            SimFaultKind::Mute => Makes::OfRig(|rig, _| SimFault::Mute(rig)),
            SimFaultKind::Late => Makes::OfRig(|rig, by| SimFault::LateReports(rig, Nanos::from_seconds(by))),
            SimFaultKind::Drive => Makes::OfRig(|rig, _| SimFault::Drive(rig)),
            SimFaultKind::IgnoresStop => Makes::OfRig(|rig, _| SimFault::IgnoresStop(rig)),
            SimFaultKind::Stuck => Makes::OfAxis(|axis, _| SimFault::Stuck(axis)),
            SimFaultKind::Reversed => Makes::OfAxis(|axis, _| SimFault::Reversed(axis)),
            SimFaultKind::Drift => Makes::OfAxis(SimFault::Drift),
            SimFaultKind::BrakeSlip => Makes::OfAxis(SimFault::BrakeSlip),
            SimFaultKind::Jump => Makes::OfAxis(SimFault::Jump),
            SimFaultKind::NotANumber => Makes::OfAxis(|axis, _| SimFault::NonFinite(axis)),
            SimFaultKind::WrongEnd => Makes::OfAxis(SimFault::WrongEnd),
            SimFaultKind::Crossed => Makes::OfAxis(|axis, _| SimFault::Crossed(axis)),
        }
    }

    /// What its size measures; `None` if it has none.
    pub fn size(self) -> Option<Size> {
        match self {
            SimFaultKind::Late => Some(Size::Seconds),
            SimFaultKind::Drift | SimFaultKind::BrakeSlip => Some(Size::Speed),
            SimFaultKind::Jump => Some(Size::Way),
            SimFaultKind::WrongEnd => Some(Size::Inwards),
            SimFaultKind::LinkLost
            | SimFaultKind::Mute
            | SimFaultKind::Drive
            | SimFaultKind::IgnoresStop
            | SimFaultKind::Stuck
            | SimFaultKind::Reversed
            | SimFaultKind::NotANumber
            | SimFaultKind::Crossed => None,
        }
    }

    /// Whether it goes on until it is ended; a jump is over at once.
    pub fn lasts(self) -> bool {
        self != SimFaultKind::Jump
    }

    /// Of the word that people write.
    pub fn from_word(word: &str) -> Option<SimFaultKind> {
        SimFaultKind::ALL.into_iter().find(|kind| kind.word() == word)
    }

    /// The fault of this kind, of a rig with these axes; where it has only one, that need not be named.
    ///
    /// # Errors
    /// They make no fault.
    pub fn of(
        self,
        rig: RigId,
        axes: &Range<u16>,
        axis: Option<AxisId>,
        size: Option<f64>,
    ) -> Result<SimFault, NoSuchFault> {
        let size = self.checked(size)?;
        let only = (axes.len() == 1).then_some(AxisId(axes.start));
        match (self.makes(), axis) {
            (Makes::OfRig(make), None) => Ok(make(rig, size)),
            (Makes::OfRig(_), Some(_)) => Err(NoSuchFault::WholeRig),
            (Makes::OfAxis(make), axis) => Ok(make(axis.or(only).ok_or(NoSuchFault::WhichAxis)?, size)),
        }
    }

    /// The fault of this kind that is to end. Its size is any: a fault is ended whatever its size is.
    ///
    /// # Errors
    /// They make no fault.
    pub fn ending(self, rig: RigId, axes: &Range<u16>, axis: Option<AxisId>) -> Result<SimFault, NoSuchFault> {
        self.of(rig, axes, axis, self.size().map(|_| SimFaultKind::LATE_MAX))
    }

    fn checked(self, size: Option<f64>) -> Result<f64, NoSuchFault> {
        let (measures, size) = match (self.size(), size) {
            (None, None) => return Ok(0.0),
            (None, Some(_)) => return Err(NoSuchFault::NoSize),
            (Some(measures), None) => return Err(NoSuchFault::HowMuch(measures)),
            (Some(measures), Some(size)) => (measures, size),
        };
        let sound = match measures {
            Size::Seconds => size > 0.0 && size <= SimFaultKind::LATE_MAX,
            Size::Inwards => size > 0.0 && size.is_finite(),
            Size::Way | Size::Speed => size != 0.0 && size.is_finite(),
        };
        if sound { Ok(size) } else { Err(NoSuchFault::BadSize(measures)) }
    }
}

enum Makes {
    OfRig(fn(RigId, f64) -> SimFault),
    OfAxis(fn(AxisId, f64) -> SimFault),
}
