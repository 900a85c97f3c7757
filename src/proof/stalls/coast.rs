//! How far the other rigs of a cue go on after one has stalled.
//!
//! From the stall to the first effect of the group's stop passes `react`; or the time in which the stall is noticed, if
//! that is longer: until the rig's link times out, or until an axis that was told to go on lags by its limit. Then the
//! others brake as for any stop. A rig that is never told farther than its lag limit from where it stands is not
//! noticed; it is off its path by no more than its lag.

use crate::motion::{Regime, change_rate};
use crate::proof::bodies::Span;
use crate::proof::plan::{CuePlan, MovePlan};
use crate::proof::timeline::courses;
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

/// s of the cue's own time: the most that it goes on until a stall anywhere in `span` is noticed.
pub fn notice(show: &Show, plan: &CuePlan, rig: RigId, span: Span, way: Way) -> f64 {
    let rate = match way {
        Way::Forth => 1.0,
        Way::Back => show.settings.return_rate,
    };
    let settled = show.settings.react.seconds().max(show.rig(rig).link_timeout.seconds()) * rate;
    // Who stalls later is noticed later, so that the ends of the span tell of all that lies between them.
    let lagged = match way {
        Way::Forth => match (lags_at(show, plan, rig, span.from, way), lags_at(show, plan, rig, span.to, way)) {
            (_, Some(last)) => last - span.from,
            (Some(_), None) => plan.duration - span.from,
            (None, None) => 0.0,
        },
        Way::Back => match (lags_at(show, plan, rig, span.to, way), lags_at(show, plan, rig, span.from, way)) {
            (_, Some(last)) => span.to - last,
            (Some(_), None) => span.to,
            (None, None) => 0.0,
        },
    };
    settled.max(lagged)
}

/// The time of the cue at which an axis of the rig, told to go on, is at its lag limit from where it is at `stalled`.
fn lags_at(show: &Show, plan: &CuePlan, rig: RigId, stalled: f64, way: Way) -> Option<f64> {
    let of_rig = plan.moves.iter().filter(|step| step.rig == rig);
    let times = of_rig.filter_map(|step| lags_by(show, step, stalled, way));
    match way {
        Way::Forth => times.min_by(f64::total_cmp),
        Way::Back => times.max_by(f64::total_cmp),
    }
}

fn lags_by(show: &Show, step: &MovePlan, stalled: f64, way: Way) -> Option<f64> {
    let share = |path: &crate::proof::AxisPath| show.axis(path.axis).lag_limit / (path.to - path.from).abs();
    let share = step.axes.iter().map(share).fold(f64::INFINITY, f64::min);
    let along = |time: f64| step.profile.at(time - step.delay).position;
    let stands = along(stalled);
    let lags = |time: f64| (along(time) - stands).abs() >= share;
    let (mut before, mut after) = match way {
        Way::Forth => (stalled, step.end().max(stalled)),
        Way::Back => (stalled, step.delay.min(stalled)),
    };
    if !lags(after) {
        return None;
    }
    for _ in 0..HALVINGS {
        let middle = (before + after) / 2.0;
        if lags(middle) { after = middle } else { before = middle }
    }
    Some(after)
}

/// s of the cue's own time: the most that a brake takes after a stall anywhere in `span` while the cue is taken back.
pub fn brake_back(show: &Show, plan: &CuePlan, rig: RigId, span: Span) -> f64 {
    let noticed = notice(show, plan, rig, span, Way::Back);
    let begins = Span { from: (span.from - noticed).max(0.0), to: span.to };
    let rate = -show.settings.return_rate;
    let brake = |time: f64| {
        let brake = change_rate(&courses(show, plan, time), rate, 0.0, 0.0, Regime::Stopping);
        brake.map_or(time, |ramp| ramp.distance().abs())
    };
    [begins.from, begins.middle(), begins.to].into_iter().map(brake).fold(0.0, f64::max)
}
