//! The worst reaction taken; the stop carried out and its standstill watched.

use super::event::EventKind;
use super::fault::{Cause, Fault};
use super::fault_table::Reaction;
use super::hold::Holder;
use super::reason::Reason;
use super::refusal::Refusal;
use super::tick::Engine;
use crate::show::{AxisId, StopCategory};

/// After the setpoints have come to rest, the rigs have this long to do so, s; and what was measured before they
/// did does not count.
const SETTLE_MOST: f64 = 1.5;
const SETTLE_LEAST: f64 = 0.1;
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
    /// A journal that is not kept harms nobody who is moving already: it is told, and forbids to arm.
    pub(super) fn heed_journal(&mut self, unrecorded: bool) {
        if self.unrecorded != unrecorded {
            self.unrecorded = unrecorded;
            self.outbox.event(EventKind::Journal { kept: !unrecorded });
        }
    }

    /// Phase 5: the worst reaction of this tick, once for each fault that asks for it.
    pub(super) fn react(&mut self) {
        if !self.armed && self.is_at_rest() {
            return;
        }
        for index in 0..self.faults.present.len() {
            let fault = self.faults.present[index];
            match fault.reaction() {
                Reaction::Warn => {}
                Reaction::Hold => {
                    self.hold_for(Holder::Machine, None, Refusal::one(Reason::Late { late: self.late }));
                }
                Reaction::Stop => self.stop(Cause::Fault(fault)),
                Reaction::StopThenDisable => {
                    self.stop(Cause::Fault(fault));
                    if let Some(rig) = fault.rig(&self.show) {
                        self.faults.condemn(rig);
                    }
                }
                Reaction::Disable => {
                    self.stop(Cause::Fault(fault));
                    self.disable_for(fault);
                }
            }
        }
        // Nothing brakes any longer: every setpoint rests.
        if self.is_at_rest() {
            for rig in self.show.rig_ids().filter(|&rig| self.faults.condemned(rig)) {
                self.disabled[rig.index()] = true;
            }
        }
    }

    fn disable_for(&mut self, fault: Fault) {
        match fault.rig(&self.show) {
            Some(rig) => self.disabled[rig.index()] = true,
            None => self.disabled.fill(true),
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
            self.park_waits();
            self.drop_hand();
            self.let_go_of_sticks();
            self.standstill = Standstill::Braking;
            self.groups.brake_all(&self.show, &self.plan, self.tick);
            let bound = self.groups.stop_bound(&self.plan).max(self.stop_bound_of_hands());
            // The brake begins with this tick, and its last part may fill a tick to the end.
            self.rest_by = Some(self.tick + (bound / self.period.seconds()).ceil() as u64 + 1);
        }
    }

    /// Marks causes as standing or past, and says standstill when it is measured, or overdue.
    pub(super) fn watch_standstill(&mut self) {
        let at_rest = self.is_at_rest() && self.world.moving_axis().is_none();
        let said = self.standstill == Standstill::Reached;
        if let Some(stopped) = self.latch.stopped()
            && !stopped.causes.is_empty()
        {
            let (faults, world, show, tick) = (&self.faults.present, &self.world, &self.show, self.tick);
            let stands = |cause: Cause| match cause {
                Cause::Request(_) => false,
                // One that a reset acknowledges does not stand in its way.
                Cause::Fault(fault) => faults.contains(&fault) && fault.blocks_reset(),
                Cause::Interlock(id) => !world.permits_after_reset(show, id, tick),
            };
            self.latch.observe(stands, at_rest && said);
        }
        if !self.latch.is_latched() {
            return;
        }
        let settling = |since: u64| (self.tick - since) as f64 * self.period.seconds();
        self.standstill = match self.standstill {
            Standstill::Braking if self.is_at_rest() => Standstill::Settling { since: self.tick },
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
            let faulty =
                self.faults.present.iter().any(|&fault| fault.blocks_reset() && fault.rig(&self.show) == Some(rig));
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
        let [low, high] = self.show.axis(axis).reach();
        let position = self.world.axes[axis.index()].position.clamp(low, high);
        self.setpoints[axis.index()] = super::io::Setpoint { position, ..Default::default() };
        self.replaced[axis.index()] = true;
        self.faults.take_hold(axis);
    }
}
