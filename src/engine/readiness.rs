//! Why a cue may not start now: every reason, or none. The same answer for the standby, the GO and a follow.

use super::fault::Cause;
use super::reason::{Owner, Reason};
use super::refusal::Refusal;
use super::status::RUNNING_MAX;
use super::tick::Engine;
use super::ways::Along;
use crate::proof::{AxisPath, MovePlan, Stage, meet};
use crate::show::{AxisId, CueId, CueState, Guard, InterlockId};

/// How a cue is to start.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Start {
    /// From the top; `skip` acknowledges cues passed over.
    Top { skip: bool },
    /// From the top as a follow of its chain.
    Follow,
    /// Where it was stopped.
    CarryOn,
    /// Back to its start.
    Return,
    /// The way to where a cue starts; `by_hand` while an operator keeps asking.
    Preset { by_hand: bool },
}

impl Engine {
    pub(super) fn reasons_against(&self, cue: CueId, start: Start) -> Refusal {
        let mut refusal = Refusal::default();
        self.general_reasons(&mut refusal);
        self.survey_reasons(cue, &mut refusal);
        match start {
            Start::Top { skip } => {
                self.state_reasons(cue, &mut refusal);
                self.skip_reasons(cue, skip, &mut refusal);
                self.owner_reasons(cue, &mut refusal);
                self.start_pose_reasons(cue, &mut refusal);
                self.other_pose_reasons(cue, &mut refusal);
                self.hand_reasons(cue, &mut refusal);
                self.condition_reasons(cue, 0.0, 1.0, &mut refusal);
                self.unplaced_reasons(cue, &mut refusal);
                self.company_reasons(cue, &mut refusal);
            }
            Start::Follow => {
                self.owner_reasons(cue, &mut refusal);
                self.start_pose_reasons(cue, &mut refusal);
                self.other_pose_reasons(cue, &mut refusal);
                self.hand_reasons(cue, &mut refusal);
                self.condition_reasons(cue, 0.0, 1.0, &mut refusal);
                self.unplaced_reasons(cue, &mut refusal);
                self.company_reasons(cue, &mut refusal);
            }
            Start::CarryOn => self.carry_on_reasons(cue, &mut refusal),
            Start::Return => self.return_reasons(cue, &mut refusal),
            Start::Preset { by_hand } => self.preset_reasons(by_hand, &mut refusal),
        }
        if matches!(start, Start::CarryOn | Start::Return | Start::Preset { .. }) {
            self.moving_hand_reasons(&mut refusal);
        }
        if matches!(start, Start::Top { .. } | Start::CarryOn) {
            self.way_reasons(cue, &mut refusal);
        }
        refusal
    }

    fn general_reasons(&self, refusal: &mut Refusal) {
        if self.latch.is_latched() {
            refusal.push(Reason::Stopped);
        }
        if !self.armed {
            refusal.push(Reason::NotArmed);
        }
        for &fault in self.faults.present.iter().filter(|fault| fault.forbids_motion()) {
            refusal.push(Reason::Cause(Cause::Fault(fault)));
        }
    }

    fn state_reasons(&self, cue: CueId, refusal: &mut Refusal) {
        if self.holds.bare() {
            refusal.push(Reason::Held);
        } else if let Some(cue) = self.slowed_beside(cue) {
            refusal.push(Reason::HeldBeside { cue });
        }
        for busy in [cue, self.show.preset_id(), self.show.take_id()] {
            if self.groups.member(busy).is_some() {
                refusal.push(Reason::CueRunning { cue: busy, state: self.cues[busy.index()] });
            }
        }
        if self.waits.iter().any(|wait| wait.cue == cue) {
            refusal.push(Reason::CueWaiting { cue });
        }
    }

    /// Idle cues between the last one that was run or is about to be, and this one.
    fn skip_reasons(&self, cue: CueId, skip: bool, refusal: &mut Refusal) {
        if skip || self.show.listed(cue).is_none() {
            return;
        }
        let before = &self.cues[..cue.index()];
        let passed_over = before.iter().rev().take_while(|&&state| state == CueState::Idle).count();
        if passed_over > 0 {
            let first = CueId::new(cue.index() - passed_over);
            refusal.push(Reason::Skips { first, count: passed_over as u32 });
        }
    }

    fn owner_reasons(&self, cue: CueId, refusal: &mut Refusal) {
        self.grip_reasons(cue, refusal);
        for axis in self.axes_of(cue) {
            match self.owner(axis) {
                Owner::Nobody => {}
                owner @ Owner::Cue(_) => refusal.push(Reason::AxisOwned { axis, owner }),
                // Said of the whole rig.
                Owner::Client(_) => {}
            }
        }
        for member in self.groups.members.iter().filter(|member| member.cue != cue) {
            let shared = self
                .axes_of(cue)
                .find(|&axis| self.axes_of(member.cue).any(|other| other != axis && meet(&self.show, axis, other)));
            if let Some(axis) = shared {
                refusal.push(Reason::RigShared { rig: self.show.axis(axis).rig, cue: member.cue });
            }
        }
    }

    pub(super) fn start_pose_reasons(&self, cue: CueId, refusal: &mut Refusal) {
        for path in self.plan.cue(cue).moves.iter().flat_map(|step| &step.axes) {
            let axis = self.show.axis(path.axis);
            match self.world.position(path.axis) {
                None => refusal.push(Reason::PoseUnknown { axis: path.axis }),
                Some(measured) if (measured - path.from).abs() > axis.tolerance => {
                    let (expected, tolerance) = (path.from, axis.tolerance);
                    refusal.push(Reason::StartPose { axis: path.axis, expected, measured, tolerance });
                }
                Some(_) if path.begun(axis, self.sets_out_from(path.axis)).is_none() => {
                    refusal.push(self.leaves_travel(path.axis, path.from));
                }
                Some(_) => {}
            }
        }
    }

