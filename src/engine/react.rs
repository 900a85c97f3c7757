//! Faults found, the worst reaction taken; the stop carried out and its standstill watched.

use arrayvec::ArrayVec;

use super::event::EventKind;
use super::fault::{Cause, Fault, Reaction};
use super::io::TickInput;
use super::reason::Reason;
use super::tick::Engine;
use crate::show::{AxisId, Nanos, RigId, StopCategory};

/// Faults present at once at most; more change nothing, since the worst reaction is taken already.
pub const FAULTS_MAX: usize = 32;
/// After the setpoints have come to rest, the rigs have this long to do so, s; and what was measured before they
/// did does not count.
const SETTLE_MOST: f64 = 1.5;
const SETTLE_LEAST: f64 = 0.1;
/// A rig that was told to enable has this long to do so.
const ENABLE_TIME: Nanos = Nanos(1_000_000_000);
/// A loop that is later than this is answered with a hold, and later than the shortest link time-out with a stop.
const LATE_HOLD_PART: i64 = 2;

#[derive(Clone, Debug, Default)]
pub struct Faults {
    pub present: ArrayVec<Fault, FAULTS_MAX>,
}

/// How far a stop has come.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Standstill {
    /// Setpoints still slow down.
    Braking,
    /// Setpoints rest; the rigs have until this tick.
    Settling { since: u64 },
    /// Measured at rest, and said so.
    Reached,
    /// Not in time, and said so.
    Overdue,
}

impl Engine {
    /// Phase 4: every fault of this tick.
    pub(super) fn find_faults(&mut self, input: &TickInput<'_>) {
        let before = std::mem::take(&mut self.faults.present);
        for rig in self.show.rig_ids() {
            self.find_rig_faults(rig);
        }
        let link_timeout =
            self.show.rigs.iter().map(|rig| rig.link_timeout).min().unwrap_or(Nanos::from_millis(200));
        if input.late > link_timeout {
            self.add_fault(Fault::OverrunStop);
        } else if input.late.0 > link_timeout.0 / LATE_HOLD_PART {
            self.add_fault(Fault::OverrunHold);
        }
        for index in 0..self.faults.present.len() {
            let fault = self.faults.present[index];
            if !before.contains(&fault) {
                self.outbox.event(EventKind::Fault { fault });
            }
        }
        self.late = input.late;
    }

    /// A journal that is not kept harms nobody who is moving already: it is told, and forbids to arm.
    pub(super) fn heed_journal(&mut self, unrecorded: bool) {
        if self.unrecorded != unrecorded {
            self.unrecorded = unrecorded;
            self.outbox.event(EventKind::Journal { kept: !unrecorded });
        }
    }

    fn find_rig_faults(&mut self, rig: RigId) {
        let sense = self.world.rigs[rig.index()];
        if sense.age > self.show.rig(rig).link_timeout {
            // Before the first report there is nothing to lose yet, but arming asks for a pose.
            if sense.age != Nanos::NEVER || self.armed {
                self.add_fault(Fault::LinkLost(rig));
            }
            return;
        }
        if sense.fault {
            self.add_fault(Fault::Drive(rig));
        }
        let powered = self.commands[rig.index()].enable;
        let told = Nanos(self.period.0.saturating_mul((self.tick - self.enabled_at[rig.index()]) as i64));
        if powered && !sense.enabled && told > ENABLE_TIME {
            self.add_fault(Fault::Drive(rig));
        }
        for axis in self.show.rig(rig).axis_ids() {
            let measured = self.world.axes[axis.index()];
            let lag = measured.position - self.setpoints[axis.index()].position;
            if !measured.position.is_finite() || !measured.speed.is_finite() {
                self.add_fault(Fault::NonFinite(axis));
            } else if powered && lag.abs() > self.show.axis(axis).lag_limit {
                self.add_fault(Fault::Following(axis));
            }
        }
    }

    fn add_fault(&mut self, fault: Fault) {
        if !self.faults.present.contains(&fault) {
            let _ = self.faults.present.try_push(fault);
        }
    }

    /// Phase 5: the worst reaction of this tick, once for each fault that asks for it.
    pub(super) fn react(&mut self) {
        if !self.armed && self.group.members.is_empty() {
            return;
        }
        for index in 0..self.faults.present.len() {
            let fault = self.faults.present[index];
            match fault.reaction() {
                Reaction::Warn => {}
                Reaction::Hold => self.hold_by_machine(Some(Reason::Late { late: self.late })),
                Reaction::Stop => self.stop(Cause::Fault(fault)),
                Reaction::Disable => {
                    self.stop(Cause::Fault(fault));
                    self.disable_for(fault);
                }
            }
        }
    }

