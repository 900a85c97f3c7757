//! From a state outside the bounds to one from which they can be kept, in the least time.
//!
//! The rule: an acceleration beyond its limit is brought back to it at the full jerk; a speed beyond its limit, or
//! bound to pass it, is brought back as soon as jerk and acceleration limits allow, however fast it is still changing as it
//! comes in, as long as it need not leave on the other side. What was bound to be passed is passed by no more than that.

use super::bounds::{Bounds, State};
use super::task::Stroke;
use crate::motion::rate::Range;

pub(super) const RUN_IN: usize = 3;
/// Speeds nearer than this share of themselves are equal.
const NEAR: f64 = 1e-14;

/// What it takes, how far it goes, and the speed and acceleration at its end.
#[derive(Clone, Copy, Debug)]
pub(super) struct RunIn {
    pub strokes: [Stroke; RUN_IN],
    pub speed: f64,
    pub acceleration: f64,
}

pub(super) fn run_in(from: State, bounds: &Bounds) -> RunIn {
    let State { speed, acceleration, .. } = from;
    let coasts_at = bounds.coasts_at(speed, acceleration);
    let Range { low: least, high: most } = bounds.speed();
    // A speed is no better known than this; a run-in for less would turn rounding into its root.
    let known = NEAR * (speed.abs() + (coasts_at - speed).abs());
    let (least, most) = (least * (1.0 + NEAR) - known, most * (1.0 + NEAR) + known);
    let (too_slow, too_fast) = (coasts_at < least, coasts_at > most);
    if too_slow || (speed < least && !too_fast) {
        let seen = down(-speed, -acceleration, &bounds.mirrored());
        let strokes = seen.strokes.map(Stroke::mirrored);
        return RunIn { strokes, speed: -seen.speed, acceleration: -seen.acceleration };
    }
    if too_fast || speed > most {
        return down(speed, acceleration, bounds);
    }
    ease(speed, acceleration, bounds)
}

/// Only the acceleration, if anything, is outside.
fn ease(speed: f64, acceleration: f64, bounds: &Bounds) -> RunIn {
    let mut run_in = RunIn { strokes: [Stroke::hold(acceleration, 0.0); RUN_IN], speed, acceleration };
    let (limit, jerk) = if acceleration > bounds.acceleration().high {
        (bounds.acceleration().high, bounds.jerk().low)
    } else if acceleration < bounds.acceleration().low {
        (bounds.acceleration().low, bounds.jerk().high)
    } else {
        return run_in;
    };
    run_in.strokes = [Stroke::hold(limit, 0.0); RUN_IN];
    run_in.strokes[0] = Stroke::change(acceleration, limit, jerk);
    run_in.speed += (limit - acceleration) * (limit + acceleration) / (2.0 * jerk);
    run_in.acceleration = limit;
    run_in
}

/// Too fast upwards, or bound to be.
fn down(speed: f64, acceleration: f64, bounds: &Bounds) -> RunIn {
    let most = bounds.speed().high;
    let bottom = -bounds.acceleration().low;
    let (jerk_up, jerk_down) = (bounds.jerk().high, -bounds.jerk().low);
    // Deeper than this, coming in at the greatest speed, the least would be passed as well.
    let deepest = (2.0 * jerk_up * (most - bounds.speed().low)).sqrt();
    let mut run_in = RunIn { strokes: [Stroke::hold(acceleration, 0.0); RUN_IN], speed, acceleration };
    if acceleration < -bottom {
        run_in = ease(speed, acceleration, bounds);
        if run_in.speed <= most {
            return run_in;
        }
    }
    let (speed, acceleration) = (run_in.speed, run_in.acceleration);
    let excess = speed - most;
    let free = (acceleration * acceleration + 2.0 * jerk_down * excess).max(0.0).sqrt();
    let (depth, hold, end) = if free <= bottom.min(deepest) {
        (free, 0.0, free)
    } else if bottom <= deepest {
        let gained = (acceleration - bottom) * (acceleration + bottom) / (2.0 * jerk_down);
        (bottom, (excess + gained) / bottom, bottom)
    } else {
        // Down, and up again to come in at the deepest: the two squares by their jerks make up the excess.
        let weight = 0.5 / jerk_up + 0.5 / jerk_down;
        let rise = excess + acceleration * acceleration / (2.0 * jerk_down) + deepest * deepest / (2.0 * jerk_up);
        let square = rise / weight;
        let depth = square.sqrt().min(bottom);
        (depth, weight * (square - depth * depth) / depth, deepest)
    };
    if depth > -acceleration {
        run_in.strokes[0] = Stroke::change(acceleration, -depth, -jerk_down);
    }
    run_in.strokes[1] = Stroke::hold(-depth, hold);
    run_in.strokes[2] = Stroke::change(-depth, -end, jerk_up);
    run_in.speed = most;
    run_in.acceleration = -end;
    run_in
}
