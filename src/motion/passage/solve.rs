//! The least time between two states within the bounds.
//!
//! Let the *coasting speed* of a state be what is left once its acceleration has been taken away. If the end's lies at
//! or above the start's, the quickest change between the two speeds goes up first, and from it two unbroken curves
//! begin: the farthest and the least that can be covered in each time ([`Reach`]; the second is the first with the
//! film run backwards). The wished distance lies on one of them. Else the same holds with the axis counted the other
//! way; but where both accelerations have the same sign there may be a short loop besides, of passages on which the
//! acceleration never passes zero. All of it is quicker than the curves, and between the two no time at all is
//! possible: the reason why a passage to a moving target can jump from one tenth of a second to ten.

use super::reach::Reach;
use super::task::{STROKES, Stroke, Task, mirror, reverse};

/// Speeds nearer than this share of themselves are equal.
const NEAR: f64 = 1e-14;

/// The strokes of the quickest passage. Both ends of the task are within its bounds.
pub(super) fn quickest(task: &Task) -> [Stroke; STROKES] {
    let coasts_at = task.bounds.coasts_at(task.from_speed, task.from_acceleration);
    let came_from = task.bounds.came_from(task.to_speed, task.to_acceleration);
    let slack = NEAR * (coasts_at.abs() + came_from.abs() + task.from_speed.abs() + task.to_speed.abs());
    // Where the two are equal, the way without a loop.
    let upwards = if task.from_acceleration < 0.0 && task.to_acceleration < 0.0 {
        came_from > coasts_at + slack
    } else {
        came_from >= coasts_at - slack
    };
    if upwards { upward(task) } else { mirror(upward(&task.mirrored())) }
}

/// For a task whose end coasts at no lower a speed than its start.
fn upward(task: &Task) -> [Stroke; STROKES] {
    let falling = task.from_acceleration < 0.0 && task.to_acceleration < 0.0;
    if falling && let Some(strokes) = around_loop(&task.mirrored()) {
        return mirror(strokes);
    }
    let curve = Reach::new(*task);
    let start = curve.start();
    if start.meets(task) {
        curve.strokes(&start, 0.0)
    } else if start.distance < task.distance {
        along_curve(task)
    } else {
        reverse(along_curve(&task.reversed()))
    }
}

/// The first passage of the curve that covers the distance, which is more than where it begins.
fn along_curve(task: &Task) -> [Stroke; STROKES] {
    let curve = Reach::new(*task);
    let (start, fastest) = (curve.start(), curve.fastest());
    if let Some(point) = curve.first_to_reach(&start, &fastest) {
        return curve.strokes(&point, 0.0);
    }
    let cruise = (task.distance - fastest.distance) / task.bounds.speed().high;
    curve.strokes(&fastest, cruise)
}

/// Between two accelerations above zero without passing zero, if that can cover the distance.
fn around_loop(task: &Task) -> Option<[Stroke; STROKES]> {
    let (begin, end) = (task.from_acceleration, task.to_acceleration);
    let jerk = if end >= begin { task.bounds.jerk().high } else { task.bounds.jerk().low };
    let gain = task.to_speed - task.from_speed;
    // Less than one stroke from the one acceleration to the other would gain cannot be gained.
    let one_stroke = (end - begin) * (end + begin) / (2.0 * jerk);
    if gain < one_stroke - NEAR * (task.from_speed.abs() + task.to_speed.abs() + one_stroke.abs()) {
        return None;
    }
    let curve = Reach::new(*task);
    let start = curve.start();
    if start.meets(task) {
        return Some(curve.strokes(&start, 0.0));
    }
    if start.distance < task.distance { along_loop(task) } else { along_loop(&task.reversed()).map(reverse) }
}

fn along_loop(task: &Task) -> Option<[Stroke; STROKES]> {
    let curve = Reach::new(*task);
    let start = curve.start();
    let end = curve.level();
    curve.first_to_reach(&start, &end).map(|point| curve.strokes(&point, 0.0))
}
