//! Passages against published values, against the verifier over random bounds, and against brute force.

mod brute;
mod limits;
mod published;

use super::*;
use crate::motion::rate::Range;

pub(super) fn state(position: f64, speed: f64, acceleration: f64) -> State {
    State { position, speed, acceleration }
}

pub(super) fn bounds(speed: f64, acceleration: f64, jerk: f64) -> Bounds {
    Bounds::both_ways(crate::show::Limits { speed, acceleration, jerk }).unwrap()
}

pub(super) fn span(least: f64, most: f64) -> Range {
    Range { low: -least, high: most }
}

/// Planned, and found to keep its promises.
pub(super) fn quickest(from: State, to: State, bounds: &Bounds) -> Passage {
    let passage = Passage::quickest(from, to, bounds).unwrap();
    assert_eq!(verify_passage(&passage, from, Some(to), bounds), Ok(()), "{from:?} {to:?} {bounds:?}");
    passage
}

pub(super) fn close(found: f64, expected: f64, rounding: f64) {
    assert!((found - expected).abs() <= rounding, "found {found}, expected {expected}");
}

pub(super) fn holds(range: Range, value: f64) -> bool {
    range.low <= value && value <= range.high
}
