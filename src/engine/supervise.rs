//! Conditions all along: a running cue's `needs`, and the interlocks that guard what moves now.

use super::fault::Cause;
use super::groups::Member;
use super::hold::Holder;
use super::reason::Reason;
use super::refusal::Refusal;
use super::tick::Engine;
use crate::show::{CueId, InterlockId, Otherwise, interlocks_guarding};

impl Engine {
    /// What is no longer true stops everything, or holds the groups that it concerns, from this tick on.
    pub(super) fn supervise(&mut self) {
        if self.latch.is_latched() || !self.armed {
            return;
        }
        self.supervise_hands();
        if self.latch.is_latched() {
            return;
        }
        let stops = |member: &Member| self.broken_interlock(member, Otherwise::Stop);
        if let Some(interlock) = self.groups.members.iter().find_map(stops) {
            self.stop(Cause::Interlock(interlock));
            return;
        }
        for index in 0..self.groups.members.len() {
            let member = self.groups.members[index];
            if let Some(interlock) = self.broken_interlock(&member, Otherwise::Hold) {
                let real = self.real_guarded(interlock);
                let needs = &self.show.interlocks[interlock.index()].needs;
                let reasons = needs
                    .culprit(&|id| self.counts_for(real, id))
                    .map(|(atom, truth)| self.unmet(Reason::Interlock { interlock, atom, truth }, atom, real));
                self.hold_for(Holder::Machine, Some(member.cue), reasons.unwrap_or_default());
            }
            if let Some(reasons) = self.unmet_needs(member.cue) {
                self.hold_for(Holder::Machine, Some(member.cue), reasons);
            }
        }
    }

    /// Why a cue's own `needs` does not permit now.
    pub(super) fn unmet_needs(&self, cue: CueId) -> Option<Refusal> {
        let needs = self.show.listed(cue)?.needs.as_ref()?;
        let real = self.real_moved(cue);
        let (atom, truth) = needs.culprit(&|id| self.counts_for(real, id))?;
        Some(self.unmet(Reason::Needs { cue, atom, truth }, atom, real))
    }

    /// An interlock of this severity that does not permit what it guards and that moves in a cue, or would, in this tick.
    fn broken_interlock(&self, member: &Member, otherwise: Otherwise) -> Option<InterlockId> {
        // What stands and is about to be set going counts as moving already.
        let desired = self.desired_rate(member);
        let rate = if member.joined { self.groups.clock(member).rate().0 } else { desired };
        let way = if rate == 0.0 { desired } else { rate };
        if way == 0.0 {
            return None;
        }
        let ahead = rate.abs().max(desired.abs()) * self.period.seconds() * way.signum();
        for step in &self.plan.cue(member.cue).moves {
            for path in &step.axes {
                let bent = self.groups.ways.of(path.axis);
                let speed = |time: f64| step.bent(path, bent, time).speed * way.signum();
                let speeds = [speed(member.time), speed(member.time + ahead)];
                for (id, guard) in interlocks_guarding(&self.show, path.axis) {
                    let guarded = speeds.iter().any(|&speed| guard.minds(speed));
                    let breaks = guarded && !self.world.interlocks[id.index()].permits();
                    if breaks && self.show.interlocks[id.index()].otherwise == otherwise {
                        return Some(id);
                    }
                }
            }
        }
        None
    }
}
