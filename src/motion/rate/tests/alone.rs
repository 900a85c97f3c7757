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
    let from = State::at_rest(course.path.at(course.time).position);
    let [speed, acceleration, jerk] =
        [course.run.speed, course.run.acceleration, course.run.jerk].map(|limit| limit * (1.0 + SLACK));
    let bounds = Bounds::both_ways(Limits { speed, acceleration, jerk }).unwrap();
    let mut least = f64::INFINITY;
    for instant in 0..=INSTANTS {
        let part = f64::from(instant) / f64::from(INSTANTS);
        let met = course.path.at(course.time + (end - course.time) * part * part);
        let at = State { position: met.position, speed: met.speed * to, acceleration: met.acceleration * to * to };
        let Ok(passage) = Passage::quickest(from, at, &bounds) else { continue };
        let time = passage.duration();
        let goes_on = |look: u32| passage.at(time * f64::from(look) / f64::from(LOOKS)).speed * to >= -1e-9 * speed;
        if time < least && (0..=LOOKS).all(goes_on) {
            least = time;
        }
    }
    least
}
