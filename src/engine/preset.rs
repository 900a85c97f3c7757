//! The preset: the way from where the rigs are measured to where a cue starts.
//!
//! One rig at a time and a pause between them, each in a straight line through its joint space at the speed of a return;
//! [`crate::proof::PresetPlanner`] finds the order and proves every leg, a portion each tick. It works as soon as the cue
//! that is first on standby finds its rigs elsewhere, so that what is offered is proved already, and anew when a rig has
//! moved. Where a rig must go through one of its marks, the preset ends there, and the next goes on.
//!
//! A preset runs like a cue, in a slot of its own past the end of the list, planned into memory that was taken at the start.
//! The proof sees machines, not the people who step in while a show stands: so only simulated rigs go on a GO, real ones
//! while an operator keeps asking.

use arrayvec::ArrayVec;

use super::event::EventKind;
use super::readiness::Start;
use super::reason::Reason;
use super::refusal::Refusal;
use super::request::{Accepted, Request};
use super::requests::StandbyCue;
use super::status::{Leg, Way};
use super::tick::Engine;
use crate::proof::{PRESET_RIGS_MAX, Progress, who_has_to_go};
use crate::show::{AxisId, CueId, CueState, RigId};

/// Looks that the planning may take in a tick, and at once when a preset is asked for.
const PORTION: usize = 32;
const AT_ONCE: usize = 256;

impl Engine {
    pub(super) fn preset(&mut self, request: &Request, to: CueId, held: bool) -> Result<Accepted, Refusal> {
        let slot = self.show.preset_id();
        if held && self.groups.member(slot).is_some() && self.preset_to == Some(to) {
            return self.keep_presetting(request);
        }
        if let Some(busy) = self.anything_under_way() {
            return Err(Refusal::one(busy));
        }
        self.plan_preset(to)?;
        let start = Start::Preset { by_hand: held };
        let reasons = self.reasons_against(slot, start);
        if self.route.progress() == Progress::Barred {
            return Err(reasons);
        }
        self.standby.clear();
        if !held {
            let ready = reasons.is_empty();
            self.standby.push(StandbyCue::new(slot, start, reasons.clone()));
            self.outbox.event(EventKind::Standby { cue: slot, ready });
            return Ok(Accepted::Standby { ready, cue: slot, reasons });
        }
        if !reasons.is_empty() {
            return Err(reasons);
        }
        self.fire(slot, Some(request.client));
        self.take_hand(request.client, slot);
        Ok(Accepted::Done)
    }

    /// Asked again by the hand that drives it; or by one that had let go, and takes it up.
    fn keep_presetting(&mut self, request: &Request) -> Result<Accepted, Refusal> {
        let another = self.hand.is_some_and(|hand| hand.client != request.client);
        if self.latch.is_latched() {
            return Err(Refusal::one(Reason::Stopped));
        }
        if let (true, Some(hand)) = (another, self.hand) {
            return Err(Refusal::one(Reason::HeldBy { client: hand.client }));
        }
        if self.is_held(self.show.preset_id()) {
            self.resume_members(request, Some(self.show.preset_id()))?;
        }
        self.take_hand(request.client, self.show.preset_id());
        Ok(Accepted::Done)
    }

    /// A cue that runs, or waits.
    pub(super) fn anything_under_way(&self) -> Option<Reason> {
        let running = self.groups.members.first();
        let running = running.map(|member| Reason::CueRunning { cue: member.cue, state: self.state(member.cue) });
        running.or_else(|| self.waits.first().map(|wait| Reason::CueWaiting { cue: wait.cue }))
    }

    pub(super) fn preset_reasons(&self, by_hand: bool, refusal: &mut Refusal) {
        let slot = self.show.preset_id();
        if let Some(busy) = self.anything_under_way() {
            refusal.push(busy);
        }
        if let (Some(rig), false) = (self.real_rig_of_preset(), by_hand) {
            refusal.push(Reason::HoldToRun { rig });
        }
        self.grip_reasons(slot, refusal);
        self.progress_reasons(refusal);
        self.start_pose_reasons(slot, refusal);
        self.drift_reasons(refusal);
        self.condition_reasons(slot, 0.0, 1.0, refusal);
    }

    /// That the way is not worked out yet, or what forbids it.
    fn progress_reasons(&self, refusal: &mut Refusal) {
        let Some(cue) = self.route_to else { return };
        match self.route.progress() {
            Progress::Found => {}
            Progress::Working => refusal.push_first(Reason::WayInWork { cue }),
            Progress::Barred if self.route.gave_up() => refusal.push_first(Reason::NoWayFound { cue }),
            Progress::Barred => self.route.bars().for_each(|bar| refusal.push_first(Reason::NoWay { cue, bar })),
        }
    }

    /// Of a cue whose rigs stand elsewhere: how it is with the preset to it.
    pub(super) fn way_reasons(&self, cue: CueId, refusal: &mut Refusal) {
        if self.route_to == Some(cue) && refusal.reasons.iter().any(Reason::offers_preset) {
            self.progress_reasons(refusal);
        }
    }

    /// Rigs that stand elsewhere than the way was proved from.
    fn drift_reasons(&self, refusal: &mut Refusal) {
        for axis in self.show.axis_ids().filter(|&axis| self.show.axis(axis).joint.is_some()) {
            let (expected, tolerance) = (self.route.from()[axis.index()], self.show.axis(axis).tolerance);
            match self.world.position(axis) {
                None => refusal.push(Reason::PoseUnknown { axis }),
                Some(measured) if (measured - expected).abs() > tolerance && !self.is_on_way(axis) => {
                    refusal.push(Reason::OtherPose { axis, expected, measured, tolerance });
                }
                Some(_) => {}
            }
        }
    }

