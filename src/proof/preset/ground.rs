//! What does not change from preset to preset: which bodies a rig takes along, what they must keep clear of, and which
//! interlocks guard it.

use super::Task;
use crate::proof::bodies::margin;
use crate::proof::clearance::zone_block;
use crate::show::{Atom, AtomId, InterlockId, RigId, Show};
use crate::stage::{Stage, Sweep};

/// What a leg is asked to be clear of, or permitted by.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Other {
    Interlock(InterlockId),
    Rig(RigId),
    /// All zones at once: they go nowhere.
    Zones,
}

#[derive(Clone, Debug)]
pub struct Ground {
    pub stage: Stage,
    /// By `AxisId`.
    pub tolerance: Vec<f64>,
    /// By zone.
    pub zones: Vec<Sweep>,
    /// By `RigId`, and `RigId` again.
    margins: Vec<Vec<Option<f64>>>,
    footings: Vec<Footing>,
    /// By `InterlockId`: the rigs whose poses it asks for.
    asked: Vec<Vec<RigId>>,
}

/// One rig.
#[derive(Clone, Debug)]
struct Footing {
    /// Indices of its own bodies.
    bodies: Vec<usize>,
    /// Indices of the bodies that its joints can move: its own, and those of what rides on it.
    moved: Vec<usize>,
    /// Rigs whose poses decide where the moved bodies are, carriers first.
    under_moved: Vec<RigId>,
    /// Itself and what it rides on, carriers first.
    under: Vec<RigId>,
    /// The interlocks that guard it, which take least to look at; then what its moved bodies could meet.
    others: Vec<Other>,
}

impl Ground {
    pub fn new(show: &Show) -> Ground {
        let stage = Stage::new(show);
        let margins: Vec<Vec<Option<f64>>> =
            show.rig_ids().map(|a| show.rig_ids().map(|b| margin(show, a, b)).collect()).collect();
        let footings = show.rig_ids().map(|rig| Footing::new(show, &stage, &margins, rig)).collect();
        Ground {
            tolerance: show.axes.iter().map(|axis| axis.tolerance).collect(),
            zones: show.zones.iter().map(zone_block).collect(),
            stage,
            margins,
            footings,
            asked: show.interlocks.iter().map(|interlock| asked(show, &interlock.needs.atoms())).collect(),
        }
    }

    /// m, that must remain between two rigs; `None` if one rides on the other.
    pub fn margin(&self, a: RigId, b: RigId) -> Option<f64> {
        self.margins[a.index()][b.index()]
    }

    pub fn bodies(&self, rig: RigId) -> &[usize] {
        &self.footings[rig.index()].bodies
    }

    /// Rigs whose poses decide where the moved bodies are, carriers first.
    pub fn under_moved(&self, rig: RigId) -> &[RigId] {
        &self.footings[rig.index()].under_moved
    }

    pub fn moved(&self, rig: RigId) -> &[usize] {
        &self.footings[rig.index()].moved
    }

    pub fn others(&self, rig: RigId) -> &[Other] {
        &self.footings[rig.index()].others
    }

    /// The rigs whose poses decide how near a leg comes to something, or whether it is permitted; some of them twice.
    pub fn concerned(&self, rig: RigId, other: Other) -> impl Iterator<Item = RigId> + '_ {
        let own: &[RigId] = &self.footings[rig.index()].under_moved;
        let (first, second): (&[RigId], &[RigId]) = match other {
            Other::Rig(other) => (own, &self.footings[other.index()].under),
            Other::Zones => (own, &[]),
            Other::Interlock(id) => (&self.asked[id.index()], &[]),
        };
        first.iter().chain(second).copied()
    }

    /// The same as a set, without the rig itself.
    pub(super) fn concerned_bits(&self, task: &Task, rig: RigId, other: Other) -> u32 {
        self.concerned(rig, other).fold(0, |bits, rig| bits | task.bit(rig)) & !task.bit(rig)
    }
}

impl Footing {
    fn new(show: &Show, stage: &Stage, margins: &[Vec<Option<f64>>], rig: RigId) -> Footing {
        let indices = |wanted: &dyn Fn(usize) -> bool| (0..stage.bodies().len()).filter(|&at| wanted(at)).collect();
        let bodies: Vec<usize> = indices(&|at| stage.bodies()[at].rig == rig);
        let carried =
            |at: usize| stage.bodies()[at].carriers.iter().any(|carrier| show.axis(carrier.axis).rig == rig);
        let moved: Vec<usize> = indices(&carried);
        let owners = || moved.iter().map(|&at| stage.bodies()[at].rig);
        let below = |tops: &dyn Fn(RigId) -> bool| -> Vec<RigId> {
            let carries = |under: RigId| {
                show.rig_ids().any(|top| tops(top) && show.carriers(top).any(|carrier| carrier == under))
            };
            stage.order().iter().copied().filter(|&under| carries(under)).collect()
        };
        let meets = |other: RigId| {
            let has_bodies = stage.bodies().iter().any(|body| body.rig == other);
            has_bodies && owners().any(|owner| margins[owner.index()][other.index()].is_some())
        };
        let guards = |id: &InterlockId| {
            show.interlocks[id.index()].guards.iter().any(|guard| show.axis(guard.axis).rig == rig)
        };
        let interlocks = (0..show.interlocks.len()).map(InterlockId::new).filter(guards).map(Other::Interlock);
        let zoned = show.zones.iter().any(|zone| owners().any(|owner| zone.rigs.contains(&owner)));
        let zones = zoned.then_some(Other::Zones);
        let rigs = show.rig_ids().filter(|&other| meets(other)).map(Other::Rig);
        Footing {
            under_moved: below(&|top| top == rig || owners().any(|owner| owner == top)),
            under: below(&|top| top == rig),
            others: interlocks.chain(zones).chain(rigs).collect(),
            bodies,
            moved,
        }
    }
}

/// The rigs on whose poses these leaves rest.
fn asked(show: &Show, atoms: &[AtomId]) -> Vec<RigId> {
    let of = |atom: &AtomId| match &show.atoms[atom.index()] {
        Atom::Above { axis, .. } | Atom::Below { axis, .. } | Atom::Within { axis, .. } => {
            Some(show.axis(*axis).rig)
        }
        Atom::At { rig, .. } => Some(*rig),
        Atom::Input(_) | Atom::CueState { .. } | Atom::CuePast { .. } => None,
    };
    let mut rigs: Vec<RigId> = atoms.iter().filter_map(of).collect();
    rigs.sort_unstable();
    rigs.dedup();
    rigs
}
