//! A passage between two states within the bounds, seen from where its solution is simplest.

use super::bounds::{Bounds, State};

/// Pieces of constant jerk between two states within the bounds.
pub(super) const STROKES: usize = 7;
/// The one in their middle.
pub(super) const CRUISE: usize = 3;

/// Constant jerk for a time, from one acceleration to another. These are told as they are meant: summed up from jerk and
/// time they would hold the rounding of all that went before, which a long hold turns into speed.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(super) struct Stroke {
    pub time: f64,
    pub jerk: f64,
    pub begin: f64,
    pub end: f64,
}

impl Stroke {
    /// At a jerk, above or below zero, from one acceleration to another that lies that way.
    pub fn change(begin: f64, end: f64, jerk: f64) -> Stroke {
        Stroke { time: ((end - begin) / jerk).max(0.0), jerk, begin, end }
    }

    pub fn hold(acceleration: f64, time: f64) -> Stroke {
        Stroke { time: time.max(0.0), jerk: 0.0, begin: acceleration, end: acceleration }
    }

    pub fn mirrored(self) -> Stroke {
        let Stroke { time, jerk, begin, end } = self;
        Stroke { time, jerk: -jerk, begin: -begin, end: -end }
    }

    fn reversed(self) -> Stroke {
        let Stroke { time, jerk, begin, end } = self;
        Stroke { time, jerk: -jerk, begin: end, end: begin }
    }
}

/// Both ends within the bounds; how far apart they are.
#[derive(Clone, Copy, Debug)]
pub(super) struct Task {
    pub distance: f64,
    /// How well that is known, since it is the difference of two positions.
    pub rounding: f64,
    pub from_speed: f64,
    pub from_acceleration: f64,
    pub to_speed: f64,
    pub to_acceleration: f64,
    pub bounds: Bounds,
}

impl Task {
    pub fn new(from: State, to: State, bounds: Bounds) -> Task {
        Task {
            distance: to.position - from.position,
            rounding: 4.0 * f64::EPSILON * (from.position.abs() + to.position.abs()),
            from_speed: from.speed,
            from_acceleration: from.acceleration,
            to_speed: to.speed,
            to_acceleration: to.acceleration,
            bounds,
        }
    }

    /// The axis counted the other way.
    pub fn mirrored(&self) -> Task {
        Task {
            distance: -self.distance,
            from_speed: -self.from_speed,
            from_acceleration: -self.from_acceleration,
            to_speed: -self.to_speed,
            to_acceleration: -self.to_acceleration,
            bounds: self.bounds.mirrored(),
            ..*self
        }
    }

    /// The film run backwards.
    pub fn reversed(&self) -> Task {
        Task {
            distance: -self.distance,
            from_speed: -self.to_speed,
            from_acceleration: self.to_acceleration,
            to_speed: -self.from_speed,
            to_acceleration: self.from_acceleration,
            bounds: self.bounds.reversed(),
            ..*self
        }
    }
}

/// What a mirrored task's strokes are in the task itself.
pub(super) fn mirror(strokes: [Stroke; STROKES]) -> [Stroke; STROKES] {
    strokes.map(Stroke::mirrored)
}

/// What a reversed task's strokes are in the task itself.
pub(super) fn reverse(mut strokes: [Stroke; STROKES]) -> [Stroke; STROKES] {
    strokes.reverse();
    strokes.map(Stroke::reversed)
}
