//! A map divided into cells.

use serde::{Deserialize, Serialize};

use super::{Couple, couples, parties};
use crate::proof::bodies::{Cast, Paper, Span, Stagehand};
use crate::proof::clearance::{Party, SLACK, bound_apart};
use crate::stage::Sweep;

/// s, the finest that a cue's time is divided; people call no finer.
const FINE: f64 = 0.05;
/// Parts of a cue's time at most, for cues of many minutes.
const PARTS_MAX: f64 = 2048.0;
/// How much finer a map is divided in which nothing was seen to come too near, so that two cues which pass each other
/// close to their margin are proved clear.
const FINER: f64 = 16.0;

/// A part of a map that is not proved clear.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Cell {
    pub first: Span,
    pub second: Span,
    /// The bodies themselves are too near throughout. Else the cell is as fine as the resolution, or too near by what
    /// the start tolerances may add; it is not proved.
    pub blocked: bool,
    /// m, the clearance in its middle.
    pub value: f64,
    /// m, that must remain.
    pub margin: f64,
    /// The bodies that it is of: of the first cue, of the second.
    pub parties: [Party; 2],
}

impl Cell {
    /// Whether its middle was seen to be too near.
    pub fn seen(&self) -> bool {
        self.value < self.margin - SLACK
    }
}

/// Every cell of the map that is not proved clear.
pub fn divide(hand: &Stagehand, casts: [&Cast; 2]) -> Vec<Cell> {
    let couples = couples(hand, casts);
    if couples.is_empty() {
        return Vec::new();
    }
    let mut division = Division { hand, sides: casts.map(Side::new), cells: Vec::new() };
    division.cell([Node::WHOLE; 2], &couples);
    if !division.cells.is_empty() && !division.cells.iter().any(Cell::seen) {
        division.cells.clear();
        division.sides.iter_mut().for_each(|side| side.finest /= FINER);
        division.cell([Node::WHOLE; 2], &couples);
    }
    division.cells
}

/// A part of a cue's time: `1 << level` of them make the whole.
#[derive(Clone, Copy, Debug)]
struct Node {
    level: u32,
    index: usize,
}

impl Node {
    const WHOLE: Node = Node { level: 0, index: 0 };

    fn halves(self) -> [Node; 2] {
        [0, 1].map(|half| Node { level: self.level + 1, index: 2 * self.index + half })
    }

    fn span(self, duration: f64) -> Span {
        let part = duration / (1_u64 << self.level) as f64;
        let end = if self.index + 1 == 1 << self.level { duration } else { part * (self.index + 1) as f64 };
        Span { from: part * self.index as f64, to: end }
    }

    /// Its place in a list of all nodes, level by level.
    fn place(self) -> usize {
        (1 << self.level) - 1 + self.index
    }
}

/// One cue: its bodies over every part of its time that was asked for.
struct Side<'a> {
    cast: &'a Cast<'a>,
    paper: Paper,
    nodes: Vec<Vec<Sweep>>,
    finest: f64,
}

impl<'a> Side<'a> {
    fn new(cast: &'a Cast<'a>) -> Side<'a> {
        Side { cast, paper: cast.paper(), nodes: Vec::new(), finest: FINE.max(cast.duration() / PARTS_MAX) }
    }

    fn prepare(&mut self, node: Node) {
        if self.nodes.len() <= node.place() {
            self.nodes.resize_with(node.place() + 1, Vec::new);
        }
        let sweeps = &mut self.nodes[node.place()];
        if sweeps.is_empty() {
            self.cast.over(node.span(self.cast.duration()), &mut self.paper, sweeps);
        }
    }

    fn sweep(&self, node: Node, body: usize) -> &Sweep {
        &self.nodes[node.place()][body]
    }

    /// m, how far the open bodies move within the node, or nothing if it is not to be divided.
    fn motion(&self, node: Node, bodies: impl Iterator<Item = usize>) -> f64 {
        if node.span(self.cast.duration()).length() <= self.finest {
            return 0.0;
        }
        bodies.map(|body| self.sweep(node, body).shift).fold(0.0, f64::max)
    }
}

struct Division<'a> {
    hand: &'a Stagehand<'a>,
    sides: [Side<'a>; 2],
    cells: Vec<Cell>,
}

impl Division<'_> {
    fn cell(&mut self, nodes: [Node; 2], open: &[Couple]) {
        for (side, node) in self.sides.iter_mut().zip(nodes) {
            side.prepare(node);
        }
        let (mut left, mut nearest, mut blocked, mut hopeless) = (Vec::new(), None, false, false);
        for couple in open {
            let [a, b] = [0, 1].map(|side| self.sides[side].sweep(nodes[side], couple.bodies[side]));
            let enough = couple.margin - SLACK;
            let bound = bound_apart(a, b, enough);
            if enough <= 0.0 || bound.least >= enough {
                continue;
            }
            left.push(*couple);
            let value = bound.middle.max(0.0);
            if nearest.is_none_or(|(least, _)| value < least) {
                nearest = Some((value, *couple));
            }
            blocked |= bound.most < enough;
            hopeless |= value + a.shift + b.shift < enough;
        }
        let Some((value, couple)) = nearest else { return };
        let motion =
            [0, 1].map(|side| self.sides[side].motion(nodes[side], left.iter().map(|couple| couple.bodies[side])));
        if blocked || hopeless || motion == [0.0, 0.0] {
            let [first, second] = [0, 1].map(|side| nodes[side].span(self.sides[side].cast.duration()));
            let parties = parties(self.hand, [0, 1].map(|side| self.sides[side].cast), &couple);
            self.cells.push(Cell { first, second, blocked, value, margin: couple.margin, parties });
            return;
        }
        let [one, other] = nodes;
        if motion[0] >= motion[1] {
            one.halves().into_iter().for_each(|half| self.cell([half, other], &left));
        } else {
            other.halves().into_iter().for_each(|half| self.cell([one, half], &left));
        }
    }
}
