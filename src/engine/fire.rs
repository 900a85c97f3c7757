//! The life of a cue: fired, joined, done, returned, stopped; and the follows that hang on it.

use super::clocks::ClockId;
use super::event::EventKind;
use super::groups::Member;
use super::hold::UnderWay;
use super::readiness::Start;
use super::reason::Reason;
use super::refusal::Refusal;
use super::request::ClientId;
use super::tick::Engine;
use super::ways::Along;
use crate::proof::{Bent, Stage};
use crate::show::{After, AxisId, CueId};

/// A follow that waits.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Wait {
    pub cue: CueId,
    pub trigger: Trigger,
    /// Who fired the chain.
    pub fired_by: Option<ClientId>,
    /// That of the cue that it follows, and of those which it will be linked with.
    pub group: CueId,
}

impl Wait {
    pub fn stage(&self) -> Stage {
        match self.trigger {
            Trigger::Clock { .. } | Trigger::End { .. } => Stage::Comes,
            Trigger::Condition => Stage::Waits,
        }
    }
}

/// What a follow waits for.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Trigger {
    /// So many s of the clock of `of`, which does not count until that has joined; once it has ended, of the clock of its
    /// group, and where nothing of that runs, of the show's.
    Clock {
        left: f64,
        of: Option<CueId>,
    },
    /// The end of a cue, and then so many s.
    End {
        of: CueId,
        wait: f64,
    },
    Condition,
}

impl Engine {
    /// Starts a cue from the top. Everything was checked.
    pub(super) fn fire(&mut self, cue: CueId, fired_by: Option<ClientId>) {
        self.doubt_berths();
        let (shares, maps) = (&self.shares_axes, &self.plan.maps);
        self.groups.abandon(|parked| shares[parked.index()].contains(&cue) || !maps.clear_all_over(cue, parked));
        self.regroup_parked();
        for step in &self.plan.cues[cue.index()].moves {
            for path in &step.axes {
                let stands = self.setpoints[path.axis.index()].position;
                // A move that is over at once moves nothing: its axes stay where they stand, within tolerance. From where an axis would
                // leave its travel nothing is fired.
                let begun = path.begun(self.show.axis(path.axis), stands).filter(|_| step.duration() > 0.0);
                self.groups.ways.begin(path.axis, begun.unwrap_or(Bent::straight([stands; 2])));
            }
        }
        let pace = self.groups.pace_of(&self.show, &self.plan, cue, 0.0, Along::Forward);
        self.done[cue.index()] = false;
        self.groups.members.push(Member {
            cue,
            time: 0.0,
            joined: false,
            fired_by,
            fired_at: self.tick,
            pace,
            group: cue,
            clock: ClockId::REST,
            returning: false,
        });
        self.outbox.event(EventKind::Go { cue, by: fired_by });
        self.hang_follows(cue, fired_by);
        self.regroup();
    }

    /// Takes a stopped cue up again with its group, from where they stand, forwards or back.
    pub(super) fn take_up(&mut self, cue: CueId, along: Along, fired_by: Option<ClientId>) {
        self.doubt_berths();
        let mut cues = UnderWay::new();
        for member in self.groups.together(cue) {
            self.groups.members.push(Member { joined: true, fired_by, ..member });
            self.outbox.event(EventKind::Go { cue: member.cue, by: fired_by });
            cues.push(member.cue);
        }
        self.groups.abandon(|parked| cues.contains(&parked));
        self.set_going(&cues, along);
        for wait in self.parked_waits.clone() {
            if along == Along::Forward && self.leading(wait.cue).is_some_and(|leader| cues.contains(&leader)) {
                self.hang_again(wait, fired_by);
            }
        }
        self.regroup_parked();
        self.regroup();
    }

    /// Takes down what waits, and keeps in mind what hangs on a cue that is under way: with that it is carried on.
    pub(super) fn park_waits(&mut self) {
        for wait in std::mem::take(&mut self.waits) {
            let carried = self.leading(wait.cue).is_some_and(|leader| self.groups.member(leader).is_some());
            let known = self.parked_waits.iter().any(|other| other.cue == wait.cue);
            if carried && !known {
                // Full it cannot be but of waits whose cues were abandoned: then the oldest is one.
                if self.parked_waits.is_full() {
                    self.parked_waits.remove(0);
                }
                self.parked_waits.push(wait);
            }
        }
    }

