//! Switches that make simulated rigs fail.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicI64, AtomicU64, Ordering::Relaxed};

use serde::{Deserialize, Serialize};

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
}

/// The faults of all simulated rigs of a show. Clones share them; set from any thread, read without waiting by the
/// rigs at their next tick.
#[derive(Clone, Debug)]
pub struct SimFaults {
    rigs: Arc<[RigFaults]>,
    axes: Arc<[AxisFaults]>,
}

#[derive(Debug, Default)]
pub(super) struct RigFaults {
    link_lost: AtomicBool,
    mute: AtomicBool,
    lateness: AtomicI64,
}

#[derive(Debug, Default)]
pub(super) struct AxisFaults {
    stuck: AtomicBool,
    reversed: AtomicBool,
    non_finite: AtomicBool,
    drift: AtomicF64,
    brake_slip: AtomicF64,
    jump: AtomicF64,
}

#[derive(Debug, Default)]
struct AtomicF64(AtomicU64);

impl AtomicF64 {
    fn get(&self) -> f64 {
        f64::from_bits(self.0.load(Relaxed))
    }

    fn set(&self, value: f64) {
        self.0.store(value.to_bits(), Relaxed);
    }
}

impl SimFaults {
    /// All rigs of the show in good health.
    pub fn none(show: &Show) -> SimFaults {
        SimFaults {
            rigs: show.rigs.iter().map(|_| RigFaults::default()).collect(),
            axes: show.axes.iter().map(|_| AxisFaults::default()).collect(),
        }
    }

    /// # Panics
    /// On a rig or an axis that the show does not have.
    pub fn inject(&self, fault: SimFault) {
        match fault {
            SimFault::LinkLost(rig) => self.rig(rig).link_lost.store(true, Relaxed),
            SimFault::Mute(rig) => self.rig(rig).mute.store(true, Relaxed),
            SimFault::LateReports(rig, by) => self.rig(rig).lateness.store(by.0.max(0), Relaxed),
            SimFault::Stuck(axis) => self.axis(axis).stuck.store(true, Relaxed),
            SimFault::Reversed(axis) => self.axis(axis).reversed.store(true, Relaxed),
            SimFault::Drift(axis, rate) => self.axis(axis).drift.set(rate),
            SimFault::BrakeSlip(axis, rate) => self.axis(axis).brake_slip.set(rate),
            SimFault::Jump(axis, by) => self.axis(axis).jump.set(by),
            SimFault::NonFinite(axis) => self.axis(axis).non_finite.store(true, Relaxed),
        }
    }

    /// Ends all faults. What a drift, a slip or a jump has displaced stays displaced, until it is homed; a reversed
    /// axis runs the right way from where it stands.
    pub fn heal(&self) {
        for rig in self.rigs.iter() {
            rig.link_lost.store(false, Relaxed);
            rig.mute.store(false, Relaxed);
            rig.lateness.store(0, Relaxed);
        }
        for axis in self.axes.iter() {
            axis.stuck.store(false, Relaxed);
            axis.reversed.store(false, Relaxed);
            axis.non_finite.store(false, Relaxed);
            axis.drift.set(0.0);
            axis.brake_slip.set(0.0);
            axis.jump.set(0.0);
        }
    }

    pub(super) fn rig(&self, rig: RigId) -> &RigFaults {
        &self.rigs[rig.index()]
    }

    pub(super) fn axis(&self, axis: AxisId) -> &AxisFaults {
        &self.axes[axis.index()]
    }
}

impl RigFaults {
    pub fn link_lost(&self) -> bool {
        self.link_lost.load(Relaxed)
    }

    pub fn mute(&self) -> bool {
        self.mute.load(Relaxed)
    }

    pub fn lateness(&self) -> Nanos {
        Nanos(self.lateness.load(Relaxed))
    }
}

impl AxisFaults {
    pub fn stuck(&self) -> bool {
        self.stuck.load(Relaxed)
    }

    pub fn reversed(&self) -> bool {
        self.reversed.load(Relaxed)
    }

    pub fn non_finite(&self) -> bool {
        self.non_finite.load(Relaxed)
    }

    pub fn drift(&self) -> f64 {
        self.drift.get()
    }

    pub fn brake_slip(&self) -> f64 {
        self.brake_slip.get()
    }

    /// How far the encoder has yet to jump; it jumps once.
    pub fn take_jump(&self) -> f64 {
        f64::from_bits(self.jump.0.swap(0, Relaxed))
    }
}
