//! Coordination maps: for two cues, the pairs of their times at which their bodies keep clear of each other
//! (coordination space: O'Donnell and Lozano-Pérez, *Deadlock-Free and Collision-Free Coordination of Two Robot
//! Manipulators*, 1989).
//!
//! A map is divided, the side with more motion in it each time, until every cell is proved clear or is as fine as the
//! resolution; a cell is not divided further where the bodies are too near throughout. What is not proved clear counts
//! as blocked. Running cues share one rate, so with the later started when the earlier is
//! at g they run along the line τA − τB = g, and past the end of either along the map's edge.
//!
//! Maps of pairs are enough for any number of running cues, since each body is moved by at most one of them.

mod divide;
mod line;
mod lines;
#[cfg(test)]
mod tests;
mod told;
mod windows;

pub use divide::Cell;
pub use lines::{Stretch, gaps, joined};
pub use told::{apart, planned, runnable, told_starts, ways_past};
pub use windows::Window;

use super::bodies::{Cast, Stagehand};
use super::clearance::Party;
use serde::{Deserialize, Serialize};

use super::crew::{Crew, gathered};
use super::memory::{Content, Key, Memory};
use super::plan::Plan;
use super::remedy::Edit;
use super::stalls::Stalls;
use super::together::{Apart, Pairs, Starts, Together};
use crate::show::{CueId, Finding, RigId, Show};
use line::Nearest;

/// The map of two cues that can be running together.
#[derive(Clone, Debug, PartialEq)]
pub struct CueMap {
    pub pair: Together,
    /// s, how long each lasts.
    pub durations: [f64; 2],
    /// What is not proved clear; empty for a map that is clear all over.
    pub cells: Vec<Cell>,
    /// The starts of the second, s after the first's, at which the two are not proved clear; apart and in order.
    pub blocked: Vec<Stretch>,
    /// The nearest that the two come along a line that can be run and is blocked.
    nearest: Option<Nearest>,
    pub stalls: Stalls,
}

impl CueMap {
    /// The starts of the second that can be run, as far as they tell lines apart: once the one has ended before the
    /// other begins, it no longer matters when.
    pub fn open(&self) -> Stretch {
        let [first, second] = self.durations;
        Stretch { from: self.pair.from.clamp(-second, first), to: self.pair.to.clamp(-second, first) }
    }

    /// Whether the first can start while the second runs.
    pub fn turns(&self) -> bool {
        self.pair.from < 0.0 && self.pair.to > -self.durations[1]
    }

    /// Whether no hand can be wrong about when to fire the second: at any time of the first, or by a chain of follows.
    pub fn is_free(&self) -> bool {
        let [first, _] = self.durations;
        let whole = |clear: &[Stretch]| matches!(clear, [span] if span.from == 0.0 && span.to == first);
        let open = self.blocked.is_empty() && self.pair.to >= first;
        self.pair.tied() || self.pair.to < 0.0 || open && whole(&self.clear())
    }

    /// The starts of the second, by the first's own clock, at which it may be fired.
    pub fn clear(&self) -> Vec<Stretch> {
        let open = Stretch { from: self.pair.from.max(0.0), to: self.durations[0].min(self.pair.to) };
        let open = if self.pair.tied() { Stretch { from: 0.0, to: self.durations[0] } } else { open };
        lines::gaps(&self.blocked, open)
    }

    /// The starts of the first, by the second's own clock, at which it may follow while that runs; none if the
    /// first always starts first.
    pub fn clear_turned(&self) -> Vec<Stretch> {
        let open = Stretch { from: self.pair.from.max(-self.durations[1]), to: self.pair.to.min(0.0) };
        if !self.turns() {
            return Vec::new();
        }
        let turned = |gap: &Stretch| Stretch { from: -gap.to + 0.0, to: -gap.from };
        lines::gaps(&self.blocked, open).iter().rev().map(turned).collect()
    }

    /// From which start of the second on a hold of either alone leads into no blocked place; `None` if always.
    pub fn hold_safe_from(&self) -> Option<f64> {
        let last = self.cells.iter().map(|cell| cell.first.to).fold(0.0, f64::max);
        (last < self.durations[0]).then_some(last)
    }

    /// The same for a first that starts while the second runs.
    pub fn hold_safe_from_turned(&self) -> Option<f64> {
        let last = self.cells.iter().map(|cell| cell.second.to).fold(0.0, f64::max);
        (last < self.durations[1]).then_some(last)
    }

