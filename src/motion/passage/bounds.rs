//! What a passage is asked for: states, bounds, and what no plan can give.

use crate::motion::profile::Sample;
use crate::motion::rate::Range;
use crate::show::Limits;

/// Numbers beyond this, or limits below its inverse, are no machine's; within it nothing overflows on the way.
const LARGEST: f64 = 1e30;
/// How much further a limit may reach one way than the other.
const MOST_UNEQUAL: f64 = 1e6;
/// Rounding allowed where a target lies on a limit, as a fraction of what is compared.
const ROUNDING: f64 = 1e-12;

/// Where an axis is and how it moves, in the axis's own unit, per s, per s².
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct State {
    pub position: f64,
    pub speed: f64,
    pub acceleration: f64,
}

impl State {
    pub fn at_rest(position: f64) -> State {
        State { position, ..State::default() }
    }

    pub(in crate::motion) fn of(sample: Sample) -> State {
        let Sample { position, speed, acceleration, .. } = sample;
        State { position, speed, acceleration }
    }

    pub(in crate::motion) fn with_jerk(self, jerk: f64) -> Sample {
        let State { position, speed, acceleration } = self;
        Sample { position, speed, acceleration, jerk }
    }
}

/// The limits of an axis by direction: each of speed, acceleration and jerk may reach further one way than the other.
/// An axis that moves upwards speeds up by `acceleration.high` and slows down by `acceleration.low`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Bounds {
    speed: Range,
    acceleration: Range,
    jerk: Range,
}

impl Bounds {
    /// Per s, s² and s³. Each reaches from below zero to above it, each end between 1e-30 and 1e30 away, neither
    /// more than a million times as far as the other.
    pub fn new(speed: Range, acceleration: Range, jerk: Range) -> Result<Bounds, Impossible> {
        for (limit, range) in [(Limit::Speed, speed), (Limit::Acceleration, acceleration), (Limit::Jerk, jerk)] {
            for (found, way, other) in [(range.low, -1.0, range.high), (range.high, 1.0, range.low)] {
                let size = way * found;
                if !(1.0 / LARGEST..=LARGEST).contains(&size) || size > MOST_UNEQUAL * other.abs() {
                    return Err(Impossible::Bound { limit, found });
                }
            }
        }
        Ok(Bounds { speed, acceleration, jerk })
    }

    /// The same both ways.
    pub fn both_ways(limits: Limits) -> Result<Bounds, Impossible> {
        let Limits { speed, acceleration, jerk } = limits;
        let range = |limit: f64| Range { low: -limit, high: limit };
        Bounds::new(range(speed), range(acceleration), range(jerk))
    }

    pub fn speed(&self) -> Range {
        self.speed
    }

    pub fn acceleration(&self) -> Range {
        self.acceleration
    }

    pub fn jerk(&self) -> Range {
        self.jerk
    }

    /// As seen by an axis that counts the other way.
    pub(super) fn mirrored(self) -> Bounds {
        Bounds { speed: mirrored(self.speed), acceleration: mirrored(self.acceleration), jerk: mirrored(self.jerk) }
    }

    /// As seen by a clock that runs backwards: accelerations keep their sign.
    pub(super) fn reversed(self) -> Bounds {
        Bounds { speed: mirrored(self.speed), jerk: mirrored(self.jerk), ..self }
    }

    /// The speed that is left once `acceleration` has been taken away as fast as the jerk permits.
    pub(in crate::motion) fn coasts_at(&self, speed: f64, acceleration: f64) -> f64 {
        let jerk = if acceleration > 0.0 { self.jerk.low } else { self.jerk.high };
        speed - acceleration * acceleration / (2.0 * jerk)
    }

    /// The speed from which `acceleration` was built up as fast as the jerk permits.
    pub(super) fn came_from(&self, speed: f64, acceleration: f64) -> f64 {
        let jerk = if acceleration > 0.0 { self.jerk.high } else { self.jerk.low };
        speed - acceleration * acceleration / (2.0 * jerk)
    }
}

/// One of the three limits of an axis.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Limit {
    Speed,
    Acceleration,
    Jerk,
}

/// Why there is no passage.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Impossible {
    /// A limit is not a number, on the wrong side of zero, not between 1e-30 and 1e30 in size, or a million times as far
    /// from zero as the one the other way.
    Bound { limit: Limit, found: f64 },
    /// A position, speed or acceleration is not a number, or larger than 1e30.
    NoState { found: f64 },
    /// The passage would have to end outside a limit.
    Target { limit: Limit, found: f64, allowed: f64 },
    /// To arrive with this acceleration the axis must have had this speed just before.
    Arrival { speed: f64, allowed: f64 },
    /// Whatever follows, an axis that arrives with this acceleration has this speed soon after.
    Departure { speed: f64, allowed: f64 },
}

/// Whether numbers are finite and of a size that can be computed with.
pub(super) fn check_state(state: State) -> Result<(), Impossible> {
    for found in [state.position, state.speed, state.acceleration] {
        if found.is_nan() || found.abs() > LARGEST {
            return Err(Impossible::NoState { found });
        }
    }
    Ok(())
}

/// Whether an axis that keeps its limits, before and after, can be in this state.
pub(super) fn check_target(to: State, bounds: &Bounds) -> Result<(), Impossible> {
    check_state(to)?;
    if let Some(allowed) = broken(bounds.speed, to.speed) {
        return Err(Impossible::Target { limit: Limit::Speed, found: to.speed, allowed });
    }
    if let Some(allowed) = broken(bounds.acceleration, to.acceleration) {
        return Err(Impossible::Target { limit: Limit::Acceleration, found: to.acceleration, allowed });
    }
    let before = bounds.came_from(to.speed, to.acceleration);
    if let Some(allowed) = broken(bounds.speed, before) {
        return Err(Impossible::Arrival { speed: before, allowed });
    }
    let after = bounds.coasts_at(to.speed, to.acceleration);
    match broken(bounds.speed, after) {
        Some(allowed) => Err(Impossible::Departure { speed: after, allowed }),
        None => Ok(()),
    }
}

fn mirrored(range: Range) -> Range {
    Range { low: -range.high, high: -range.low }
}

/// The end that a value lies beyond, if it does by more than rounding.
fn broken(range: Range, value: f64) -> Option<f64> {
    let slack = ROUNDING * value.abs();
    if value > range.high + slack {
        Some(range.high)
    } else if value < range.low - slack {
        Some(range.low)
    } else {
        None
    }
}
