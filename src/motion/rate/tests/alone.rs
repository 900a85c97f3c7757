//! The quickest start of a move that is alone, by the passages of an axis: from where it stands to the first state of its path,
//! at the new rate, to which it can come. It shares nothing with what it judges but the path itself.

use super::super::Course;
use crate::motion::{Bounds, Passage, State};
use crate::show::Limits;

/// Instants of the path at which it may be met, the more the nearer.
const INSTANTS: u32 = 240;
/// Instants of a passage that must not go against its way.
const LOOKS: u32 = 40;
/// A state of the path may be at its limit: it may be met with so much more, as a part.
const SLACK: f64 = 1e-5;

/// s, until the move goes at the rate `to`, or has ended; nothing of one that has not begun.
pub fn least_start(course: &Course, to: f64) -> f64 {
    let end = if to > 0.0 { course.path.duration() } else { 0.0 };
    let under_way = 0.0 < course.time && course.time < course.path.duration();
    if !under_way {
        return 0.0;
    }
    starts(course, to, end).map(|(takes, _)| takes).fold(f64::INFINITY, f64::min)
}

/// s, by which the move ends later at the least than if it went at its full rate at once. That it never goes faster than at
/// that rate is looked at too.
pub fn least_lost(course: &Course) -> f64 {
    if course.time <= 0.0 || course.time >= course.path.duration() {
        return 0.0;
    }
    let lost = starts(course, 1.0, course.path.duration()).map(|(takes, met)| takes - (met - course.time));
    lost.fold(f64::INFINITY, f64::min)
}

/// The quickest passages to instants of the path: how long each takes, s, and the path's own time where it meets it.
fn starts(course: &Course, to: f64, end: f64) -> impl Iterator<Item = (f64, f64)> + '_ {
    let from = State::at_rest(course.path.at(course.time).position);
    let [speed, acceleration, jerk] =
        [course.run.speed, course.run.acceleration, course.run.jerk].map(|limit| limit * (1.0 + SLACK));
    let bounds = Bounds::both_ways(Limits { speed, acceleration, jerk }).unwrap();
    (0..=INSTANTS).filter_map(move |instant| {
        let part = f64::from(instant) / f64::from(INSTANTS);
        let time = course.time + (end - course.time) * part * part;
        let met = course.path.at(time);
        let at = State { position: met.position, speed: met.speed * to, acceleration: met.acceleration * to * to };
        let passage = Passage::quickest(from, at, &bounds).ok()?;
        let takes = passage.duration();
        let keeps = |look: u32| {
            let now = passage.at(takes * f64::from(look) / f64::from(LOOKS));
            let planned = course.path.at(time_at(course, now.position, [course.time, time])).speed;
            now.speed * to >= -1e-9 * speed && (to < 1.0 || now.speed <= planned * 1.0005 + 1e-4 * speed)
        };
        (0..=LOOKS).all(keeps).then_some((takes, time))
    })
}

/// The path's own time at which it is at a position.
fn time_at(course: &Course, position: f64, [mut before, mut after]: [f64; 2]) -> f64 {
    for _ in 0..40 {
        let middle = (before + after) / 2.0;
        if course.path.at(middle).position < position { before = middle } else { after = middle }
    }
    after
}
