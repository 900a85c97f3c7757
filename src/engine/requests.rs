//! What each request does, after the questions that all of them must pass.

use super::event::EventKind;
use super::fault::Cause;
use super::hold::{Holder, UnderWay};
use super::readiness::Start;
use super::reason::Reason;
use super::refusal::Refusal;
use super::request::{Accepted, ClientId, Request, STANDBY_MAX, Verb};
use super::tick::Engine;
use super::ways::Along;
use crate::show::{CueId, CueState, InputId, Nanos, OnLinkLoss};

/// A cue on standby.
#[derive(Clone, Debug, PartialEq)]
pub struct StandbyCue {
    pub cue: CueId,
    pub start: Start,
    /// Judged anew each tick.
    pub reasons: Refusal,
    /// It was said to be ready, or was for longer than a sensor's noise at a threshold: what then goes wrong drops it.
    pub was_ready: bool,
    /// Ticks that it has been ready now without a break.
    pub ready_ticks: u32,
}

impl StandbyCue {
    pub fn new(cue: CueId, start: Start, reasons: Refusal) -> StandbyCue {
        StandbyCue { cue, start, was_ready: reasons.is_empty(), ready_ticks: 0, reasons }
    }
}

type Outcome = Result<Accepted, Refusal>;

impl Engine {
    /// Answers a request exactly once; a repeat of a key gets its first answer.
    pub(super) fn take_request(&mut self, request: &Request) {
        if let Some(key) = request.key
            && let Some(outcome) = self.repeats.first_answer(request.client, key)
        {
            let outcome = outcome.clone();
            self.outbox.answer(request, outcome, None);
            return;
        }
        let outcome = self.may_ask(request).and_then(|()| self.carry_out(request));
        if let Some(key) = request.key {
            self.repeats.remember(request.client, key, &outcome);
        }
        self.outbox.answer(request, outcome, named_cue(&request.verb));
    }

    fn may_ask(&self, request: &Request) -> Result<(), Refusal> {
        let mut refusal = Refusal::default();
        let needs = request.verb.role();
        if request.role < needs {
            refusal.push(Reason::Role { needs, has: request.role });
        }
        let limit = self.show.settings.trigger_age;
        if let Some(age) = request.age {
            if age > limit {
                refusal.push(Reason::TooOld { age, limit });
            } else if age < Nanos(-limit.0) {
                refusal.push(Reason::FromTheFuture { ahead: Nanos(age.0.saturating_neg()), limit });
            }
        }
        if request.verb.names_anything() && request.edition != 0 && request.edition != self.edition {
            refusal.push(Reason::ShowReplaced);
        }
        if refusal.is_empty() { Ok(()) } else { Err(refusal) }
    }

    fn carry_out(&mut self, request: &Request) -> Outcome {
        match &request.verb {
            Verb::Standby { cues, skip } => self.standby(cues, *skip),
            Verb::Go { cue } => self.go(request, *cue),
            Verb::Hold { cue } => self.hold(request, *cue),
            Verb::Resume { cue } => self.resume(request, *cue),
            Verb::Return { cue, held: false } => self.go_back(request, *cue, false),
            Verb::Return { cue, held: true } => {
                self.by_hand(request, *cue, |engine| engine.go_back(request, *cue, true))
            }
            Verb::Preset { cue, held: false } => self.preset(request, *cue, false),
            Verb::Preset { cue, held: true } => {
                let slot = self.show.preset_id();
                self.by_hand(request, slot, |engine| engine.preset(request, *cue, true))
            }
            Verb::Play { playback } => self.play(playback),
            Verb::Place { cue } => self.place(request, *cue),
            Verb::Offer { differences, .. } => {
                self.outbox.event(EventKind::Offered { differences: *differences });
                Ok(Accepted::Done)
            }
            Verb::Reset => self.reset(),
            Verb::Arm => self.arm(),
            Verb::Disarm => self.disarm(),
            Verb::Master { value } => self.set_master(*value),
            Verb::Input { input, value } => self.set_input(*input, *value),
            Verb::ClientLost { leased } => self.client_lost(request, *leased),
            Verb::SimFault { fault, on } => self.inject(request, *fault, *on),
            Verb::Hand { rig, sticks, shape } => self.take_in_hand(request, *rig, *sticks, *shape, false),
            Verb::HandOver { rig, to } => self.offer_hand(request, *rig, *to),
            Verb::Accept { rig, sticks, shape } => self.accept_hand(request, *rig, *sticks, *shape),
            Verb::GiveBack { rig } => self.give_back(request, *rig),
            Verb::Survey { rig, sticks, shape } => self.take_in_hand(request, *rig, *sticks, *shape, true),
            Verb::Trial { axis, trial } => self.take_trial(request, *axis, *trial),
            Verb::Focus { rig, on } => self.follow_focus(request, *rig, *on),
        }
    }

