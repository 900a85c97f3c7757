//! What was proved before: an unchanged cue or pair of cues is not proved again.
//!
//! A result is kept under a digest of everything that it depends on: the machines (chains, bodies, limits, tolerances) in one
//! digest, then the margins and zones of what is moved, the paths of the cues and where they find the rigs. So nothing has to be told
//! what an edit changed, and a result from another show with the same machines and paths would be right too.

use std::collections::BTreeMap;
use std::sync::{Mutex, MutexGuard, PoisonError};

use serde::de::DeserializeOwned;
use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};

use super::clearance::{Found, Short};
use super::maps::Drawn;
use super::plan::CuePlan;
use super::skips::Passes;
use super::stalls::Stalls;
use super::stops::Stops;
use crate::motion::Sample;
use crate::show::{RigId, Show};

/// How brakes are planned; another word when they are planned in another way.
const RATES: &str = "rates by the slowest axis alone or the greatest second derivative, its release stretched, else a spline mended round by round, counted, stops by instants from any start within tolerance and by standard brakes, errors that fade inside the travel";

/// SHA-256.
pub type Key = [u8; 32];

/// A digest under way.
#[derive(Clone)]
pub struct Content(Sha256);

impl Content {
    /// Everything about the machines that a proof depends on, but for what they are to keep apart from.
    pub fn of_machines(show: &Show) -> Content {
        let mut content = Content(Sha256::new());
        content.words(RATES);
        content.words(&format!("{:?}", show.settings));
        for rig in &show.rigs {
            content.words(&format!("{:?}", (&rig.at, rig.facing, rig.mount, &rig.bodies, &rig.axes)));
            content.words(&format!("{:?}", (rig.stop_category, rig.link_timeout)));
        }
        for axis in &show.axes {
            content.words(&format!("{:?}", (axis.unit, axis.reach(), axis.run, axis.stop, axis.tolerance)));
            content.words(&format!("{:?}", (axis.lag_limit, &axis.joint, &axis.bodies)));
        }
        content
    }

    /// With the margins of those pairs of rigs that matter.
    pub fn pairs(mut self, show: &Show, matter: impl Fn([RigId; 2]) -> bool) -> Content {
        for pair in show.pairs.iter().filter(|pair| matter(pair.rigs)) {
            self.words(&format!("{:?}", (pair.rigs, pair.margin)));
        }
        self
    }

    /// With everything that some rigs are to keep apart from, `moved` by `RigId`.
    pub fn margins(self, show: &Show, moved: &[bool]) -> Content {
        let is_moved = |rig: &RigId| moved[rig.index()];
        let mut content = self.pairs(show, |rigs| rigs.iter().any(is_moved));
        for (index, zone) in show.zones.iter().enumerate().filter(|(_, zone)| zone.rigs.iter().any(is_moved)) {
            let kept = (index, zone.keep, zone.min, zone.max, &zone.rigs, zone.margin);
            content.words(&format!("{kept:?}"));
        }
        content
    }

    fn words(&mut self, words: &str) {
        self.0.update((words.len() as u64).to_le_bytes());
        self.0.update(words);
    }

    fn numbers(&mut self, numbers: impl IntoIterator<Item = f64>) {
        numbers.into_iter().for_each(|number| self.0.update(number.to_bits().to_le_bytes()));
    }

    /// Keeps the results of one kind apart from those of another.
    pub fn kind(&self, kind: &str) -> Content {
        let mut content = self.clone();
        content.words(kind);
        content
    }

    /// With the path of a cue, and every axis where the cue finds it.
    pub fn cue(mut self, plan: &CuePlan) -> Content {
        self.numbers(plan.start.iter().copied());
        self.path(plan)
    }

    /// With the path of a cue alone, whatever else stands where.
    pub fn path(mut self, plan: &CuePlan) -> Content {
        self.numbers([plan.duration, plan.moves.len() as f64]);
        for step in &plan.moves {
            let profile = &step.profile;
            self.numbers([step.rig.index() as f64, step.delay, step.axes.len() as f64]);
            self.numbers([profile.peaks().jerk, profile.jerk_time(), profile.rise_time(), profile.cruise_time()]);
            for path in &step.axes {
                self.numbers([path.axis.index() as f64, path.from, path.to]);
                for knot in path.curve.iter().flat_map(|curve| curve.knots()) {
                    let Sample { position, speed, acceleration, jerk } = knot.state;
                    self.numbers([knot.time, position, speed, acceleration, jerk]);
                }
            }
        }
        self
    }

    /// With everything that another digest stands for.
    pub fn with(mut self, other: &Key) -> Content {
        self.0.update(other);
        self
    }

    pub fn also(mut self, numbers: impl IntoIterator<Item = f64>) -> Content {
        self.numbers(numbers);
        self
    }

    pub fn key(self) -> Key {
        self.0.finalize().into()
    }
}

/// Results of one kind, each with whether it was asked for.
#[derive(Debug)]
struct Shelf<T> {
    kept: Mutex<BTreeMap<Key, (T, bool)>>,
}

