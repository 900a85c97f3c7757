//! The state of the engine written out for eyes.

use super::event::EventKind;
use super::fault::Fault;
use super::fire::Trigger;
use super::readiness::Start;
use super::reason::Owner;
use super::status::{AxisState, AxisStatus, FAULTS_SHOWN, InputStatus, RigStatus, Running, Standby, Waiting};
use super::tick::Engine;
use crate::show::{AxisId, CueId, CueState, InputId, RigId};

impl Engine {
    pub(super) fn owner(&self, axis: AxisId) -> Owner {
        let owns = |cue: CueId| self.axes_of(cue).any(|owned| owned == axis);
        let member = self.groups.members.iter().find(|member| owns(member.cue));
        let grip = || self.grip(self.show.axis(axis).rig);
        member.map_or_else(
            || grip().map_or(Owner::Nobody, |grip| Owner::Client(grip.client)),
            |member| Owner::Cue(member.cue),
        )
    }

    /// Whether no machine moves.
    pub(super) fn is_simulated(&self, rig: RigId) -> bool {
        self.world.rigs[rig.index()].simulated
    }

    fn state_of(&self, cue: CueId) -> CueState {
        if self.groups.member(cue).is_some() {
            return if self.latch.is_latched() || !self.armed {
                CueState::Stopped
            } else if self.is_held(cue) {
                CueState::Holding
            } else if self.groups.member(cue).is_some_and(|member| member.returning) {
                CueState::Returning
            } else {
                CueState::Running
            };
        }
        if self.standby.iter().any(|entry| entry.cue == cue) {
            CueState::Standby
        } else if self.waits.iter().any(|wait| wait.cue == cue) {
            CueState::Waiting
        } else if self.groups.parked_member(cue).is_some() {
            CueState::Stopped
        } else if self.done[cue.index()] {
            CueState::Done
        } else {
            CueState::Idle
        }
    }

    /// The state of every cue, and an event for each that has changed.
    pub(super) fn derive_states(&mut self) {
        for index in 0..self.cues.len() {
            let cue = CueId::new(index);
            let state = self.state_of(cue);
            if state != self.cues[index] {
                self.cues[index] = state;
                self.outbox.event(EventKind::Cue { cue, state });
            }
        }
    }

    pub(super) fn fill_status(&mut self) {
        self.stop_bound = self.groups.stop_bound(&self.plan).max(self.stop_bound_of_hands());
        let rate = self.groups.fastest().unwrap_or(self.show_rate());
        let status = &mut self.status;
        status.edition = self.edition;
        status.tick = self.tick;
        status.armed = self.armed;
        status.master = self.master;
        status.rate = rate;
        status.stop_bound = self.stop_bound;
        status.held = self.holds.any();
        status.stopped = self.latch.stopped().cloned();
        status.faults.clear();
        status.faults.extend(self.faults.present.iter().copied().take(FAULTS_SHOWN));
        status.cues.copy_from_slice(&self.cues[..self.show.cues.len()]);
        status.interlocks.copy_from_slice(&self.world.interlocks);
        self.fill_ways_out();
        self.fill_lists();
        self.fill_rigs();
        for index in 0..self.world.inputs.len() {
            let id = InputId::new(index);
            let sense = self.world.inputs[index];
            self.status.inputs[index] = InputStatus {
                value: sense.value,
                age: self.world.input_age(id, self.tick, self.period),
                truth: self.world.input_truth(&self.show.inputs, id, self.tick, self.period),
                tripped: sense.tripped,
            };
        }
    }