    pub(super) fn standby(&mut self, cues: &[CueId], skip: bool) -> Outcome {
        let mut refusal = Refusal::default();
        for &cue in cues {
            let stopped = self.latch.is_latched() && self.groups.parked_member(cue).is_some();
            if self.groups.member(cue).is_some() || stopped {
                refusal.push(Reason::CueRunning { cue, state: self.cues[cue.index()] });
            }
        }
        if cues.contains(&self.show.take_id()) && !self.take_is_loaded() {
            refusal.push(Reason::NoTake);
        }
        let Some(&first) = cues.first() else { return Err(Refusal::one(Reason::NothingOnStandby)) };
        if !refusal.is_empty() {
            return Err(refusal);
        }
        self.standby.clear();
        if !self.carries_on(first) {
            // The list goes on from here: later cues are to be done again, and what was stopped in one is no longer to be
            // carried on. A follow that ended before the stop stays done while its cue is carried on.
            self.done[first.index()..].fill(false);
            self.groups.abandon(|parked| parked >= first);
        }
        self.unhang_follows(first);
        self.derive_states();
        self.rule_on_hands(first);
        for &cue in cues.iter().take(STANDBY_MAX) {
            let start = if self.carries_on(cue) { Start::CarryOn } else { Start::Top { skip } };
            if let (true, Start::Top { .. }) = (cue == first, start) {
                self.prove_at_once(cue);
            }
            let reasons = self.reasons_against(cue, start);
            let ready = reasons.is_empty();
            self.standby.push(StandbyCue::new(cue, start, reasons));
            self.cues[cue.index()] = CueState::Standby;
            self.outbox.event(EventKind::Cue { cue, state: CueState::Standby });
            self.outbox.event(EventKind::Standby { cue, ready });
        }
        let unready = self.standby.iter().find(|entry| !entry.reasons.is_empty());
        Ok(match unready.or(self.standby.first()) {
            Some(entry) => Accepted::Standby {
                ready: entry.reasons.is_empty(),
                cue: entry.cue,
                reasons: entry.reasons.clone(),
            },
            None => Accepted::Done,
        })
    }

    /// A stopped cue goes on where it stands, unless its rigs were brought back to its start.
    fn carries_on(&self, cue: CueId) -> bool {
        let Some(member) = self.groups.parked_member(cue) else { return false };
        let (mut off_path, mut off_start) = (Refusal::default(), Refusal::default());
        self.on_path_reasons(cue, member.time, Along::Forward, &mut off_path);
        self.start_pose_reasons(cue, &mut off_start);
        off_path.is_empty() || !off_start.is_empty()
    }

    fn go(&mut self, request: &Request, named: Option<CueId>) -> Outcome {
        let mut refusal = Refusal::default();
        if self.latch.is_latched() {
            refusal.push(Reason::Stopped);
        }
        let since = Nanos(self.period.0.saturating_mul((self.tick - self.last_go.unwrap_or(self.tick)) as i64));
        let guard = self.show.settings.guard;
        if self.last_go.is_some() && since < guard {
            refusal.push(Reason::Bounce { since, guard });
        }
        let Some(entry) = self.standby.first() else {
            refusal.push(match named {
                Some(asked) => Reason::NotOnStandby { asked, standby: None },
                None => Reason::NothingOnStandby,
            });
            return Err(refusal);
        };
        let (cue, start) = (entry.cue, entry.start);
        match named {
            Some(asked) if asked != cue => refusal.push(Reason::NotOnStandby { asked, standby: Some(cue) }),
            None if self.show.settings.named_go => refusal.push(Reason::NameTheCue { standby: cue }),
            Some(_) | None => {}
        }
        if !refusal.is_empty() {
            return Err(refusal);
        }
        self.rule_on_hands(cue);
        let mut reasons = self.reasons_against(cue, start);
        if self.groups.members.is_full() {
            reasons.push(Reason::TooMany { limit: self.groups.members.capacity() as u32 });
        }
        if !reasons.is_empty() {
            return Err(reasons);
        }
        if start == Start::Return {
            self.holds.release(request.client, &self.concerned(Some(cue)))?;
        }
        self.standby.remove(0);
        self.last_go = Some(self.tick);
        match start {
            Start::Top { .. } | Start::Follow | Start::Preset { .. } => self.fire(cue, Some(request.client)),
            Start::CarryOn => self.take_up(cue, Along::Forward, Some(request.client)),
            Start::Return => self.start_return(request.client, cue),
        }
        Ok(Accepted::Done)
    }