impl<T: Clone> Shelf<T> {
    fn lock(&self) -> MutexGuard<'_, BTreeMap<Key, (T, bool)>> {
        self.kept.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn known(&self, key: Key, prove: impl FnOnce() -> T) -> T {
        if let Some((known, asked)) = self.lock().get_mut(&key) {
            *asked = true;
            return known.clone();
        }
        // Not under the lock: others prove meanwhile.
        let proved = prove();
        self.lock().insert(key, (proved.clone(), true));
        proved
    }

    /// What was asked for since the last time; the rest is forgotten.
    fn turn(&self) {
        self.lock().retain(|_, (_, asked)| std::mem::take(asked));
    }
}

impl<T> Default for Shelf<T> {
    fn default() -> Shelf<T> {
        Shelf { kept: Mutex::default() }
    }
}

/// Results of earlier proofs, for the next.
#[derive(Debug, Default)]
pub struct Memory {
    stops: Shelf<Stops>,
    cues: Shelf<Found>,
    stalls: Shelf<Vec<(RigId, Short)>>,
    maps: Shelf<Drawn>,
    beside: Shelf<Stalls>,
    skips: Shelf<Vec<Passes>>,
    trials: Shelf<bool>,
}

impl Memory {
    pub fn stop(&self, content: Content, prove: impl FnOnce() -> Stops) -> Stops {
        self.stops.known(content.key(), prove)
    }

    pub fn cue(&self, content: Content, prove: impl FnOnce() -> Found) -> Found {
        self.cues.known(content.key(), prove)
    }

    pub fn stall(&self, content: Content, prove: impl FnOnce() -> Vec<(RigId, Short)>) -> Vec<(RigId, Short)> {
        self.stalls.known(content.key(), prove)
    }

    pub fn map(&self, content: Content, prove: impl FnOnce() -> Drawn) -> Drawn {
        self.maps.known(content.key(), prove)
    }

    /// Stalls of two cues.
    pub fn beside(&self, content: Content, prove: impl FnOnce() -> Stalls) -> Stalls {
        self.beside.known(content.key(), prove)
    }

    pub fn skips(&self, content: Content, prove: impl FnOnce() -> Vec<Passes>) -> Vec<Passes> {
        self.skips.known(content.key(), prove)
    }

    /// Whether an edit of a cue lets it pass.
    pub fn trial(&self, content: Content, prove: impl FnOnce() -> bool) -> bool {
        self.trials.known(content.key(), prove)
    }

    /// After a proof: forgets what it did not ask for.
    pub fn turn(&self) {
        self.stops.turn();
        self.cues.turn();
        self.stalls.turn();
        self.maps.turn();
        self.beside.turn();
        self.skips.turn();
        self.trials.turn();
    }

    /// How many results are kept.
    pub fn len(&self) -> usize {
        let of_cues = self.stops.lock().len() + self.cues.lock().len() + self.stalls.lock().len();
        let of_pairs = self.maps.lock().len() + self.beside.lock().len();
        of_cues + of_pairs + self.skips.lock().len() + self.trials.lock().len()
    }

    pub fn is_empty(&self) -> bool {
        self.len() == 0
    }

    /// For a file. The bytes are our own: read back by the same program only.
    pub fn to_bytes(&self) -> Vec<u8> {
        let written = Written {
            stops: told(&self.stops),
            cues: told(&self.cues),
            stalls: told(&self.stalls),
            maps: told(&self.maps),
            beside: told(&self.beside),
            skips: told(&self.skips),
            trials: told(&self.trials),
        };
        postcard::to_stdvec(&written).unwrap_or_default()
    }

    /// `None` if they are not what [`Memory::to_bytes`] wrote.
    pub fn from_bytes(bytes: &[u8]) -> Option<Memory> {
        let Written { stops, cues, stalls, maps, beside, skips, trials } = postcard::from_bytes(bytes).ok()?;
        Some(Memory {
            stops: shelf(stops),
            cues: shelf(cues),
            stalls: shelf(stalls),
            maps: shelf(maps),
            beside: shelf(beside),
            skips: shelf(skips),
            trials: shelf(trials),
        })
    }
}

#[derive(Serialize, Deserialize)]
struct Written {
    stops: Vec<(Key, Stops)>,
    cues: Vec<(Key, Found)>,
    stalls: Vec<(Key, Vec<(RigId, Short)>)>,
    maps: Vec<(Key, Drawn)>,
    beside: Vec<(Key, Stalls)>,
    skips: Vec<(Key, Vec<Passes>)>,
    trials: Vec<(Key, bool)>,
}

fn told<T: Clone>(shelf: &Shelf<T>) -> Vec<(Key, T)> {
    shelf.lock().iter().map(|(key, (kept, _))| (*key, kept.clone())).collect()
}

