//! Conditions all along: a running cue's `needs`, and the interlocks that guard what moves now.

use super::event::EventKind;
use super::fault::Cause;
use super::hold::Holder;
use super::reason::{Reason, Refusal};
use super::tick::Engine;
use crate::show::{CueId, InterlockId, Otherwise, interlocks_guarding};

impl Engine {
    /// What is no longer true holds or stops the running cues, from this tick on.
    pub(super) fn supervise(&mut self) {
        if self.latch.is_latched() || !self.armed {
            return;
        }
        if let Some((interlock, otherwise)) = self.broken_interlock() {
            match otherwise {
                Otherwise::Stop => self.stop(Cause::Interlock(interlock)),
                Otherwise::Hold => {
                    let real = self.real_guarded(interlock);
                    let needs = &self.show.interlocks[interlock.index()].needs;
                    let reasons = needs
                        .culprit(&|id| self.counts_for(real, id))
                        .map(|(atom, truth)| self.unmet(Reason::Interlock { interlock, atom, truth }, atom, real));
                    self.hold_by_machine(reasons.unwrap_or_default());
                }
                Otherwise::Refuse => {}
            }
        }
        let unmet = self.group.members.iter().find_map(|member| self.unmet_needs(member.cue));
        if let Some(reasons) = unmet {
            self.hold_by_machine(reasons);
        }
    }

    /// Why a cue's own `needs` does not permit now.
    pub(super) fn unmet_needs(&self, cue: CueId) -> Option<Refusal> {
        let needs = self.show.listed(cue)?.needs.as_ref()?;
        let real = self.real_moved(cue);
        let (atom, truth) = needs.culprit(&|id| self.counts_for(real, id))?;
        Some(self.unmet(Reason::Needs { cue, atom, truth }, atom, real))
    }

    pub(super) fn hold_by_machine(&mut self, reasons: Refusal) {
        let under_way = !self.group.members.is_empty() || !self.waits.is_empty();
        if under_way && !self.latch.is_latched() && self.holds.add(Holder::Machine) {
            self.outbox.event(EventKind::Held { by: None, reasons });
        }
    }

    /// An interlock that does not permit what it guards and that moves, or would, in this tick; the strictest first.
    fn broken_interlock(&self) -> Option<(InterlockId, Otherwise)> {
        let mut found = None;
        // What stands and is about to be set going counts as moving already.
        let (rate, desired) = (self.group.rate().0, self.desired_rate());
        let way = if rate == 0.0 { desired } else { rate };
        if way == 0.0 {
            return None;
        }
        let ahead = rate.abs().max(desired.abs()) * self.period.seconds() * way.signum();
        for member in &self.group.members {
            for step in &self.plan.cue(member.cue).moves {
                for path in &step.axes {
                    let ends = self.group.ways.of(path.axis);
                    let speed = |time: f64| step.between(path, ends, time).speed * way.signum();
                    let speeds = [speed(member.time), speed(member.time + ahead)];
                    for (id, guard) in interlocks_guarding(&self.show, path.axis) {
                        let guarded = speeds.iter().any(|&speed| guard.minds(speed));
                        if guarded && !self.world.interlocks[id.index()].permits() {
                            match self.show.interlocks[id.index()].otherwise {
                                Otherwise::Stop => return Some((id, Otherwise::Stop)),
                                Otherwise::Hold => found = Some((id, Otherwise::Hold)),
                                Otherwise::Refuse => {}
                            }
                        }
                    }
                }
            }
        }
        found
    }
}
