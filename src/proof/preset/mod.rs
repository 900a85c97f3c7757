//! Presets: the proved way from any pose to where a cue starts.
//!
//! The rigs that stand wrong go one at a time, each in a straight line through its joint space while all others stand:
//! those that have gone at their goals, the rest where they were. Each such leg is proved clear as a cue is, by halving,
//! start tolerances and zones included, and looked along for interlocks that forbid it. The order is searched for depth-first, rigs tried in the order that the list
//! suggests; sets of rigs from which no order leads on are kept in mind. Where no straight order is clear, a rig may go
//! through one of its marks.
//!
//! A leg meets one rig at a time, so whether it is clear of another depends only on where that one, and what either
//! rides on, stands; whether an interlock permits it, only on where the rigs stand that the interlock asks for. Each such
//! question is answered once, whatever the order it is asked in. What no pose decides, such as an input, forbids nothing
//! here: a way that rests on it says so, and a GO looks.
//!
//! All memory is taken when a show is loaded, and the work is done in portions, so that the engine plans live.

mod ground;
mod order;
mod permit;
mod probe;
#[cfg(test)]
mod tests;
mod way;

pub use way::{empty_way, who_goes, who_has_to_go};

use arrayvec::ArrayVec;
use serde::{Deserialize, Serialize};

use super::clearance::Party;
use super::plan::{CuePlan, Plan};
use crate::show::{AtomId, Condition, CueId, InterlockId, RigId, Show};
pub(super) use ground::Ground;
use order::{Next, Search};
use probe::Probe;

/// Rigs that one preset can take along.
pub const PRESET_RIGS_MAX: usize = 32;

/// One rig's part of a preset.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct PresetLeg {
    pub rig: RigId,
    /// Index into its marks, if it goes through one and stands there for a moment.
    pub via: Option<usize>,
}

/// Why a rig cannot go.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Bar {
    pub rig: RigId,
    pub by: Forbids,
}

/// What forbids a leg.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub enum Forbids {
    Near(Near),
    /// Somewhere on the way this leaf makes the interlock false, whatever inputs say.
    Interlock {
        interlock: InterlockId,
        atom: AtomId,
        /// Where its axis stands then; `None` for a mark.
        stands: Option<f64>,
    },
    /// The interlock changes too often on the way to be followed.
    Unfollowed {
        interlock: InterlockId,
    },
}

impl Forbids {
    pub fn interlock(&self) -> Option<InterlockId> {
        match *self {
            Forbids::Near(_) => None,
            Forbids::Interlock { interlock, .. } | Forbids::Unfollowed { interlock } => Some(interlock),
        }
    }
}

#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Near {
    /// Of what goes along with it; of what is in the way.
    pub parties: [Party; 2],
    /// m, how near they come on a straight way; that must remain.
    pub distance: f64,
    pub margin: f64,
}

/// What an interlock asks of a leg besides poses.
#[derive(Clone, Debug, PartialEq)]
pub struct Proviso {
    pub rig: RigId,
    pub interlock: InterlockId,
    pub needs: Condition,
}

/// How far the planning has come.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Progress {
    Working,
    Found,
    /// No order of the legs is clear, or none was found with the memory there is.
    Barred,
}

/// Plans presets for one show. Takes memory only when it is made.
#[derive(Clone, Debug)]
pub struct PresetPlanner {
    ground: Ground,
    task: Task,
    search: Search,
    probe: Probe,
    progress: Progress,
}

/// From where to where, and who.
#[derive(Clone, Debug)]
struct Task {
    /// By `AxisId`.
    from: Vec<f64>,
    to: Vec<f64>,
    /// Those that go, in the order preferred. A set of them is told in bits, by their places here.
    order: ArrayVec<RigId, PRESET_RIGS_MAX>,
    /// By `RigId`: its place in the order.
    places: Vec<Option<u8>>,
}

impl Task {
    /// The bit of a rig; none for one that stays where it is.
    fn bit(&self, rig: RigId) -> u32 {
        self.places[rig.index()].map_or(0, |place| 1 << place)
    }

    fn everyone(&self) -> u32 {
        (1_u64 << self.order.len()).wrapping_sub(1) as u32
    }
}

