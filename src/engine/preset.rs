//! The preset: the way from where the rigs are measured to where a cue starts.
//!
//! One rig at a time and a pause between them, in the order in which the list last moved them, each in a straight line through its joint space
//! at the speed of a return. It runs like a cue, in a slot of its own past the end of the list, planned into memory that
//! was taken at the start. What the rigs pass on this way is not proved: only simulated rigs go on a GO, real ones while
//! an operator keeps asking.

use arrayvec::ArrayVec;

use super::event::EventKind;
use super::readiness::Start;
use super::reason::{Reason, Refusal};
use super::request::{Accepted, Request};
use super::requests::StandbyCue;
use super::status::{LEGS_MAX, Leg, Way};
use super::tick::Engine;
use crate::motion::Profile;
use crate::proof::{AxisPath, CuePlan, MovePlan, ceiling};
use crate::show::{AxisId, CueId, CueState, RigId, Show};

/// Between two legs, so that a rig that trails its setpoint stands before the next one moves, s of the preset's own time.
const PAUSE: f64 = 0.5;
/// A way shorter than this, in an axis's own unit, is none.
const NO_WAY: f64 = 1e-6;

/// Room for the way of every rig, planned anew for each preset.
pub fn empty_slot(show: &Show) -> CuePlan {
    let starts: Vec<f64> = show.axes.iter().map(|axis| axis.start).collect();
    let widest = show.rigs.iter().map(|rig| rig.axes.len()).max().unwrap_or(0);
    let leg = |rig| MovePlan { rig, delay: 0.0, profile: Profile::NOTHING, axes: Vec::with_capacity(widest) };
    CuePlan {
        duration: 0.0,
        stop_time: 0.0,
        bottleneck: None,
        start: starts.clone(),
        end: starts,
        moves: show.rig_ids().map(leg).collect(),
    }
}

impl Engine {
    pub(super) fn preset(&mut self, request: &Request, to: CueId, held: bool) -> Result<Accepted, Refusal> {
        let slot = self.show.preset_id();
        if held && self.group.member(slot).is_some() && self.preset_to == Some(to) {
            return self.keep_presetting(request);
        }
        if let Some(busy) = self.anything_under_way() {
            return Err(Refusal::one(busy));
        }
        self.plan_preset(to)?;
        let start = Start::Preset { by_hand: held };
        let reasons = self.reasons_against(slot, start);
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
        self.holds.release(request.client)?;
        self.fire(slot, Some(request.client));
        self.take_hand(request.client);
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
        if self.holds.any() {
            self.resume_members(request)?;
        }
        self.take_hand(request.client);
        Ok(Accepted::Done)
    }

    /// A cue that runs, or waits.
    pub(super) fn anything_under_way(&self) -> Option<Reason> {
        let running = self.group.members.first();
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
        self.start_pose_reasons(slot, refusal);
        self.condition_reasons(slot, 0.0, 1.0, refusal);
    }

    /// A rig on the way that is not simulated.
    pub(super) fn real_rig_of_preset(&self) -> Option<RigId> {
        let legs = self.plan.cue(self.show.preset_id()).moves.iter().filter(|leg| !leg.axes.is_empty());
        legs.map(|leg| leg.rig).find(|&rig| !self.is_simulated(rig))
    }

    /// Plans the way into the slot.
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
        let mut rigs: ArrayVec<RigId, LEGS_MAX> = ArrayVec::new();
        for rig in self.show.rig_ids().filter(|&rig| self.stands_wrong(rig, to)) {
            if rigs.try_push(rig).is_err() {
                return Err(Refusal::one(Reason::TooMany { limit: LEGS_MAX as u32 }));
            }
        }
        if rigs.is_empty() {
            return Err(Refusal::one(Reason::AlreadyThere { cue: to }));
        }
        rigs.sort_unstable_by_key(|&rig| (self.last_moved(rig, to), rig));
        self.preset_to = Some(to);
        self.fill_slot(&rigs, to);
        Ok(())
    }

    /// Where the list has every axis of a rig before a cue.
    fn wanted(&self, rig: RigId, to: CueId) -> impl Iterator<Item = (AxisId, f64)> + '_ {
        self.show.rig(rig).axis_ids().map(move |axis| (axis, self.plan.cue(to).start[axis.index()]))
    }

    fn stands_wrong(&self, rig: RigId, to: CueId) -> bool {
        self.wanted(rig, to).any(|(axis, wanted)| {
            let stands = self.world.position(axis).unwrap_or(f64::NAN);
            (stands - wanted).abs() > self.show.axis(axis).tolerance
        })
    }

    /// The cue before `to` that last moved the rig.
    fn last_moved(&self, rig: RigId, to: CueId) -> Option<usize> {
        let moves = |cue: &CuePlan| cue.moves.iter().any(|step| step.rig == rig);
        self.plan.cues[..to.index()].iter().rposition(moves)
    }

    fn fill_slot(&mut self, rigs: &[RigId], to: CueId) {
        let slot = self.show.preset_id();
        let mut plan = std::mem::replace(&mut self.plan.cues[slot.index()], CuePlan::EMPTY);
        let mut time = 0.0;
        for (index, leg) in plan.moves.iter_mut().enumerate() {
            leg.axes.clear();
            (leg.delay, leg.profile) = (0.0, Profile::NOTHING);
            let Some(&rig) = rigs.get(index) else { continue };
            leg.delay = time;
            leg.rig = rig;
            for (axis, wanted) in self.wanted(rig, to) {
                let from = self.setpoints[axis.index()].position;
                if (wanted - from).abs() > NO_WAY {
                    leg.axes.push(AxisPath { axis, from, to: wanted });
                }
            }
            if let Some(ceiling) = ceiling(&self.show, &leg.axes, |axis| axis.run) {
                leg.profile = Profile::fastest(ceiling).stretched(1.0 / self.show.settings.return_rate);
            }
            time = leg.end() + PAUSE;
        }
        // Legs beyond those that move keep any rig: without axes it is none's.
        plan.duration = plan.moves.iter().map(MovePlan::end).fold(0.0, f64::max);
        for (index, setpoint) in self.setpoints.iter().enumerate() {
            (plan.start[index], plan.end[index]) = (setpoint.position, setpoint.position);
        }
        for path in plan.moves.iter().flat_map(|leg| &leg.axes) {
            plan.end[path.axis.index()] = path.to;
        }
        self.plan.cues[slot.index()] = plan;
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
            let _ = way.legs.try_push(Leg { rig: leg.rig, from: leg.delay, until: leg.end() });
        }
        Some(way)
    }

    fn state(&self, cue: CueId) -> CueState {
        self.cues[cue.index()]
    }
}