    /// Whether the preset in the slot moves it.
    fn is_on_way(&self, axis: AxisId) -> bool {
        self.axes_of(self.show.preset_id()).any(|owned| owned == axis)
    }

    /// A rig on the way that is not simulated.
    pub(super) fn real_rig_of_preset(&self) -> Option<RigId> {
        let legs = self.plan.cue(self.show.preset_id()).moves.iter().filter(|leg| !leg.axes.is_empty());
        legs.map(|leg| leg.rig).find(|&rig| !self.is_simulated(rig))
    }

    /// Has the way worked out, as far as that goes at once.
    ///
    /// # Errors
    /// A pose that is not known, or nothing to be done.
    fn plan_preset(&mut self, to: CueId) -> Result<(), Refusal> {
        let mut unknown = Refusal::default();
        for axis in self.show.axis_ids().filter(|&axis| self.world.position(axis).is_none()) {
            unknown.push(Reason::PoseUnknown { axis });
        }
        if !unknown.is_empty() {
            return Err(unknown);
        }
        self.measure();
        if self.who_goes(to).is_empty() {
            return Err(Refusal::one(Reason::AlreadyThere { cue: to }));
        }
        if self.show.rigs.len() > PRESET_RIGS_MAX {
            return Err(Refusal::one(Reason::TooMany { limit: PRESET_RIGS_MAX as u32 }));
        }
        if !self.way_holds(to) {
            self.begin_way(to);
        }
        self.route.advance(&self.show, AT_ONCE);
        self.preset_to = Some(to);
        self.fill_slot();
        Ok(())
    }

    /// Each tick: a portion of the way that the first standby will want.
    pub(super) fn work_on_preset(&mut self) {
        let Some(entry) = self.standby.first() else { return };
        let in_slot = entry.cue == self.show.preset_id();
        let wanted = if in_slot {
            self.preset_to
        } else {
            entry.reasons.reasons.iter().any(Reason::offers_preset).then_some(entry.cue)
        };
        let known = self.show.axis_ids().all(|axis| self.world.position(axis).is_some());
        let Some(to) = wanted.filter(|_| known && self.anything_under_way().is_none()) else { return };
        let was = self.route.progress();
        if !self.way_holds(to) {
            // What an operator was shown stays as it is: its reasons tell that it no longer holds.
            if in_slot && was == Progress::Found {
                return;
            }
            self.begin_way(to);
        }
        if self.route.advance(&self.show, PORTION) != Progress::Working && in_slot && was == Progress::Working {
            self.fill_slot();
        }
    }

    /// Whether the way that is planned, or in work, leads there from where the rigs stand now.
    fn way_holds(&self, to: CueId) -> bool {
        let holds = |axis: AxisId| {
            let measured = self.world.position(axis).unwrap_or(f64::NAN);
            (measured - self.route.from()[axis.index()]).abs() <= self.show.axis(axis).tolerance
        };
        self.route_to == Some(to)
            && self.show.axis_ids().all(holds)
            && self.who_goes(to).iter().all(|&rig| self.route.takes(rig))
    }

    /// The rigs that do not stand where a cue starts, or may not begin it from where they stand.
    fn who_goes(&self, to: CueId) -> ArrayVec<RigId, PRESET_RIGS_MAX> {
        let measured = |axis: AxisId| self.world.position(axis).unwrap_or(f64::NAN);
        who_has_to_go(&self.show, &self.plan, to, |axis| [measured(axis), self.sets_out_from(axis)])
    }

    fn measure(&mut self) {
        for axis in self.show.axis_ids() {
            self.stands[axis.index()] = self.world.position(axis).unwrap_or(f64::NAN);
        }
    }

    /// What goes is taken from its setpoint, from where it will go; measured elsewhere, from there. What stands right is
    /// taken to stand where the list has it, as in the proof of the cue.
    fn begin_way(&mut self, to: CueId) {
        self.measure();
        let rigs = self.who_goes(to);
        for axis in self.show.axis_ids() {
            let (index, tolerance) = (axis.index(), self.show.axis(axis).tolerance);
            let setpoint = self.setpoints[index].position;
            if !rigs.contains(&self.show.axis(axis).rig) {
                self.stands[index] = self.plan.cue(to).start[index];
            } else if (self.stands[index] - setpoint).abs() <= tolerance {
                self.stands[index] = setpoint;
            }
        }
        self.route.begin(&self.stands, &self.plan.cue(to).start, &rigs);
        self.route_to = Some(to);
    }

    /// Writes the way over the slot: nothing while there is none.
    fn fill_slot(&mut self) {
        let slot = self.show.preset_id();
        self.route.write(&self.show, true, &mut self.plan.cues[slot.index()]);
        self.preset_mark = self.route.legs().find_map(|leg| leg.via);
    }

    /// The way that is planned, for eyes, as long as it is on standby or under way.
    pub(super) fn way(&self) -> Option<Way> {
        let slot = self.show.preset_id();
        let to = self.preset_to?;
        match self.state(slot) {
            CueState::Idle | CueState::Done => return None,
            CueState::Standby
            | CueState::Waiting
            | CueState::Running
            | CueState::Holding
            | CueState::Returning
            | CueState::Stopped => {}
        }
        let by_hand = self.real_rig_of_preset().is_some();
        let mut way = Way { to, by_hand, legs: ArrayVec::new() };
        for leg in self.plan.cue(slot).moves.iter().filter(|leg| !leg.axes.is_empty()) {
            let _ = way.legs.try_push(Leg { rig: leg.rig, from: leg.delay, until: leg.end(), to_mark: None });
        }
        if let Some(last) = way.legs.last_mut() {
            last.to_mark = self.preset_mark;
        }
        Some(way)
    }

    fn state(&self, cue: CueId) -> CueState {
        self.cues[cue.index()]
    }
}
