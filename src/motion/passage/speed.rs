//! A change of speed, and with it the stop: closed form, total.
//!
//! The velocity case of Biagiotti and Melchiorri, *Trajectory Planning for Automatic Machines and Robots*, 2008, section
//! 3.4, with limits by direction. Like [`Ramp`](crate::motion::Ramp), which has one limit for both ways.

use super::bounds::{Bounds, State};
use super::run_in::RUN_IN;
use super::task::Stroke;

/// To `speed` without acceleration. An acceleration beyond its limit is first brought to it.
pub(super) fn change(from: State, speed: f64, bounds: &Bounds) -> [Stroke; RUN_IN] {
    if speed >= bounds.coasts_at(from.speed, from.acceleration) {
        return rise(speed - from.speed, from.acceleration, bounds);
    }
    let mirrored = rise(from.speed - speed, -from.acceleration, &bounds.mirrored());
    mirrored.map(Stroke::mirrored)
}

/// By a gain of at least what the acceleration brings while it is taken away.
fn rise(gain: f64, acceleration: f64, bounds: &Bounds) -> [Stroke; RUN_IN] {
    let top = bounds.acceleration().high;
    let (up, down) = (bounds.jerk().high, -bounds.jerk().low);
    // The peak of a change without a hold: gain = (peak² - acceleration²) / 2 up + peak² / 2 down.
    let weight = 0.5 / up + 0.5 / down;
    let square = ((gain + acceleration * acceleration / (2.0 * up)) / weight).max(0.0);
    let free = square.sqrt().max(acceleration);
    if free <= top {
        return [Stroke::change(acceleration, free, up), Stroke::hold(free, 0.0), Stroke::change(free, 0.0, -down)];
    }
    let jerk = if acceleration > top { -down } else { up };
    let gained = (top - acceleration) * (top + acceleration) / (2.0 * jerk) + top * top / (2.0 * down);
    [
        Stroke::change(acceleration, top, jerk),
        Stroke::hold(top, (gain - gained) / top),
        Stroke::change(top, 0.0, -down),
    ]
}