    fn go_back(&mut self, request: &Request, cue: CueId, held: bool) -> Outcome {
        let same_hand = self.hand.is_some_and(|hand| hand.client == request.client);
        let member = self.groups.member(cue).copied();
        if held && same_hand && member.is_some_and(|member| member.returning) {
            self.take_hand(request.client, cue);
            return Ok(Accepted::Done);
        }
        if member.is_none() && self.groups.parked_member(cue).is_none() {
            return Err(Refusal::one(Reason::NotAtRest { cue }));
        }
        let reasons = self.reasons_against(cue, Start::Return);
        if held {
            if !reasons.is_empty() {
                return Err(reasons);
            }
            self.holds.release(request.client, &self.concerned(Some(cue)))?;
            self.start_return(request.client, cue);
            self.take_hand(request.client, cue);
            return Ok(Accepted::Done);
        }
        let rests = member.is_none_or(|member| self.groups.group_at_rest(member.group));
        if self.latch.is_latched() || !rests {
            return Err(reasons);
        }
        let ready = reasons.is_empty();
        self.standby.clear();
        self.standby.push(StandbyCue::new(cue, Start::Return, reasons.clone()));
        self.outbox.event(EventKind::Standby { cue, ready });
        Ok(Accepted::Standby { ready, cue, reasons })
    }

    /// Nobody holds it any longer. What waits in its group waits no longer.
    fn start_return(&mut self, client: ClientId, cue: CueId) {
        let Some(group) = self.groups.member(cue).map(|member| member.group) else {
            self.take_up(cue, Along::Back, Some(client));
            return;
        };
        self.doubt_berths();
        self.waits.retain(|wait| wait.group != group);
        // Whoever sends it back is whose lost link it has to heed, as after a stop.
        for member in self.groups.members.iter_mut().filter(|member| member.group == group) {
            member.fired_by = Some(client);
        }
        let going: UnderWay = self.groups.together(cue).iter().map(|member| member.cue).collect();
        self.set_going(&going, Along::Back);
        self.regroup();
    }

    fn reset(&mut self) -> Outcome {
        if !self.latch.is_latched() {
            self.world.free_tripped();
            self.faults.acknowledge();
            return Ok(Accepted::Done);
        }
        let token = self.latch.permit(self.world.moving_axis(), |cause| self.is_left_by_hand(cause))?;
        self.latch.clear(token);
        self.let_go_of_sticks();
        self.faults.acknowledge();
        self.world.free_tripped();
        self.power_up();
        self.outbox.event(EventKind::Reset);
        Ok(Accepted::Done)
    }

    fn arm(&mut self) -> Outcome {
        let mut refusal = Refusal::default();
        if self.armed {
            return Err(Refusal::one(Reason::AlreadyArmed));
        }
        if self.latch.is_latched() {
            refusal.push(Reason::Stopped);
        }
        // A cue that a disarm still brings to rest would run on, though its rigs have hardly moved yet.
        if let Some(member) = self.groups.members.first() {
            refusal.push(Reason::NotAtRest { cue: member.cue });
        }
        if self.unrecorded {
            refusal.push(Reason::Unrecorded);
        }
        for &fault in self.faults.present.iter().filter(|fault| fault.forbids_motion()) {
            refusal.push(Reason::Cause(Cause::Fault(fault)));
        }
        for axis in self.axes_in_hand_that_move() {
            refusal.push(Reason::NotStandingStill { axis });
        }
        for axis in self.show.axis_ids() {
            let sense = &self.world.axes[axis.index()];
            let [low, high] = self.show.axis(axis).reach();
            let tolerance = self.show.axis(axis).tolerance;
            if !sense.known {
                refusal.push(Reason::PoseUnknown { axis });
            } else if !sense.at_rest {
                refusal.push(Reason::NotStandingStill { axis });
            } else if sense.position < low - tolerance || sense.position > high + tolerance {
                refusal.push(Reason::OutsideTravel { axis, measured: sense.position, low, high });
            }
        }
        if !refusal.is_empty() {
            return Err(refusal);
        }
        self.armed = true;
        self.let_go_of_sticks();
        self.faults.arm(self.world.rigs.iter().map(|rig| rig.simulated));
        self.power_up();
        self.outbox.event(EventKind::Armed { armed: true });
        let simulated = self.world.rigs.iter().filter(|rig| rig.simulated).count();
        if (1..self.show.rigs.len()).contains(&simulated) {
            let rigs = self.show.rigs.len() as u16;
            self.outbox.event(EventKind::PartSimulated { simulated: simulated as u16, rigs });
        }
        Ok(Accepted::Done)
    }

