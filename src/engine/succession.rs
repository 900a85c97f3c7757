//! One show followed by another while the daemon runs: an accepted edit, at rest.

use super::event::EventKind;
use super::io::Setpoint;
use super::reason::Reason;
use super::refusal::Refusal;
use super::tick::Engine;
use crate::show::{same_machines, same_wiring};

impl Engine {
    /// Of the show; counts up as edits replace it.
    pub fn edition(&self) -> u32 {
        self.edition
    }

    /// Whether `next`, made from the edited show, may follow this engine now.
    ///
    /// # Errors
    /// Something runs, waits, is stopped or in hand, or stands outside the travel that it would have; or the edit is of the
    /// machines themselves, which only a new start takes in.
    pub fn may_be_followed_by(&self, next: &Engine) -> Result<(), Refusal> {
        let mut refusal = Refusal::default();
        if self.latch.is_latched() {
            refusal.push(Reason::Stopped);
        }
        for member in &self.groups.members {
            refusal.push(Reason::CueRunning { cue: member.cue, state: self.cues[member.cue.index()] });
        }
        for wait in &self.waits {
            refusal.push(Reason::CueWaiting { cue: wait.cue });
        }
        for (rig, grip) in self.grips() {
            refusal.push(Reason::RigInHand { rig, client: grip.client });
        }
        if same_wiring(&self.show, &next.show) {
            next.outside_reasons(&self.setpoints, &mut refusal);
        } else {
            refusal.push(Reason::OtherMachines);
        }
        if refusal.is_empty() { Ok(()) } else { Err(refusal) }
    }

    /// Axes that stand outside the travel that they would have from then on, as after a survey at the very end that was taught:
    /// no setpoint may be there. In the show from before a hand still brings them inside.
    fn outside_reasons(&self, stand: &[Setpoint], refusal: &mut Refusal) {
        for axis in self.show.axis_ids() {
            let ([low, high], position) = (self.show.axis(axis).reach(), stand[axis.index()].position);
            if self.is_outside(axis, position) {
                refusal.push(Reason::OutsideTravel { axis, measured: position, low, high });
            }
        }
    }

    /// Makes this engine, new from [`Engine::new`], go on where `old` stands. Nothing moves and nothing stays on standby;
    /// where limits, travel or bodies are no longer the same, it is disarmed. Call only after
    /// [`Engine::may_be_followed_by`]. Takes no memory.
    pub fn take_over(&mut self, old: &Engine) {
        self.edition = old.edition + 1;
        self.tick = old.tick;
        self.armed = old.armed && same_machines(&old.show, &self.show);
        self.master = old.master;
        self.late = old.late;
        self.latch = old.latch.clone();
        self.last_go = old.last_go;
        self.repeats.follow(&old.repeats);
        self.faults.follow(&old.faults);
        self.disabled.copy_from_slice(&old.disabled);
        self.enabled_at.copy_from_slice(&old.enabled_at);
        self.commands.copy_from_slice(&old.commands);
        self.setpoints.copy_from_slice(&old.setpoints);
        self.world.follow(&self.show, &old.world, &old.show);
        for index in 0..old.show.cues.len() {
            if let Some(cue) = self.show.find_cue(&old.show.cues[index].number) {
                self.done[cue.index()] = old.done[index];
            }
        }
        self.derive_states();
        // Nothing has changed for those who listen: what that said is left out.
        self.outbox.begin(self.tick);
        self.outbox.follow(&old.outbox);
        self.replaced_show = true;
    }

    /// In the first tick of a show that followed another.
    pub(super) fn tell_of_succession(&mut self) {
        if std::mem::take(&mut self.replaced_show) {
            self.outbox.event(EventKind::Replaced { edition: self.edition, armed: self.armed });
        }
    }
}