    /// From which start of the second on a stall of any rig of the two leads into no blocked place; `None` if always.
    pub fn stall_safe_from(&self) -> Option<f64> {
        let last = self.stalls.blocked.iter().map(|stretch| stretch.to).fold(0.0, f64::max);
        (last < self.durations[0]).then_some(last)
    }

    /// The same for a first that starts while the second runs.
    pub fn stall_safe_from_turned(&self) -> Option<f64> {
        let last = self.stalls.blocked.iter().map(|stretch| -stretch.from).fold(0.0, f64::max);
        (last < self.durations[1]).then_some(last)
    }

    /// What is in the way of starting the second when the first is at `time` s, if anything; allocates nothing.
    pub fn in_the_way(&self, time: f64) -> Option<&Stretch> {
        let after = self.blocked.partition_point(|stretch| stretch.to < time);
        self.blocked.get(after).filter(|stretch| stretch.from <= time)
    }

    /// Where the two come nearest to each other along the line of a start that is blocked.
    fn nearest_on(&self, start: f64) -> Option<&Cell> {
        let [first, second] = self.durations;
        let passed = self.cells.iter().filter(|cell| {
            let through = lines::through(cell, first, second);
            through.from <= start && start <= through.to
        });
        passed.min_by(|a, b| a.value.total_cmp(&b.value))
    }
}

/// What the proof says of a cue that starts while another is under way.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Company {
    Clear,
    /// They come too near, or it is not proved that they do not.
    Blocked(Obstacle),
    /// The list keeps the two apart, so that no map of them was drawn.
    Unproved,
}

/// What is in the way of a start.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Obstacle {
    /// m, how near they come; that must remain.
    pub distance: f64,
    pub margin: f64,
    /// Of the cue that starts, of the other.
    pub parties: [Party; 2],
    /// s, the other's own time from which on the start is clear; `None` if that is not before its end.
    pub clears: Option<f64>,
}

/// All maps of a show, for the check and for the engine.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Maps {
    /// By the first, then the second.
    pub list: Vec<CueMap>,
    /// By `CueId` of the later in the list: the cues before it that it cannot run together with for a reason between
    /// the two alone.
    pub apart: Vec<Vec<(CueId, Apart)>>,
}

impl Maps {
    /// Of two cues, the earlier in the list first; `None` if they were found not to run together.
    pub fn of(&self, first: CueId, second: CueId) -> Option<&CueMap> {
        let found = self.list.binary_search_by_key(&(first, second), |map| (map.pair.first, map.pair.second));
        found.ok().map(|at| &self.list[at])
    }

    /// Whether two cues are proved clear of each other at any times of theirs.
    pub fn clear_all_over(&self, one: CueId, other: CueId) -> bool {
        self.of(one.min(other), one.max(other)).is_some_and(|map| map.cells.is_empty())
    }

    /// Whether `cue` may start when `other` is at `time` s of its own time, both at one rate from then on. Before the
    /// other's start (`time` is below zero) the other stands where it starts, after its end where that leaves it.
    /// Allocates nothing.
    pub fn company(&self, cue: CueId, other: CueId, time: f64) -> Company {
        let turned = cue < other;
        let (first, second) = if turned { (cue, other) } else { (other, cue) };
        let Some(map) = self.of(first, second) else { return Company::Unproved };
        let start = if turned { -time } else { time };
        let Some(stretch) = map.in_the_way(start) else { return Company::Clear };
        let (clears, end) = if turned { (-stretch.from, map.durations[1]) } else { (stretch.to, map.durations[0]) };
        let clears = (clears < end).then_some(clears);
        // A stretch is blocked by its cells; without one there is nothing to name.
        let Some(cell) = map.nearest_on(start) else { return Company::Unproved };
        let [one, two] = cell.parties;
        let parties = if turned { [one, two] } else { [two, one] };
        Company::Blocked(Obstacle { distance: cell.value, margin: cell.margin, parties, clears })
    }

    /// When `cue` may start by the clock of `other`, which is at `time` s: the blocked parts of what is left of that, s
    /// from now, in order; told to `tell`. Allocates nothing.
    pub fn blocked_ahead(&self, cue: CueId, other: CueId, time: f64, duration: f64, mut tell: impl FnMut(Stretch)) {
        let turned = cue < other;
        let (first, second) = if turned { (cue, other) } else { (other, cue) };
        let left = (duration - time).max(0.0);
        let Some(map) = self.of(first, second) else { return tell(Stretch { from: 0.0, to: left }) };
        let mut told = |from: f64, to: f64| {
            let (from, to) = ((from - time).max(0.0), (to - time).min(left));
            if from < to {
                tell(Stretch { from, to });
            }
        };
        if turned {
            map.blocked.iter().rev().for_each(|stretch| told(-stretch.to, -stretch.from));
        } else {
            map.blocked.iter().for_each(|stretch| told(stretch.from, stretch.to));
        }
    }
}