fn shelf<T: DeserializeOwned>(kept: Vec<(Key, T)>) -> Shelf<T> {
    Shelf { kept: Mutex::new(kept.into_iter().map(|(key, kept)| (key, (kept, false))).collect()) }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::proof::{Alone, Proof, prove, prove_from};
    use crate::show::{AxisId, Cue, Move, OnLinkLoss, Pair, Place, RigId, Shape, Unit};
    use crate::stage::fixture;

    fn proof(show: &Show, memory: &Memory) -> Proof {
        prove_from(show, &Alone, memory)
    }

    /// Two rigs of one slide each, and a cue for either.
    fn show(ends: [f64; 2], radius: f64) -> Show {
        let mut show = fixture::empty_show();
        for (index, end) in ends.into_iter().enumerate() {
            let at = glam::DVec3::new(0.0, 2.0 * index as f64, 0.0);
            fixture::add_rig(&mut show, at, 0.0, None);
            let body = Shape::Sphere { at: glam::DVec3::ZERO, radius };
            let joint = fixture::slide(glam::DVec3::X, glam::DVec3::ZERO);
            let axis = fixture::add_axis(&mut show, Unit::Metre, joint, vec![body]);
            show.cues.push(cue(index, axis, end));
        }
        show
    }

    fn cue(index: usize, axis: AxisId, end: f64) -> Cue {
        let step = Move {
            rig: RigId::new(index),
            to: vec![(axis, end)],
            mark: None,
            by: false,
            round: Vec::new(),
            softness: 0.0,
            via: vec![],
            time: Some(4.0),
            time_place: None,
            delay: 0.0,
            playing: None,
            aim: None,
            place: Place::default(),
        };
        Cue {
            number: format!("{}", index + 1).parse().unwrap(),
            name: String::new(),
            page: None,
            call: None,
            watch: None,
            notes: None,
            gap: None,
            after: None,
            needs: None,
            on_link_loss: OnLinkLoss::Hold,
            moves: vec![step],
            place: Place::default(),
        }
    }

    #[test]
    fn what_is_remembered_is_what_was_proved() {
        let memory = Memory::default();
        for ends in [[3.0, 3.0], [3.0, 2.0], [1.0, 2.0], [3.0, 3.0]] {
            let show = show(ends, 0.3);
            let (fresh, remembered) = (prove(&show), proof(&show, &memory));
            assert_eq!((&fresh.plan, &fresh.closest), (&remembered.plan, &remembered.closest));
            assert_eq!((&fresh.skips, &fresh.findings), (&remembered.skips, &remembered.findings));
        }
    }

    #[test]
    fn an_edit_of_one_cue_leaves_the_other_alone_and_one_of_the_machines_leaves_nothing() {
        let memory = Memory::default();
        proof(&show([3.0, 3.0], 0.3), &memory);
        let first = memory.len();
        assert_eq!(first, 2 + 2 + 2 + 1 + 1, "stops, clearance and stalls of two cues, one map, one skip");
        proof(&show([3.0, 2.0], 0.3), &memory);
        assert_eq!(
            memory.len(),
            first + 5,
            "the second cue, its stops, its stalls, the map, and without the first cue"
        );
        memory.turn();
        memory.turn();
        proof(&show([3.0, 2.0], 0.3), &memory);
        proof(&show([3.0, 2.0], 0.4), &memory);
        assert_eq!(memory.len(), 2 * first, "another body proves everything anew");
        memory.turn();
        proof(&show([3.0, 2.0], 0.4), &memory);
        memory.turn();
        assert_eq!(memory.len(), first, "what nobody asks for is forgotten");
    }

    #[test]
    fn a_margin_concerns_the_cues_that_move_one_of_the_two() {
        let memory = Memory::default();
        let mut show = show([3.0, 2.0], 0.3);
        fixture::add_rig(&mut show, glam::DVec3::new(0.0, 9.0, 0.0), 0.0, None);
        proof(&show, &memory);
        let first = memory.len();
        show.pairs.push(Pair { rigs: [RigId(1), RigId(2)], margin: 0.1, because: None, place: Place::default() });
        proof(&show, &memory);
        assert_eq!(memory.len(), first + 3, "the second cue, its stalls, and without the first cue");
        let (fresh, remembered) = (prove(&show), proof(&show, &memory));
        assert_eq!((fresh.plan, fresh.closest), (remembered.plan, remembered.closest));
    }

    #[test]
    fn bytes_are_read_back_or_refused() {
        let memory = Memory::default();
        let show = show([3.0, 2.0], 0.3);
        let fresh = proof(&show, &memory);
        let bytes = memory.to_bytes();
        let back = Memory::from_bytes(&bytes).unwrap();
        assert_eq!(back.len(), memory.len());
        let again = proof(&show, &back);
        assert_eq!((fresh.plan, fresh.closest), (again.plan, again.closest));
        assert_eq!(back.len(), memory.len(), "nothing was proved anew");
        assert!(Memory::from_bytes(&bytes[..bytes.len() - 1]).is_none());
    }
}