    fn fill_lists(&mut self) {
        self.status.standby.clear();
        for index in 0..self.standby.len() {
            let clear = self.clear_spans(self.standby[index].cue);
            let entry = &self.standby[index];
            let parked = self.groups.parked_member(entry.cue);
            let under_way = self.groups.member(entry.cue).or(parked);
            self.status.standby.push(Standby {
                cue: entry.cue,
                ready: entry.reasons.is_empty(),
                returning: entry.start == Start::Return,
                from: under_way.map_or(0.0, |member| member.time),
                reasons: entry.reasons.clone(),
                clear,
                aside: entry.reasons.is_empty().then(|| self.aside(entry.cue)).flatten(),
            });
        }
        let status = &mut self.status;
        status.running.clear();
        let members = self.groups.members.iter();
        let parked = self.groups.parked.iter().filter(|member| self.cues[member.cue.index()] == CueState::Stopped);
        for member in members.chain(parked).take(super::status::RUNNING_MAX) {
            let duration = self.plan.cue(member.cue).duration;
            let time = member.time.clamp(0.0, duration);
            let moves = member.joined && self.groups.member(member.cue).is_some();
            let rate = if moves { self.groups.clock(member).rate().0 } else { 0.0 };
            let (way, pace) = if member.returning {
                (time, self.show.settings.return_rate * self.master)
            } else {
                (duration - time, self.master * self.groups.pace(member.group))
            };
            status.running.push(Running {
                cue: member.cue,
                state: self.cues[member.cue.index()],
                time,
                duration,
                rate,
                left: way / pace.max(1e-6),
            });
        }
        self.status.way = self.way();
        let status = &mut self.status;
        status.waiting.clear();
        for wait in &self.waits {
            let left = match wait.trigger {
                Trigger::Clock { left, .. } => Some(left.max(0.0)),
                Trigger::End { of, wait } => {
                    let leader = self.groups.member(of);
                    leader.map(|leader| (self.plan.cue(of).duration - leader.time).max(0.0) + wait)
                }
                Trigger::Condition => None,
            };
            status.waiting.push(Waiting { cue: wait.cue, left });
        }
    }

    fn fill_rigs(&mut self) {
        for index in 0..self.status.axes.len() {
            let sense = self.world.axes[index];
            let setpoint = self.setpoints[index];
            let finite = |value: f64| (sense.known && value.is_finite()).then_some(value);
            self.status.axes[index] = AxisStatus {
                state: self.axis_state(AxisId::new(index)),
                position: finite(sense.position),
                speed: finite(sense.speed),
                setpoint: setpoint.position,
                waits: self.is_in_hand(AxisId::new(index)) && self.in_hand.levers[index].waits,
            };
        }
        for rig in self.show.rig_ids() {
            let axes = || self.show.rig(rig).axis_ids();
            let worst = axes().map(|axis| self.status.axes[axis.index()].state).max_by_key(|&state| urgency(state));
            let owner = axes().map(|axis| self.owner(axis)).find(|&owner| owner != Owner::Nobody);
            self.status.rigs[rig.index()] = RigStatus {
                state: worst.unwrap_or(AxisState::Disabled),
                owner: owner.unwrap_or(Owner::Nobody),
                simulated: self.is_simulated(rig),
                age: self.world.rigs[rig.index()].age,
                hand: self.hand_status(rig),
            };
        }
    }

    fn axis_state(&self, axis: AxisId) -> AxisState {
        let rig = self.show.axis(axis).rig;
        let faulty =
            self.faults.present.iter().filter(|fault| fault.forbids_motion()).any(|fault| match fault.axis() {
                Some(at) => at == axis,
                None => fault.rig(&self.show) == Some(rig) || *fault == Fault::Engine,
            });
        let moving = self.setpoints[axis.index()].speed != 0.0;
        if faulty {
            AxisState::Fault
        } else if moving && (self.latch.is_latched() || !self.armed) {
            AxisState::Stopping
        } else if !self.commands[rig.index()].enable {
            AxisState::Disabled
        } else if moving || !self.world.axes[axis.index()].at_rest {
            AxisState::Moving
        } else {
            AxisState::Standstill
        }
    }
}

/// The state that a rig shows of its axes: what most wants an eye.
fn urgency(state: AxisState) -> u8 {
    match state {
        AxisState::Standstill => 0,
        AxisState::Disabled => 1,
        AxisState::Moving => 2,
        AxisState::Stopping => 3,
        AxisState::Fault => 4,
    }
}
