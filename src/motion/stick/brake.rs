//! The brake of an axis in hand, and how far it takes it.

use crate::motion::passage::{Bounds, Impossible, Passage, State};
use crate::motion::profile::Sample;
use crate::motion::rate::Range;

/// One tick of an axis in hand.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Step {
    /// At the end of the tick.
    pub setpoint: Sample,
    /// Everywhere the axis passes from the beginning of the tick until it is at rest, should it be braked from its end on.
    pub passes: Range,
}

/// One tick of the quickest way to rest under the limits on acceleration and jerk; `period` in s. Only numbers that are
/// no state are refused.
///
/// Braked again from where this ends, the axis goes on along the same way, so that it stays within what [`coast`] told before
/// the first tick (but for rounding).
pub fn brake(from: State, bounds: &Bounds, period: f64) -> Result<Step, Impossible> {
    let stop = Passage::stop(from, bounds)?;
    Ok(Step { setpoint: stop.at(period), passes: extent(&stop) })
}

/// The closed interval of positions through which an axis passes until it is at rest, braked from this state on under the limits
/// on acceleration and jerk. Only numbers that are no state are refused.
///
/// An axis that goes one way and is not bound to turn round, as those that a [`Follower`](super::Follower) drives, is
/// nowhere faster under stricter braking: with greater limits it stays within the interval of lesser ones.
pub fn coast(from: State, bounds: &Bounds) -> Result<Range, Impossible> {
    Ok(extent(&Passage::stop(from, bounds)?))
}

/// From the least position on a passage to the greatest.
fn extent(passage: &Passage) -> Range {
    let last = passage.to().position;
    let mut extent = Range::of(passage.from().position, last);
    for (begin, time) in passage.pieces().filter(|(_, time)| *time > 0.0) {
        extent = extent.with(begin.position);
        for turning in turnings(begin) {
            if turning > 0.0 && turning < time {
                extent = extent.with(begin.after(turning).position);
            }
        }
    }
    extent
}

/// When the speed is zero under constant jerk, s from the beginning; no number where it never is.
fn turnings(begin: Sample) -> [f64; 2] {
    let Sample { speed, acceleration, jerk, .. } = begin;
    let root = (acceleration * acceleration - 2.0 * jerk * speed).sqrt();
    // The sum of equal signs, so that nothing cancels; the other root from the product of both.
    let sum = -(acceleration + if acceleration < 0.0 { -root } else { root });
    [sum / jerk, 2.0 * speed / sum]
}
