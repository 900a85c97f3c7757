//! A show of which a part is simulated: the pose of a rig that is not there says nothing about the room.
//!
//! For what moves a real rig, a condition on the pose of a simulated one is unknown, and only true permits. For what
//! moves simulated rigs alone every pose counts, so that a show can be rehearsed while some of its rigs stand ready.
//! The state of a cue is what the list has done and no sensor, so it counts for all.
//!
//! Nor is it known where the machine of a simulated rig stands: perhaps in the way of a real one. So no cue moves a real
//! rig's bodies unless each rig with bodies is real, or is said to be absent from the room, in its file.

use super::reason::Reason;
use super::refusal::Refusal;
use super::tick::Engine;
use super::world::World;
use crate::show::{Atom, AtomId, AxisId, CueId, Interlock, InterlockId, RigId, Show, Truth};

impl World {
    /// The simulated rig on whose pose this leaf of a condition rests.
    fn pretended(&self, show: &Show, id: AtomId) -> Option<RigId> {
        let rig = match &show.atoms[id.index()] {
            Atom::Above { axis, .. } | Atom::Below { axis, .. } | Atom::Within { axis, .. } => show.axis(*axis).rig,
            Atom::At { rig, .. } => *rig,
            Atom::Input(_) | Atom::CueState { .. } | Atom::CuePast { .. } => return None,
        };
        self.rigs[rig.index()].simulated.then_some(rig)
    }

    /// Whether a leaf of a condition rests on the pose of a simulated rig.
    pub fn is_pretended(&self, show: &Show, id: AtomId) -> bool {
        self.pretended(show, id).is_some()
    }

    /// A leaf of a condition as it counts where `real` is guarded or moved.
    pub fn counts_for(&self, show: &Show, real: Option<RigId>, id: AtomId) -> Truth {
        match real.and_then(|_| self.pretended(show, id)) {
            Some(_) => Truth::Unknown,
            None => self.atom(id),
        }
    }

    /// A rig that an interlock guards and that is real.
    pub fn real_guarded(&self, show: &Show, interlock: &Interlock) -> Option<RigId> {
        let guarded = interlock.guards.iter().map(|guard| show.axis(guard.axis).rig);
        guarded.into_iter().find(|rig| !self.rigs[rig.index()].simulated)
    }
}

impl Engine {
    /// A rig that a cue moves and that is real.
    pub(super) fn real_moved(&self, cue: CueId) -> Option<RigId> {
        let moved = self.plan.cue(cue).moves.iter().filter(|step| !step.axes.is_empty()).map(|step| step.rig);
        moved.into_iter().find(|&rig| !self.is_simulated(rig))
    }

    /// A rig that is real, and of which a cue moves joints that carry bodies, its own or those of what rides on it.
    fn real_bodies_moved(&self, cue: CueId) -> Option<RigId> {
        let turns = |axis: AxisId| self.show.axis(axis).joint.is_some();
        let moved = self.plan.cue(cue).moves.iter().filter(|step| step.axes.iter().any(|path| turns(path.axis)));
        moved.map(|step| step.rig).find(|&rig| {
            let carries = |body: RigId| self.show.carriers(body).any(|carrier| carrier == rig);
            !self.is_simulated(rig) && self.rigs_with_bodies().any(carries)
        })
    }

    fn rigs_with_bodies(&self) -> impl Iterator<Item = RigId> + '_ {
        self.show.rig_ids().filter(|rig| self.has_bodies[rig.index()])
    }

    /// Rigs whose machines stand nobody knows where, for a cue that moves bodies of a real one. What rides on such a rig
    /// is no better placed, so it is no way out to call the rig absent that carries it.
    pub(super) fn unplaced_reasons(&self, cue: CueId, refusal: &mut Refusal) {
        let Some(real) = self.real_bodies_moved(cue) else { return };
        let gone = |rig: RigId| self.is_simulated(rig) && self.show.rig(rig).absent;
        for body in self.rigs_with_bodies().filter(|&body| !gone(body)) {
            for rig in self.show.carriers(body).filter(|&rig| self.is_simulated(rig)) {
                refusal.push(Reason::Unplaced { rig, real });
            }
        }
    }

    pub(super) fn real_guarded(&self, interlock: InterlockId) -> Option<RigId> {
        self.world.real_guarded(&self.show, &self.show.interlocks[interlock.index()])
    }

    pub(super) fn counts_for(&self, real: Option<RigId>, id: AtomId) -> Truth {
        self.world.counts_for(&self.show, real, id)
    }

    /// The leaf of a condition judged by something planned: nothing else than what is measured if it does not count.
    pub(super) fn planned_for(&self, real: Option<RigId>, id: AtomId, planned: Truth) -> Truth {
        match real.and_then(|_| self.world.pretended(&self.show, id)) {
            Some(_) => Truth::Unknown,
            None => planned,
        }
    }

    /// The reason, and beside it that the pose which it rests on does not count.
    pub(super) fn unmet(&self, reason: Reason, atom: AtomId, real: Option<RigId>) -> Refusal {
        let mut refusal = Refusal::one(reason);
        if let Some(real) = real
            && let Some(rig) = self.world.pretended(&self.show, atom)
        {
            refusal.push(Reason::Simulated { rig, real });
        }
        refusal
    }
}