/// Draws every map, but for what stalls; those that were drawn before are taken from the memory. With the key of each.
pub fn draw(
    hand: &Stagehand,
    plan: &Plan,
    crew: &dyn Crew,
    (machines, memory): (&Content, &Memory),
) -> (Maps, Vec<Key>) {
    crew.begin("cues seen from each other");
    let starts = Starts::new(hand.show, plan);
    let Pairs { together, apart } = starts.pairs(crew);
    let casts = gathered(crew, plan.cues.len(), |cue| Cast::new(hand, &plan.cues[cue]));
    let moved: Vec<Vec<bool>> = plan.cues.iter().map(|plan| hand.moved_rigs(plan)).collect();
    let contents = gathered(crew, casts.len(), |cue| casts[cue].content(machines.kind("cast")).key());
    crew.begin("pairs of cues");
    let list = gathered(crew, together.len(), |at| {
        let pair = together[at];
        let casts = [&casts[pair.first.index()], &casts[pair.second.index()]];
        let moves = |cue: CueId, rig: RigId| moved[cue.index()][rig.index()];
        let meet = |one: RigId, other: RigId| moves(pair.first, one) && moves(pair.second, other);
        let content = machines.kind("map").also([pair.from, pair.to]);
        let content = content.pairs(hand.show, |[one, other]| meet(one, other) || meet(other, one));
        let content = content.with(&contents[pair.first.index()]).with(&contents[pair.second.index()]);
        let key = content.clone().key();
        let Drawn { cells, blocked, nearest } = memory.map(content, || draw_one(hand, pair, casts));
        let stalls = Stalls::default();
        (CueMap { pair, durations: casts.map(Cast::duration), cells, blocked, nearest, stalls }, key)
    });
    let (list, keys) = list.into_iter().unzip();
    (Maps { list, apart }, keys)
}

/// Says what runs into a blocked place, with what may settle it.
pub fn tell(show: &Show, plan: &Plan) -> Vec<(Finding, Vec<Edit>)> {
    let starts = Starts::new(show, plan);
    let told = plan.maps.list.iter().filter_map(|map| {
        let finding = told::overlap(show, &starts, map).or_else(|| told::stall(show, map))?;
        Some((finding, told::ways_out(show, &starts, map)))
    });
    told.collect()
}

/// What is found of a pair, whatever their numbers in the list.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct Drawn {
    cells: Vec<Cell>,
    blocked: Vec<Stretch>,
    nearest: Option<Nearest>,
}

fn draw_one(hand: &Stagehand, pair: Together, casts: [&Cast; 2]) -> Drawn {
    let durations = casts.map(Cast::duration);
    let cells = divide::divide(hand, casts);
    let blocked = lines::blocked(&cells, durations);
    let mut map = CueMap { pair, durations, cells, blocked, nearest: None, stalls: Stalls::default() };
    map.nearest = line::worst(hand, casts, &map);
    if let (true, None) = (pair.tied(), map.nearest) {
        // The line of a tied pair is proved by itself, more finely than the cells beside it.
        let proved = Stretch { from: pair.from, to: pair.to };
        map.blocked = lines::without(&map.blocked, proved);
    }
    Drawn { cells: map.cells, blocked: map.blocked, nearest: map.nearest }
}

/// Bodies of the two casts that must keep apart, with their margins.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Couple {
    /// Indices into the moved bodies of each.
    pub bodies: [usize; 2],
    pub margin: f64,
}

fn couples(hand: &Stagehand, casts: [&Cast; 2]) -> Vec<Couple> {
    let mut couples = Vec::new();
    for (one, &a) in casts[0].moved.iter().enumerate() {
        for (other, &b) in casts[1].moved.iter().enumerate() {
            if let Some(margin) = hand.margin(hand.body(a).rig, hand.body(b).rig) {
                couples.push(Couple { bodies: [one, other], margin });
            }
        }
    }
    couples
}

/// The names of a couple, for people and scripts.
pub fn parties(hand: &Stagehand, casts: [&Cast; 2], couple: &Couple) -> [Party; 2] {
    [0, 1].map(|side| Party::of(hand.body(casts[side].moved[couple.bodies[side]])))
}