impl PresetPlanner {
    pub fn new(show: &Show) -> PresetPlanner {
        let starts: Vec<f64> = show.axes.iter().map(|axis| axis.start).collect();
        let places = vec![None; show.rigs.len()];
        PresetPlanner {
            ground: Ground::new(show),
            probe: Probe::new(show),
            search: Search::new(show),
            task: Task { from: starts.clone(), to: starts, order: ArrayVec::new(), places },
            progress: Progress::Found,
        }
    }

    /// Takes up a new task: to bring the rigs of `order`, [`PRESET_RIGS_MAX`] at most, from where they stand to where
    /// they shall; all others stay where `from` has them. Poses by `AxisId`.
    pub fn begin(&mut self, from: &[f64], to: &[f64], order: &[RigId]) {
        self.task.from.copy_from_slice(from);
        self.task.to.copy_from_slice(to);
        self.task.order.clear();
        self.task.order.extend(order.iter().copied().take(PRESET_RIGS_MAX));
        self.task.places.fill(None);
        for (place, rig) in self.task.order.iter().enumerate() {
            self.task.places[rig.index()] = Some(place as u8);
        }
        self.search.begin();
        self.probe.rest();
        self.progress = Progress::Working;
    }

    /// The same from where one cue of the list leaves everything to where another starts.
    pub fn begin_between(&mut self, show: &Show, plan: &Plan, from: CueId, to: CueId) {
        let (stands, goal) = (&plan.cue(from).end, &plan.cue(to).start);
        self.begin(stands, goal, &who_goes(show, plan, stands, to));
    }

    /// Works on for so many looks: poses looked at, or steps of the search.
    pub fn advance(&mut self, show: &Show, looks: usize) -> Progress {
        let mut looked = 0;
        while looked < looks && self.progress == Progress::Working {
            looked += self.probe.price();
            if self.probe.is_open() {
                if let Some((question, answer)) = self.probe.look(show, &self.ground, &self.task) {
                    self.search.learn(question, answer);
                }
                continue;
            }
            match self.search.step(show, &self.ground, &self.task) {
                Next::On => {}
                Next::Ask(question) => self.probe.open(show, &self.ground, &self.task, question),
                Next::Found => self.progress = Progress::Found,
                Next::Barred => self.progress = Progress::Barred,
            }
        }
        self.progress
    }

    /// The same until it has come to an end, which it always does.
    pub fn finish(&mut self, show: &Show) -> Progress {
        while self.advance(show, 1024) == Progress::Working {}
        self.progress
    }

    pub fn progress(&self) -> Progress {
        self.progress
    }

    /// Whether it takes the rig anywhere.
    pub fn takes(&self, rig: RigId) -> bool {
        self.task.places[rig.index()].is_some()
    }

    /// Where it was begun from, by `AxisId`.
    pub fn from(&self) -> &[f64] {
        &self.task.from
    }

    /// The legs found, in order; none unless a way was found.
    pub fn legs(&self) -> impl Iterator<Item = PresetLeg> + '_ {
        let found = self.progress == Progress::Found;
        self.search
            .path()
            .filter(move |_| found)
            .map(|(place, way)| PresetLeg { rig: self.task.order[place], via: way.checked_sub(1) })
    }

    /// What the way that was found rests on besides poses, leg by leg: each thing once.
    pub fn provisos(&self, show: &Show) -> Vec<Proviso> {
        let found = self.progress == Progress::Found;
        let mut provisos = Vec::new();
        if found {
            let legs = self.search.questions_of_path(&self.ground, &self.task);
            legs.for_each(|question| permit::provisos(show, &self.task, question, &mut provisos));
        }
        provisos
    }

    /// What forbids the rigs that could not go, after as many as can had gone: one thing a rig.
    pub fn bars(&self) -> impl Iterator<Item = Bar> + '_ {
        let barred = self.progress == Progress::Barred;
        self.search.bars(&self.ground, &self.task).filter(move |_| barred)
    }

    /// Whether it gave up with orders left to try.
    pub fn gave_up(&self) -> bool {
        self.search.is_full()
    }

    /// Writes the way over `plan`, which [`empty_way`] made; with `to_mark`, no further than to the first mark that a rig
    /// goes through. Takes no memory.
    pub fn write(&self, show: &Show, to_mark: bool, plan: &mut CuePlan) {
        way::write(show, self.legs(), [&self.task.from, &self.task.to], to_mark, plan);
    }
}
