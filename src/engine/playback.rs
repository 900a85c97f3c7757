//! A take that is played back at once.
//!
//! Its path comes with the request, planned and proved ([`crate::proof::Playback`]), and is laid into a slot of its own past the
//! end of the list, whose memory was taken at the start. From there on it is a cue that is on standby: its rigs must stand in
//! the first pose, or a preset takes them there; every other rig where it was proved, or where a live proof finds the take
//! clear of it; interlocks hold along the way; a GO fires it, and hold, stop and return act on it as on any other.
//! Nothing runs beside it, since no map knows it together with a cue.

use super::reason::Reason;
use super::refusal::Refusal;
use super::request::Accepted;
use super::tick::Engine;
use crate::motion::Profile;
use crate::proof::{CuePlan, Playback};

impl Engine {
    /// Lays it into the slot and puts it on standby.
    pub(super) fn play(&mut self, playback: &Playback) -> Result<Accepted, Refusal> {
        let slot = self.show.take_id();
        if let Some(busy) = self.anything_under_way() {
            return Err(Refusal::one(busy));
        }
        if !playback.fits(&self.show) || playback.plan().moves.len() > self.plan.cue(slot).moves.len() {
            return Err(Refusal::one(Reason::ShowReplaced));
        }
        // What was stopped of another take lies on a path that goes now.
        self.groups.abandon(|parked| parked == slot);
        self.regroup_parked();
        lay(playback.plan(), &mut self.plan.cues[slot.index()]);
        self.rulings.forget(slot);
        self.standby(&[slot], false)
    }

    /// Whether the slot holds a take.
    pub(super) fn take_is_loaded(&self) -> bool {
        self.plan.cue(self.show.take_id()).duration > 0.0
    }
}

/// Writes one plan over another that has as many moves or more, and as many axes in each. Takes no memory; what it gives back of
/// the other is kept by whoever made that.
fn lay(plan: &CuePlan, over: &mut CuePlan) {
    (over.duration, over.stop_time) = (plan.duration, plan.stop_time);
    over.start.copy_from_slice(&plan.start);
    over.end.copy_from_slice(&plan.end);
    for step in &mut over.moves {
        step.axes.clear();
        step.profile = Profile::NOTHING;
    }
    for (step, from) in over.moves.iter_mut().zip(&plan.moves) {
        (step.rig, step.profile) = (from.rig, from.profile);
        step.axes.extend(from.axes.iter().cloned());
    }
}
