//! What a map says of the lines along which two cues run at one rate.

use serde::{Deserialize, Serialize};

use super::divide::Cell;

/// Starts of the second cue, s after that of the first, the ends included.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Stretch {
    pub from: f64,
    pub to: f64,
}

/// s; a gap shorter than this is none.
const NO_GAP: f64 = 1e-6;

/// The lines that pass a cell that is not clear. Past the end of a cue a line runs along the edge of the map, and
/// before the start of the first along the other: all lines that get there pass what lies ahead of them on the edge.
pub fn blocked(cells: &[Cell], [first, second]: [f64; 2]) -> Vec<Stretch> {
    joined(cells.iter().map(|cell| through(cell, first, second)).collect())
}

/// Apart and in order.
pub fn joined(mut stretches: Vec<Stretch>) -> Vec<Stretch> {
    stretches.sort_by(|a, b| a.from.total_cmp(&b.from));
    let mut joined: Vec<Stretch> = Vec::new();
    for next in stretches {
        match joined.last_mut() {
            Some(last) if next.from <= last.to + NO_GAP => last.to = last.to.max(next.to),
            Some(_) | None => joined.push(next),
        }
    }
    joined
}

/// The starts whose lines pass a cell.
pub fn through(cell: &Cell, first: f64, second: f64) -> Stretch {
    // The second has ended, or the first not begun, while the other goes on.
    let along_low_edge = cell.second.to >= second || cell.first.from <= 0.0;
    let from = if along_low_edge { f64::NEG_INFINITY } else { cell.first.from - cell.second.to };
    // The first has ended.
    let to = if cell.first.to >= first { f64::INFINITY } else { cell.first.to - cell.second.from };
    Stretch { from, to }
}

/// The same but for one stretch that is clear after all.
pub fn without(blocked: &[Stretch], clear: Stretch) -> Vec<Stretch> {
    let sides = |stretch: &Stretch| {
        let before = Stretch { to: stretch.to.min(clear.from - NO_GAP), ..*stretch };
        let after = Stretch { from: stretch.from.max(clear.to + NO_GAP), ..*stretch };
        [before, after].into_iter().filter(|side| side.from <= side.to)
    };
    blocked.iter().flat_map(sides).collect()
}

/// What is left of a stretch between those that are blocked.
pub fn gaps(blocked: &[Stretch], within: Stretch) -> Vec<Stretch> {
    let mut left = Vec::new();
    let mut from = within.from;
    for stretch in blocked {
        if stretch.from > from + NO_GAP && from <= within.to {
            left.push(Stretch { from, to: stretch.from.min(within.to) });
        }
        from = from.max(stretch.to);
    }
    if from <= within.to {
        left.push(Stretch { from, to: within.to });
    }
    left
}
