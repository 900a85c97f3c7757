//! The search for a deadlock: interlocks that are false in a state, and in every state that permitted motion leads to
//! from there, though each of them could be made true were they not in force.

use std::collections::BTreeMap;

use super::circles;
use super::grid::{Grid, Set, set_of};
use crate::proof::plan::Plan;
use crate::show::{AxisId, CueId, InterlockId, Show};

/// Interlocks that wait on each other, and where.
pub struct Deadlock {
    pub members: Vec<InterlockId>,
    /// Of every axis that it depends on, by `AxisId`.
    pub pose: Vec<(AxisId, f64)>,
    pub found: Witness,
}

/// Where the pose comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Witness {
    Opening,
    /// Where the list leaves the rigs after it.
    After(CueId),
    /// None of the list's own poses; inside travel.
    Made,
}

struct Search<'a> {
    grid: &'a Grid,
    waits: &'a [Vec<InterlockId>],
    circle: Set,
    attainable: Vec<Set>,
    /// What each set keeps from being attained, by the set.
    without: BTreeMap<Set, Vec<Set>>,
    /// The circles within a set.
    within: BTreeMap<Set, Vec<Set>>,
}

/// The deadlocks among a circle of interlocks, none of which holds another; each at a pose of the list, if there is one.
pub fn deadlocks(
    show: &Show,
    plan: &Plan,
    grid: &Grid,
    waits: &[Vec<InterlockId>],
    circle: &[InterlockId],
) -> Vec<Deadlock> {
    let mut search = Search {
        grid,
        waits,
        circle: set_of(&grid.interlocks, |id| circle.contains(&id)),
        attainable: grid.attainable(0),
        without: BTreeMap::new(),
        within: BTreeMap::new(),
    };
    let opening: Vec<f64> = show.axes.iter().map(|axis| axis.start).collect();
    let mut found: BTreeMap<Set, (usize, usize)> = BTreeMap::new();
    let home = grid.state_of(&opening);
    for state in grid.states() {
        let apart = grid.lines.iter().map(|line| grid.place(line, state).abs_diff(grid.place(line, home))).sum();
        for set in search.at(state) {
            let nearest = found.entry(set).or_insert((apart, state));
            *nearest = (*nearest).min((apart, state));
        }
    }
    let least = |set: &Set| !found.keys().any(|other| other != set && other & set == *other);
    let mut told = Vec::new();
    for (&set, &(_, state)) in found.iter().filter(|(set, _)| least(set)) {
        let ends = show.cue_ids().zip(&plan.cues).map(|(cue, plan)| (Witness::After(cue), &plan.end));
        let listed = [(Witness::Opening, &opening)].into_iter().chain(ends);
        let listed = listed.map(|(witness, pose)| (witness, pose, grid.state_of(pose)));
        let of_list = listed.into_iter().find(|(.., state)| search.at(*state).contains(&set));
        let pose = |position: &dyn Fn(&super::grid::Line) -> f64| {
            grid.lines.iter().map(|line| (line.axis, position(line))).collect()
        };
        let members = grid.interlocks.iter().enumerate().filter(|(at, _)| set >> at & 1 == 1).map(|(_, id)| *id);
        let (found, pose) = match of_list {
            Some((witness, listed, _)) => (witness, pose(&|line| listed[line.axis.index()])),
            None => {
                let made = pose(&|line| {
                    let place = grid.place(line, state);
                    let stays = place == grid.place(line, home);
                    if stays { opening[line.axis.index()] } else { line.positions[place] }
                });
                (Witness::Made, made)
            }
        };
        told.push(Deadlock { members: members.collect(), pose, found });
    }
    told
}

impl Search<'_> {
    /// The largest deadlocks of a state.
    fn at(&mut self, state: usize) -> Vec<Set> {
        let never = self.circle & !self.attainable[state];
        let mut real = Vec::new();
        let mut open = self.circles_within(never);
        while let Some(set) = open.pop() {
            let grid = self.grid;
            let without = self.without.entry(set).or_insert_with(|| grid.attainable(set));
            let freed = set & without[state];
            if freed == set {
                real.push(set);
            } else {
                // What no motion would make true waits on nobody: the others may still wait on each other.
                open.extend(self.circles_within(freed));
            }
        }
        real
    }

    fn circles_within(&mut self, set: Set) -> Vec<Set> {
        let (grid, waits) = (self.grid, self.waits);
        let within = self.within.entry(set).or_insert_with(|| {
            let members =
                grid.interlocks.iter().enumerate().filter(|(at, _)| set >> at & 1 == 1).map(|(_, id)| *id);
            let found = circles(waits, &members.collect::<Vec<_>>());
            found.iter().map(|circle| set_of(&grid.interlocks, |id| circle.contains(&id))).collect()
        });
        within.clone()
    }
}