    /// On the way that it came, within its tolerance, and near enough to what was proved to go on.
    pub(super) fn on_path_reasons(&self, cue: CueId, time: f64, along: Along, refusal: &mut Refusal) {
        for step in &self.plan.cue(cue).moves {
            for path in &step.axes {
                let (axis, tolerance) = (path.axis, self.show.axis(path.axis).tolerance);
                let [came, planned] =
                    [*self.groups.ways.of(axis), path.as_planned()].map(|way| step.bent(path, &way, time).position);
                let stands = self.sets_out_from(axis);
                let off = |expected: f64, measured: f64| Reason::OffPath { axis, expected, measured, tolerance };
                match self.world.position(axis) {
                    None => refusal.push(Reason::PoseUnknown { axis }),
                    Some(measured) if (measured - came).abs() > tolerance => refusal.push(off(came, measured)),
                    Some(_) if stands != came && (stands - planned).abs() > tolerance => {
                        refusal.push(off(planned, stands));
                    }
                    Some(_) => self.bend_reasons((step, path), time, along, refusal),
                }
            }
        }
    }

    /// Whether an axis of a cue under way would leave its travel were it set going from where it stands.
    pub(super) fn bend_reasons(
        &self,
        (step, path): (&MovePlan, &AxisPath),
        time: f64,
        along: Along,
        refusal: &mut Refusal,
    ) {
        let stands = self.sets_out_from(path.axis);
        if self.groups.ways.through(&self.show, (step, path), time, along, stands).is_none() {
            refusal.push(self.leaves_travel(path.axis, step.at(path, time).position));
        }
    }

    fn leaves_travel(&self, axis: AxisId, expected: f64) -> Reason {
        let stands = self.sets_out_from(axis);
        let [low, high] = self.show.axis(axis).reach();
        Reason::LeavesTravel { axis, expected, stands, end: if stands > expected { high } else { low } }
    }

    /// Where an axis is set going from: its setpoint, which is put where it is measured as it is given power.
    pub(super) fn sets_out_from(&self, axis: AxisId) -> f64 {
        let rig = self.show.axis(axis).rig.index();
        let powered = self.commands[rig].enable && !self.disabled[rig];
        let measured = self.world.position(axis).filter(|_| !powered);
        measured.unwrap_or(self.setpoints[axis.index()].position)
    }

    /// A group that a stop left on its path. What runs by now is clear of it all over: else it would have been given up.
    fn carry_on_reasons(&self, cue: CueId, refusal: &mut Refusal) {
        let going = self.groups.together(cue);
        if let Some(cue) = going.iter().find_map(|member| self.slowed_beside(member.cue)) {
            refusal.push(Reason::HeldBeside { cue });
        }
        if self.groups.members.len() + going.len() > RUNNING_MAX {
            refusal.push(Reason::TooMany { limit: RUNNING_MAX as u32 });
        }
        for member in &going {
            self.on_path_reasons(member.cue, member.time, Along::Forward, refusal);
            self.grip_reasons(member.cue, refusal);
            self.condition_reasons(member.cue, member.time, 1.0, refusal);
            self.unplaced_reasons(member.cue, refusal);
        }
        self.standing_reasons(&going, refusal);
    }

    fn return_reasons(&self, cue: CueId, refusal: &mut Refusal) {
        let going = self.groups.together(cue);
        match self.groups.member(cue) {
            Some(member) if !self.groups.group_at_rest(member.group) => refusal.push(Reason::NotAtRest { cue }),
            Some(_) => {}
            None => going.iter().for_each(|member| self.bound_reasons(member.cue, refusal)),
        }
        for member in &going {
            self.on_path_reasons(member.cue, member.time, Along::Back, refusal);
            self.ended_since_reasons(member, refusal);
            self.grip_reasons(member.cue, refusal);
            self.condition_reasons(member.cue, member.time, -1.0, refusal);
            self.unplaced_reasons(member.cue, refusal);
        }
        self.standing_reasons(&going, refusal);
    }

    /// What is under way and would share a rate with a cue that goes back from where it was stopped.
    fn bound_reasons(&self, cue: CueId, refusal: &mut Refusal) {
        for member in self
            .groups
            .members
            .iter()
            .filter(|member| self.bonds.bind((cue, Stage::Runs), (member.cue, Stage::Runs)))
        {
            refusal.push(Reason::NotAtRest { cue: member.cue });
        }
        for wait in self.waits.iter().filter(|wait| self.bonds.bind((cue, Stage::Runs), (wait.cue, wait.stage()))) {
            refusal.push(Reason::CueWaiting { cue: wait.cue });
        }
    }

    /// The cue's own `needs`, and the interlocks along what is left of its path: `way` is 1 forwards, -1 back.
    pub(super) fn condition_reasons(&self, cue: CueId, from: f64, way: f64, refusal: &mut Refusal) {
        if let Some(unmet) = self.unmet_needs(cue) {
            refusal.add(unmet);
        }
        for (index, interlock) in self.show.interlocks.iter().enumerate() {
            let id = InterlockId::new(index);
            let plan = self.plan.cue(cue);
            let guarded =
                |guard: &Guard| plan.moves.iter().any(|step| step.axes.iter().any(|p| p.axis == guard.axis));
            if !interlock.guards.iter().any(guarded) {
                continue;
            }
            if let Some(unmet) = self.interlock_ahead(id, plan, from, way) {
                refusal.add(unmet);
            } else if let Some((rig, client)) = self.hand_that_may_break(id) {
                refusal.push(Reason::HandMoves { rig, client });
            }
        }
    }
}
