//! Switches that make simulated rigs fail.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicI64, AtomicU64, Ordering::Relaxed};

use crate::engine::{EventKind, SimFault};
use crate::show::{AxisId, Nanos, RigId, Show};

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
    drive: AtomicBool,
    ignores_stop: AtomicBool,
}

#[derive(Debug, Default)]
pub(super) struct AxisFaults {
    stuck: AtomicBool,
    reversed: AtomicBool,
    crossed: AtomicBool,
    non_finite: AtomicBool,
    drift: AtomicF64,
    brake_slip: AtomicF64,
    jump: AtomicF64,
    wrong_end: AtomicF64,
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
        self.set(fault, true);
    }

    /// Ends one fault, of whatever size. What a drift, a slip or a jump has displaced stays displaced, until it is
    /// homed; an axis that was reversed or crossed runs as it should from where it stands.
    ///
    /// # Panics
    /// On a rig or an axis that the show does not have.
    pub fn end(&self, fault: SimFault) {
        self.set(fault, false);
    }

    /// Does what an operator asked for, if the event is that.
    pub fn heed(&self, event: &EventKind) {
        if let EventKind::SimFault { fault, on, .. } = *event {
            self.set(fault, on);
        }
    }

    /// Ends all faults, as [`SimFaults::end`] does each.
    pub fn heal(&self) {
        for fault in self.present() {
            self.end(fault);
        }
    }

    fn set(&self, fault: SimFault, on: bool) {
        let sized = |size: f64| if on { size } else { 0.0 };
        match fault {
            SimFault::LinkLost(rig) => self.rig(rig).link_lost.store(on, Relaxed),
            SimFault::Mute(rig) => self.rig(rig).mute.store(on, Relaxed),
            SimFault::LateReports(rig, by) => {
                self.rig(rig).lateness.store(if on { by.0.max(0) } else { 0 }, Relaxed);
            }
            SimFault::Drive(rig) => self.rig(rig).drive.store(on, Relaxed),
            SimFault::IgnoresStop(rig) => self.rig(rig).ignores_stop.store(on, Relaxed),
            SimFault::Stuck(axis) => self.axis(axis).stuck.store(on, Relaxed),
            SimFault::Crossed(axis) => self.axis(axis).crossed.store(on, Relaxed),
            SimFault::Reversed(axis) => self.axis(axis).reversed.store(on, Relaxed),
            SimFault::Drift(axis, rate) => self.axis(axis).drift.set(sized(rate)),
            SimFault::BrakeSlip(axis, rate) => self.axis(axis).brake_slip.set(sized(rate)),
            SimFault::Jump(axis, by) => self.axis(axis).jump.set(sized(by)),
            SimFault::NonFinite(axis) => self.axis(axis).non_finite.store(on, Relaxed),
            SimFault::WrongEnd(axis, by) => self.axis(axis).wrong_end.set(sized(by)),
        }
    }

    /// What is injected now, in the order of rigs, then of axes. A jump only until its axis has made it.
    pub fn present(&self) -> impl Iterator<Item = SimFault> + '_ {
        let rigs = self.rigs.iter().enumerate().flat_map(|(index, faults)| faults.present(RigId::new(index)));
        let axes = self.axes.iter().enumerate().flat_map(|(index, faults)| faults.present(AxisId::new(index)));
        rigs.chain(axes)
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

    pub fn drive(&self) -> bool {
        self.drive.load(Relaxed)
    }

    pub fn ignores_stop(&self) -> bool {
        self.ignores_stop.load(Relaxed)
    }

    fn present(&self, rig: RigId) -> impl Iterator<Item = SimFault> + use<> {
        let late = self.lateness();
        [
            self.link_lost().then_some(SimFault::LinkLost(rig)),
            self.mute().then_some(SimFault::Mute(rig)),
            (late > Nanos::ZERO).then_some(SimFault::LateReports(rig, late)),
            self.drive().then_some(SimFault::Drive(rig)),
            self.ignores_stop().then_some(SimFault::IgnoresStop(rig)),
        ]
        .into_iter()
        .flatten()
    }
}

impl AxisFaults {
    pub fn stuck(&self) -> bool {
        self.stuck.load(Relaxed)
    }

    pub fn reversed(&self) -> bool {
        self.reversed.load(Relaxed)
    }

    /// Its motor's cable is crossed with that of the next axis of its rig.
    pub fn crossed(&self) -> bool {
        self.crossed.load(Relaxed)
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

    /// How far inside the surveyed travel its hard ends lie; 0 if the survey is right.
    pub fn wrong_end(&self) -> f64 {
        self.wrong_end.get()
    }

    fn present(&self, axis: AxisId) -> impl Iterator<Item = SimFault> + use<> {
        let sized = |size: f64, fault: fn(AxisId, f64) -> SimFault| (size != 0.0).then(|| fault(axis, size));
        [
            self.stuck().then_some(SimFault::Stuck(axis)),
            self.reversed().then_some(SimFault::Reversed(axis)),
            sized(self.drift(), SimFault::Drift),
            sized(self.brake_slip(), SimFault::BrakeSlip),
            sized(self.jump.get(), SimFault::Jump),
            self.non_finite().then_some(SimFault::NonFinite(axis)),
            sized(self.wrong_end(), SimFault::WrongEnd),
            self.crossed().then_some(SimFault::Crossed(axis)),
        ]
        .into_iter()
        .flatten()
    }

    /// How far the encoder has yet to jump; it jumps once.
    pub fn take_jump(&self) -> f64 {
        f64::from_bits(self.jump.0.swap(0, Relaxed))
    }
}
