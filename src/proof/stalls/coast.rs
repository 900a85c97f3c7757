//! How far the other rigs of a cue go on after one has stalled.
//!
//! From the stall to the first effect of the group's stop passes `react`; or the time in which the stall is noticed, if
//! that is longer: until the rig's link times out, or until an axis that was told to go on lags by its limit. Then the
//! others brake as for any stop. A rig that is never told farther than its lag limit from where it stands is not
//! noticed; it is off its path by no more than its lag.

use crate::proof::bodies::Span;
use crate::proof::plan::{AxisPath, CuePlan, MovePlan};
use crate::show::{RigId, Show};

/// Halvings of the time in which an axis comes to its lag limit; what is left is counted to it.
const HALVINGS: usize = 24;

/// Which way a cue runs.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Way {
    Forth,
    /// Taken back, at the show's return rate.
    Back,
}

impl Way {
    pub fn index(self) -> usize {
        match self {
            Way::Forth => 0,
            Way::Back => 1,
        }
    }
}

/// s of the cue's own time: the most that it goes on until a stall anywhere in `span` is noticed.
pub fn notice(show: &Show, plan: &CuePlan, rig: RigId, span: Span, way: Way) -> f64 {
    let rate = match way {
        Way::Forth => 1.0,
        Way::Back => show.settings.return_rate,
    };
    let settled = show.settings.react.seconds().max(show.rig(rig).link_timeout.seconds()) * rate;
    // Noticed at the latest once an axis is told to be farther than its lag limit from everywhere that it has been in
    // the span: of an axis that goes one way, farther than that from where it is last.
    let (end, left) = match way {
        Way::Forth => (plan.duration, plan.duration - span.from),
        Way::Back => (0.0, span.to),
    };
    let whole = Span { from: span.from.min(end), to: span.to.max(end) };
    let of_rig = || plan.moves.iter().filter(|step| step.rig == rig);
    let noticed = of_rig().filter_map(|step| lags_by(show, step, span, way)).map(|at| match way {
        Way::Forth => at - span.from,
        Way::Back => span.to - at,
    });
    let lagged = match noticed.min_by(f64::total_cmp) {
        Some(latest) => latest,
        None if of_rig().any(|step| may_lag(show, step, span, whole)) => left,
        None => 0.0,
    };
    settled.max(lagged)
}

/// The time of the cue by which an axis of the move, told to go on, is beyond its lag limit from wherever it is in `span`.
fn lags_by(show: &Show, step: &MovePlan, span: Span, way: Way) -> Option<f64> {
    let times = step.axes.iter().filter_map(|path| {
        let (lag, stands) = (show.axis(path.axis).lag_limit, step.positions(path, span.from, span.to));
        let lags = |at: f64| at >= stands.high + lag || at <= stands.low - lag;
        first_on_way(step, path, span, way, lags)
    });
    match way {
        Way::Forth => times.min_by(f64::total_cmp),
        Way::Back => times.max_by(f64::total_cmp),
    }
}

/// Whether an axis of the move can come to its lag limit from anywhere that it is in `span`.
fn may_lag(show: &Show, step: &MovePlan, span: Span, whole: Span) -> bool {
    step.axes.iter().any(|path| {
        let [stands, reached] = [span, whole].map(|span| step.positions(path, span.from, span.to));
        let lag = show.axis(path.axis).lag_limit;
        reached.high - stands.low >= lag || stands.high - reached.low >= lag
    })
}

/// The first time of the cue, on its way from `span`, at which an axis is where `beyond` says: far enough up, or down.
fn first_on_way(
    step: &MovePlan,
    path: &AxisPath,
    span: Span,
    way: Way,
    beyond: impl Fn(f64) -> bool,
) -> Option<f64> {
    let lags = |time: f64| beyond(step.at(path, time).position);
    let mut begin = match way {
        Way::Forth => span.to,
        Way::Back => span.from,
    };
    // From turn to turn it goes one way.
    let until = |end: f64| {
        let (mut before, mut after) = (std::mem::replace(&mut begin, end), end);
        if !lags(after) {
            return None;
        }
        for _ in 0..HALVINGS {
            let middle = (before + after) / 2.0;
            if lags(middle) { after = middle } else { before = middle }
        }
        Some(after)
    };
    let turns = step.turns(path);
    match way {
        Way::Forth => turns.filter(|&turn| turn > span.to).chain([step.end().max(span.to)]).find_map(until),
        Way::Back => {
            turns.rev().filter(|&turn| turn < span.from).chain([step.delay.min(span.from)]).find_map(until)
        }
    }
}
