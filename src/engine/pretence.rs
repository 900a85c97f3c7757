//! A show of which a part is simulated: the pose of a rig that is not there says nothing about the room.
//!
//! For what moves a real rig, a condition on the pose of a simulated one is unknown, and only true permits. For what
//! moves simulated rigs alone every pose counts, so that a show can be rehearsed while some of its rigs stand ready.

use super::reason::{Reason, Refusal};
use super::tick::Engine;
use super::world::World;
use crate::show::{Atom, AtomId, CueId, Interlock, InterlockId, RigId, Show, Truth};

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
        let moved = self.plan.cue(cue).moves.iter().map(|step| step.rig);
        moved.into_iter().find(|&rig| !self.is_simulated(rig))
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