    /// Hangs a follow again on its cue, if that is carried on; a wait from its start goes on where the cue is.
    fn hang_again(&mut self, wait: Wait, fired_by: Option<ClientId>) {
        let leader = self.leading(wait.cue).and_then(|leader| self.groups.member(leader).copied());
        let Some(leader) = leader else { return };
        let trigger = match (wait.trigger, &self.show.cues[wait.cue.index()].after) {
            (Trigger::Clock { of: Some(_), .. }, Some(After::Start { wait, .. })) => {
                Trigger::Clock { left: wait - leader.time, of: Some(leader.cue) }
            }
            (trigger @ (Trigger::Clock { .. } | Trigger::End { .. } | Trigger::Condition), _) => trigger,
        };
        self.hang(Wait { trigger, fired_by, ..wait });
    }

    /// The cue that a follow hangs on; of a condition, the one before it in the list.
    pub(super) fn leading(&self, follow: CueId) -> Option<CueId> {
        match self.show.cue(follow).after.as_ref()? {
            After::Start { cue, .. } | After::End { cue, .. } => Some(*cue),
            After::When(_) => follow.index().checked_sub(1).map(CueId::new),
        }
    }

    /// Cues from rest, forwards or back: every way through where its axis stands.
    pub(super) fn set_going(&mut self, cues: &[CueId], along: Along) {
        let setpoints = &self.setpoints;
        for index in 0..self.groups.members.len() {
            let Member { cue, time, .. } = self.groups.members[index];
            if cues.contains(&cue) {
                let stands = |axis: AxisId| setpoints[axis.index()].position;
                self.groups.ways.bend(&self.show, &self.plan, (cue, time), along, stands);
                let pace = self.groups.pace_of(&self.show, &self.plan, cue, time, along);
                let member = &mut self.groups.members[index];
                (member.returning, member.pace) = (along == Along::Back, pace);
            }
        }
    }

    fn hang_follows(&mut self, leading: CueId, fired_by: Option<ClientId>) {
        for cue in self.show.cue_ids() {
            let trigger = match &self.show.cues[cue.index()].after {
                Some(After::Start { cue: of, wait }) if *of == leading => {
                    Trigger::Clock { left: *wait, of: Some(leading) }
                }
                Some(After::End { cue: of, wait }) if *of == leading => Trigger::End { of: leading, wait: *wait },
                // A follow of a condition waits from the start of the cue before it in the list.
                Some(After::When(_)) if cue.index() == leading.index() + 1 => Trigger::Condition,
                Some(After::Start { .. } | After::End { .. } | After::When(_)) | None => continue,
            };
            self.hang(Wait { cue, trigger, fired_by, group: cue });
        }
    }

    fn hang(&mut self, wait: Wait) {
        let known = self.waits.iter().any(|other| other.cue == wait.cue) || self.groups.member(wait.cue).is_some();
        if !known && self.waits.try_push(wait).is_err() {
            let reason = Reason::TooMany { limit: self.waits.capacity() as u32 };
            self.break_chain(wait.cue, Refusal::one(reason));
        }
    }

    /// Takes away the follows of cues from `first` on that have ended: the list was taken back before them.
    pub(super) fn unhang_follows(&mut self, first: CueId) {
        let mut index = 0;
        while index < self.waits.len() {
            let leading = self.leading(self.waits[index].cue);
            let stays = leading.is_some_and(|leading| leading < first || self.groups.member(leading).is_some());
            if stays {
                index += 1;
            } else {
                self.waits.remove(index);
            }
        }
    }

    fn break_chain(&mut self, cue: CueId, reasons: Refusal) {
        self.outbox.event(EventKind::Refused { request: None, client: None, cue: Some(cue), reasons });
    }