    fn disable_for(&mut self, fault: Fault) {
        match fault {
            Fault::LinkLost(rig) | Fault::Drive(rig) => self.disabled[rig.index()] = true,
            Fault::NonFinite(axis) | Fault::Following(axis) => {
                self.disabled[self.show.axis(axis).rig.index()] = true;
            }
            Fault::OverrunHold | Fault::OverrunStop => {}
            Fault::Engine => self.disabled.fill(true),
        }
    }

    /// Latches the stop; whatever stood on standby or waited is gone.
    pub(super) fn stop(&mut self, cause: Cause) {
        let first = !self.latch.is_latched();
        if self.latch.latch(cause) {
            self.outbox.event(EventKind::Stop { cause });
        }
        if first {
            self.standby.clear();
            self.waits.clear();
            self.hand = None;
            self.standstill = Standstill::Braking;
            let bound = self.group.stop_bound(&self.show, &self.plan);
            // The brake begins with this tick, and its last part may fill a tick to the end.
            self.rest_by = Some(self.tick + (bound / self.period.seconds()).ceil() as u64 + 1);
        }
    }

    /// Marks causes as standing or past, and says standstill when it is measured, or overdue.
    pub(super) fn watch_standstill(&mut self) {
        let at_rest = self.group.members.is_empty() && self.world.moving_axis().is_none();
        let said = self.standstill == Standstill::Reached;
        if let Some(stopped) = self.latch.stopped()
            && !stopped.causes.is_empty()
        {
            let (faults, interlocks) = (&self.faults.present, &self.world.interlocks);
            let stands = |cause: Cause| match cause {
                Cause::Request(_) => false,
                Cause::Fault(fault) => faults.contains(&fault),
                Cause::Interlock(id) => !interlocks[id.index()].permits(),
            };
            self.latch.observe(stands, at_rest && said);
        }
        if !self.latch.is_latched() {
            return;
        }
        let settling = |since: u64| (self.tick - since) as f64 * self.period.seconds();
        self.standstill = match self.standstill {
            Standstill::Braking if self.group.members.is_empty() => Standstill::Settling { since: self.tick },
            Standstill::Settling { since } if at_rest && settling(since) >= SETTLE_LEAST => self.say_standstill(),
            Standstill::Overdue if at_rest => self.say_standstill(),
            Standstill::Settling { since } if settling(since) >= SETTLE_MOST => {
                let axis = self.world.moving_axis();
                self.outbox.event(EventKind::Standstill { at_rest: false, axis });
                self.disable_moving();
                Standstill::Overdue
            }
            state @ (Standstill::Braking
            | Standstill::Settling { .. }
            | Standstill::Reached
            | Standstill::Overdue) => state,
        };
    }

    fn say_standstill(&mut self) -> Standstill {
        self.outbox.event(EventKind::Standstill { at_rest: true, axis: None });
        self.cut_power_after_stop();
        Standstill::Reached
    }

    /// IEC 60204-1 stop category 1: power goes once the rig stands.
    fn cut_power_after_stop(&mut self) {
        for (index, rig) in self.show.rigs.iter().enumerate() {
            match rig.stop_category {
                StopCategory::One => self.disabled[index] = true,
                StopCategory::Two => {}
            }
        }
    }

    /// The next rung: a rig that does not come to rest is disabled and its heartbeat withheld.
    fn disable_moving(&mut self) {
        for rig in self.show.rig_ids() {
            if !self.world.rig_at_rest(&self.show, rig) {
                self.disabled[rig.index()] = true;
            }
        }
    }

    /// Lets rigs without a fault be enabled again, each where it is measured.
    pub(super) fn power_up(&mut self) {
        for rig in self.show.rig_ids() {
            let faulty = self.faults.present.iter().any(|&fault| self.rig_of(fault) == Some(rig));
            let known = self.show.rig(rig).axis_ids().all(|axis| self.world.axes[axis.index()].known);
            let was_on = self.commands[rig.index()].enable && !self.disabled[rig.index()];
            if faulty || !known || was_on {
                continue;
            }
            self.disabled[rig.index()] = false;
            self.enabled_at[rig.index()] = self.tick;
            for axis in self.show.rig(rig).axis_ids() {
                self.stand_where_measured(axis);
            }
        }
    }

    fn stand_where_measured(&mut self, axis: AxisId) {
        let [low, high] = self.show.axis(axis).travel;
        let position = self.world.axes[axis.index()].position.clamp(low, high);
        self.setpoints[axis.index()] = super::io::Setpoint { position, ..Default::default() };
        self.replaced[axis.index()] = true;
    }

    fn rig_of(&self, fault: Fault) -> Option<RigId> {
        match fault {
            Fault::LinkLost(rig) | Fault::Drive(rig) => Some(rig),
            Fault::NonFinite(axis) | Fault::Following(axis) => Some(self.show.axis(axis).rig),
            Fault::OverrunHold | Fault::OverrunStop | Fault::Engine => None,
        }
    }
}
