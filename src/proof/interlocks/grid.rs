//! All places that some axes can be in, as far as conditions tell them apart.
//!
//! On each axis the thresholds of the conditions, and the ends of its travel, are points, with a gap between each two: a
//! condition is one thing within a gap. A place of every axis is a state; in each state every interlock is false, or can be
//! true if inputs and cues are as it wants them. An axis goes from state to state where what guards the motion can be true:
//! where it stands, and in every gap that it goes through. At a threshold that it passes it is for no time. No two axes are
//! at a threshold at one instant, other than where they stand: no machines are as exact as that.

use crate::show::{Atom, AtomId, AxisId, Direction, InterlockId, Show, Truth};

/// States looked at at most.
const STATES_MAX: usize = 1 << 18;
/// Points of one axis at most.
const POINTS_MAX: usize = 4096;

/// A set of the grid's interlocks, by their places in it.
pub type Set = u64;

pub struct Grid {
    pub interlocks: Vec<InterlockId>,
    pub lines: Vec<Line>,
    states: usize,
    /// By state: which interlocks can be true.
    possible: Vec<Set>,
}

/// One axis.
pub struct Line {
    pub axis: AxisId,
    /// In its own unit, in order: point, gap, point and so on; of a gap, a position within it.
    pub positions: Vec<f64>,
    /// How far apart states are that differ by one place.
    stride: usize,
    /// What guards it as it goes up, and down.
    guards: [Set; 2],
}

impl Grid {
    /// Of these interlocks, at most 64, and every axis that they ask for; `None` if there are too many.
    pub fn new(show: &Show, interlocks: &[InterlockId]) -> Option<Grid> {
        if interlocks.len() > Set::BITS as usize {
            return None;
        }
        let mut axes: Vec<AxisId> = interlocks.iter().flat_map(|&id| super::axes_of(show, id)).collect();
        axes.sort_unstable();
        axes.dedup();
        let (mut lines, mut states) = (Vec::new(), 1_usize);
        for axis in axes {
            let positions = positions(&points(show, interlocks, axis)?);
            let guards = [Direction::Up, Direction::Down].map(|direction| {
                let guarding: Vec<InterlockId> = super::guarding(show, axis, direction).collect();
                set_of(interlocks, |id| guarding.contains(&id))
            });
            let stride = states;
            states = states.checked_mul(positions.len()).filter(|&states| states <= STATES_MAX)?;
            lines.push(Line { axis, positions, stride, guards });
        }
        let mut grid = Grid { interlocks: interlocks.to_vec(), lines, states, possible: Vec::new() };
        grid.possible = grid.states().map(|state| grid.judge(show, state)).collect();
        Some(grid)
    }

    pub fn states(&self) -> std::ops::Range<usize> {
        0..self.states
    }

    /// The place of an axis in a state, by its index among the positions of the line.
    pub fn place(&self, line: &Line, state: usize) -> usize {
        state / line.stride % line.positions.len()
    }

    /// The state of a pose by `AxisId`; what is outside its travel counts as at the end of it.
    pub fn state_of(&self, pose: &[f64]) -> usize {
        self.lines.iter().map(|line| line.stride * line.place_of(pose[line.axis.index()])).sum()
    }

    /// By state: which interlocks can be true there, or where permitted motion leads to from there; those `ignored` guard
    /// nothing.
    pub fn attainable(&self, ignored: Set) -> Vec<Set> {
        let mut attainable = self.possible.clone();
        let mut changed = true;
        // Now in one order, now in the other, so that what is found runs along both ways.
        let mut back = false;
        while std::mem::take(&mut changed) {
            for at in self.states() {
                let state = if back { self.states - 1 - at } else { at };
                let mut found = attainable[state];
                self.visit_next(state, ignored, &mut |next| found |= attainable[next]);
                changed |= found != attainable[state];
                attainable[state] = found;
            }
            back = !back;
        }
        attainable
    }

