//! Hold and resume: whatever holds one cue holds its group, and a bare hold everything.

use super::event::EventKind;
use super::hold::{HOLDS_MAX, Holder, UnderWay};
use super::reason::Reason;
use super::refusal::Refusal;
use super::request::{Accepted, Request};
use super::tick::Engine;
use super::ways::Along;
use crate::show::CueId;

impl Engine {
    pub(super) fn hold(&mut self, request: &Request, cue: Option<CueId>) -> Result<Accepted, Refusal> {
        if self.latch.is_latched() {
            return Err(Refusal::one(Reason::Stopped));
        }
        if self.concerned(cue).is_empty() {
            return Err(Refusal::one(cue.map_or(Reason::NothingRunning, |cue| Reason::NotRunning { cue })));
        }
        if !self.holds.has_room_for(request.client) {
            return Err(Refusal::one(Reason::TooMany { limit: HOLDS_MAX as u32 }));
        }
        self.hold_for(Holder::Client(request.client), cue, Refusal::default());
        Ok(Accepted::Done)
    }

    /// Holds the group of a cue, or everything that runs or waits, and says so if that is new.
    pub(super) fn hold_for(&mut self, holder: Holder, cue: Option<CueId>, reasons: Refusal) {
        let cues = self.concerned(cue);
        let by = match holder {
            Holder::Client(client) => Some(client),
            Holder::Machine | Holder::Gone => None,
        };
        if !cues.is_empty() && !self.latch.is_latched() && self.holds.add(holder, &cues, cue.is_none()) {
            self.outbox.event(EventKind::Held { cue, by, reasons });
        }
    }

    pub(super) fn resume(&mut self, request: &Request, cue: Option<CueId>) -> Result<Accepted, Refusal> {
        if self.latch.is_latched() {
            return Err(Refusal::one(Reason::Stopped));
        }
        let cues = self.concerned(cue);
        if cues.is_empty() {
            return Err(Refusal::one(cue.map_or(Reason::NothingRunning, |cue| Reason::NotRunning { cue })));
        }
        if !cues.iter().any(|&cue| self.is_held(cue)) {
            return Err(Refusal::one(Reason::NotHolding));
        }
        if let (Some(_), Some(rig)) = (self.groups.member(self.show.preset_id()), self.real_rig_of_preset()) {
            return Err(Refusal::one(Reason::HoldToRun { rig }));
        }
        self.resume_members(request, cue)
    }

    /// If what they need is proved again, and everyone who held has released.
    pub(super) fn resume_members(&mut self, request: &Request, cue: Option<CueId>) -> Result<Accepted, Refusal> {
        let held: UnderWay = self.concerned(cue).into_iter().filter(|&cue| self.is_held(cue)).collect();
        let mut reasons = Refusal::default();
        for member in self.groups.members.iter().filter(|member| held.contains(&member.cue)) {
            if member.returning {
                // It still slows down on its way back, and no hand is there to take it on.
                reasons.push(Reason::NotAtRest { cue: member.cue });
            }
            self.condition_reasons(member.cue, member.time, 1.0, &mut reasons);
            if self.groups.group_at_rest(member.group) {
                let steps = self.plan.cue(member.cue).moves.iter();
                for on_way in steps.flat_map(|step| step.axes.iter().map(move |path| (step, path))) {
                    self.bend_reasons(on_way, member.time, Along::Forward, &mut reasons);
                }
            }
        }
        if !reasons.is_empty() {
            return Err(reasons);
        }
        self.holds.release(request.client, &held)?;
        let stands = |cue: &CueId| self.group_of(*cue).is_some_and(|group| self.groups.group_at_rest(group));
        let standing: UnderWay = held.into_iter().filter(stands).collect();
        self.set_going(&standing, Along::Forward);
        Ok(Accepted::Done)
    }
}