    /// After a restart: the list goes on from here. Moves nothing.
    fn place(&mut self, request: &Request, cue: CueId) -> Outcome {
        let mut refusal = Refusal::default();
        if self.latch.is_latched() {
            refusal.push(Reason::Stopped);
        }
        if let Some(busy) = self.anything_under_way() {
            refusal.push(busy);
        }
        if !refusal.is_empty() {
            return Err(refusal);
        }
        self.standby.clear();
        self.groups.abandon(|_| true);
        for (index, done) in self.done.iter_mut().enumerate() {
            *done = index < cue.index();
        }
        self.outbox.event(EventKind::Placed { cue, by: request.client });
        Ok(Accepted::Done)
    }

    fn disarm(&mut self) -> Outcome {
        if self.armed {
            self.armed = false;
            self.drop_hand();
            self.drop_grips();
            self.park_waits();
            self.standby.clear();
            self.outbox.event(EventKind::Armed { armed: false });
        }
        Ok(Accepted::Done)
    }

    fn set_master(&mut self, value: f64) -> Outcome {
        if !(0.0..=1.0).contains(&value) {
            return Err(Refusal::one(Reason::MasterRange));
        }
        if self.master != value {
            self.master = value;
            self.outbox.event(EventKind::Master { value });
        }
        Ok(Accepted::Done)
    }

    fn set_input(&mut self, input: InputId, value: bool) -> Outcome {
        let trips = self.show.inputs[input.index()].trips;
        let sense = &mut self.world.inputs[input.index()];
        if sense.value != Some(value) {
            self.outbox.event(EventKind::Input { input, value });
        }
        (sense.value, sense.set_at) = (Some(value), self.tick);
        sense.tripped |= trips && !value;
        Ok(Accepted::Done)
    }

    fn client_lost(&mut self, request: &Request, leased: bool) -> Outcome {
        self.holds.client_gone(request.client);
        self.lose_hand(request.client);
        self.lose_grips(request.client);
        if !leased {
            return Ok(Accepted::Done);
        }
        self.outbox.event(EventKind::ClientLost { client: request.client });
        let holds = |fired_by: Option<ClientId>, cue: CueId| {
            let of_cue = self.show.listed(cue).map_or(OnLinkLoss::Hold, |cue| cue.on_link_loss);
            fired_by == Some(request.client) && of_cue == OnLinkLoss::Hold
        };
        let running = self.groups.members.iter().map(|member| (member.fired_by, member.cue));
        let waiting = self.waits.iter().map(|wait| (wait.fired_by, wait.cue));
        let lost: UnderWay =
            running.chain(waiting).filter(|&(by, cue)| holds(by, cue)).map(|(_, cue)| cue).collect();
        for cue in lost {
            self.hold_for(Holder::Machine, Some(cue), Refusal::one(Reason::LinkLost { client: request.client }));
        }
        Ok(Accepted::Done)
    }
}

fn named_cue(verb: &Verb) -> Option<CueId> {
    match verb {
        Verb::Standby { cues, .. } => cues.first().copied(),
        Verb::Go { cue } | Verb::Hold { cue } | Verb::Resume { cue } => *cue,
        Verb::Return { cue, .. } | Verb::Preset { cue, .. } | Verb::Place { cue } => Some(*cue),
        Verb::Offer { .. }
        | Verb::Play { .. }
        | Verb::Reset
        | Verb::Arm
        | Verb::Disarm
        | Verb::Master { .. }
        | Verb::Input { .. }
        | Verb::ClientLost { .. }
        | Verb::SimFault { .. }
        | Verb::Hand { .. }
        | Verb::HandOver { .. }
        | Verb::Accept { .. }
        | Verb::GiveBack { .. }
        | Verb::Survey { .. }
        | Verb::Trial { .. }
        | Verb::Focus { .. } => None,
    }
}