    /// How far the clock of a wait goes in this tick, s.
    fn way_of(&self, wait: &Wait, of: Option<CueId>) -> f64 {
        if let Some(leader) = of.and_then(|of| self.groups.member(of)) {
            return if leader.joined { self.groups.clock(leader).went.max(0.0) } else { 0.0 };
        }
        let by_the_show = if self.is_held(wait.cue) { 0.0 } else { self.show_rate() * self.period.seconds() };
        self.groups.went(wait.group).unwrap_or(by_the_show)
    }

    /// Lets the clocks of the waits run on, and fires those that are due.
    pub(super) fn run_waits(&mut self) {
        let mut index = 0;
        while index < self.waits.len() {
            let wait = self.waits[index];
            let Wait { cue, trigger, fired_by, .. } = wait;
            let due = match trigger {
                Trigger::Clock { left, of } => {
                    let left = left - self.way_of(&wait, of);
                    self.waits[index].trigger = Trigger::Clock { left, of };
                    // Half a nanosecond: a wait that is over but for rounding is over.
                    left <= 0.5e-9
                }
                Trigger::End { .. } => false,
                Trigger::Condition => match &self.show.cues[cue.index()].after {
                    Some(After::When(condition)) => {
                        let real = self.real_moved(cue);
                        condition.judge(&|atom| self.counts_for(real, atom)).permits()
                    }
                    Some(After::Start { .. } | After::End { .. }) | None => false,
                },
            };
            if !due || self.is_held(cue) || self.slowed_beside(cue).is_some() {
                index += 1;
                continue;
            }
            self.waits.remove(index);
            self.rule_on_hands(cue);
            self.prove_at_once(cue);
            let mut reasons = self.reasons_against(cue, Start::Follow);
            if self.groups.members.is_full() {
                reasons.push(Reason::TooMany { limit: self.groups.members.capacity() as u32 });
            }
            if reasons.is_empty() {
                self.fire(cue, fired_by);
            } else {
                self.break_chain(cue, reasons);
                self.regroup();
            }
        }
    }

    /// Takes out members that have come to their end, or back to their start.
    pub(super) fn finish_members(&mut self) {
        let mut index = 0;
        while index < self.groups.members.len() {
            let member = self.groups.members[index];
            let ended = member.joined && member.time >= self.plan.cue(member.cue).duration && !member.returning;
            if ended {
                self.groups.members.remove(index);
                self.done[member.cue.index()] = true;
                self.done_at[member.cue.index()] = self.tick;
                self.end_of(member.cue);
            } else {
                index += 1;
            }
        }
        let members = &mut self.groups.members;
        for index in (0..members.len()).rev() {
            let Some(&Member { group, returning: true, .. }) = members.get(index) else { continue };
            if members.iter().filter(|member| member.group == group).all(|member| member.time <= 0.0) {
                let back = members.iter().filter(|member| member.group == group);
                back.for_each(|member| self.back_at[member.cue.index()] = self.tick);
                members.retain(|member| member.group != group);
            }
        }
        self.regroup();
    }

    fn end_of(&mut self, cue: CueId) {
        for wait in &mut self.waits {
            if let Trigger::End { of, wait: seconds } = wait.trigger
                && of == cue
            {
                wait.trigger = Trigger::Clock { left: seconds, of: None };
            }
        }
    }

    /// After a stop has come to rest: the cues stay on their path, nothing waits any longer.
    pub(super) fn park(&mut self) {
        let mut members = std::mem::take(&mut self.groups.members);
        for member in members.drain(..) {
            if self.groups.parked.is_full() {
                self.groups.parked.remove(0);
            }
            let (clock, joined, returning) = (ClockId::REST, true, false);
            self.groups.parked.push(Member { clock, joined, returning, ..member });
        }
        self.regroup_parked();
        self.holds.clear();
    }

    pub(super) fn axes_of(&self, cue: CueId) -> impl Iterator<Item = AxisId> + Clone + '_ {
        self.plan.cue(cue).moves.iter().flat_map(|step| step.axes.iter().map(|path| path.axis))
    }
}