    fn visit_next(&self, state: usize, ignored: Set, visit: &mut dyn FnMut(usize)) {
        for line in &self.lines {
            let place = self.place(line, state);
            for (guards, up) in [(line.guards[0], true), (line.guards[1], false)] {
                let permitted = |state: usize| guards & !ignored & !self.possible[state] == 0;
                // Beyond by so many places.
                let beyond = |steps: usize| {
                    let fits = if up { place + steps < line.positions.len() } else { place >= steps };
                    let offset = steps * line.stride;
                    fits.then(|| if up { state + offset } else { state - offset })
                };
                if !permitted(state) {
                    continue;
                }
                let in_gap = place % 2 == 1;
                let (arrives, goes_on) = if in_gap { (beyond(1), beyond(2)) } else { (None, beyond(1)) };
                arrives.into_iter().for_each(&mut *visit);
                goes_on.filter(|&next| permitted(next)).into_iter().for_each(&mut *visit);
            }
        }
    }

    fn judge(&self, show: &Show, state: usize) -> Set {
        let position = |axis: AxisId| {
            let line = self.lines.iter().find(|line| line.axis == axis)?;
            Some(line.positions[self.place(line, state)])
        };
        let truth = |atom: AtomId| show.atoms[atom.index()].of_pose(show, &position).unwrap_or(Truth::Unknown);
        set_of(&self.interlocks, |id| show.interlocks[id.index()].needs.judge(&truth) != Truth::False)
    }
}

impl Line {
    fn place_of(&self, position: f64) -> usize {
        let points = self.positions.iter().step_by(2);
        let below = points.clone().take_while(|&&point| point < position).count();
        match points.clone().nth(below) {
            Some(&point) if point > position && below > 0 => 2 * below - 1,
            Some(_) => 2 * below,
            None => self.positions.len() - 1,
        }
    }
}

pub fn set_of(interlocks: &[InterlockId], holds: impl Fn(InterlockId) -> bool) -> Set {
    interlocks.iter().enumerate().filter(|(_, id)| holds(**id)).fold(0, |set, (at, _)| set | 1 << at)
}

/// Where the truth of these interlocks can change as an axis goes wherever it may stand, and both ends; in order.
fn points(show: &Show, interlocks: &[InterlockId], axis: AxisId) -> Option<Vec<f64>> {
    let [low, high] = show.axis(axis).reach();
    let mut points = vec![low, high];
    for atom in interlocks.iter().flat_map(|id| show.interlocks[id.index()].needs.atoms()) {
        match &show.atoms[atom.index()] {
            Atom::Above { axis: of, limit } | Atom::Below { axis: of, limit } if *of == axis => points.push(*limit),
            Atom::Within { axis: of, from, to, modulo: None } if *of == axis => points.extend([*from, *to]),
            Atom::Within { axis: of, from, to, modulo: Some(turn) } if *of == axis => {
                for edge in [*from, *to] {
                    let (first, last) = (((low - edge) / turn).ceil(), ((high - edge) / turn).floor());
                    if last - first > POINTS_MAX as f64 {
                        return None;
                    }
                    points.extend(
                        (0..)
                            .map(|count| first + f64::from(count))
                            .take_while(|&at| at <= last)
                            .map(|at| edge + at * turn),
                    );
                }
            }
            Atom::At { pose, .. } => {
                let tolerance = show.axis(axis).tolerance;
                let marked = pose.iter().filter(|(of, _)| *of == axis);
                points.extend(marked.flat_map(|(_, target)| [target - tolerance, target + tolerance]));
            }
            Atom::Above { .. }
            | Atom::Below { .. }
            | Atom::Within { .. }
            | Atom::Input(_)
            | Atom::CueState { .. }
            | Atom::CuePast { .. } => {}
        }
    }
    points.retain(|point| (low..=high).contains(point));
    points.sort_by(f64::total_cmp);
    points.dedup();
    (points.len() <= POINTS_MAX).then_some(points)
}

/// With a position in every gap between.
fn positions(points: &[f64]) -> Vec<f64> {
    let gaps = points.windows(2).map(|ends| short_between(ends[0], ends[1]));
    let (first, rest) = points.split_first().map_or((None, &[][..]), |(first, rest)| (Some(*first), rest));
    first.into_iter().chain(gaps.zip(rest).flat_map(|(gap, point)| [gap, *point])).collect()
}

/// A number between two that takes few digits to say.
fn short_between(low: f64, high: f64) -> f64 {
    let middle = (low + high) / 2.0;
    let rounded = (0..9).map(|digits| 10_f64.powi(digits)).map(|scale| (middle * scale).round() / scale);
    rounded.into_iter().find(|&at| low < at && at < high).unwrap_or(middle)
}
