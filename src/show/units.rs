//! Units at the edges of the house, and time inside it.

use std::fmt;

use serde::{Deserialize, Serialize};

/// A span or an instant of monotonic time, in whole nanoseconds.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Nanos(pub i64);

impl Nanos {
    pub const ZERO: Nanos = Nanos(0);
    /// Longer than any show: an age that was never measured.
    pub const NEVER: Nanos = Nanos(i64::MAX);

    /// Rounds to the nearest nanosecond; saturates, and NaN gives zero.
    pub fn from_seconds(seconds: f64) -> Nanos {
        Nanos((seconds * 1e9).round() as i64)
    }

    pub fn seconds(self) -> f64 {
        self.0 as f64 / 1e9
    }

    pub fn from_millis(millis: i64) -> Nanos {
        Nanos(millis * 1_000_000)
    }

    pub fn saturating_add(self, other: Nanos) -> Nanos {
        Nanos(self.0.saturating_add(other.0))
    }
}

impl fmt::Display for Nanos {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{:.3} s", self.seconds())
    }
}

/// A length in metres, as a slide travels.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd)]
pub struct Metres(pub f64);

/// An angle in radians, as a joint turns; turns accumulate.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd)]
pub struct Radians(pub f64);

/// What a position of an axis does to its joint.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Displacement {
    Slide(Metres),
    Turn(Radians),
    /// An axis without a joint, such as a zoom ring.
    None,
}

/// The unit of an axis. Positions, speeds and limits of an axis are kept in its own unit everywhere;
/// only [`Unit::displacement`] leaves it, on the way to the stage.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub enum Unit {
    #[serde(rename = "m")]
    Metre,
    #[serde(rename = "mm")]
    Millimetre,
    #[serde(rename = "deg")]
    Degree,
    #[serde(rename = "turn")]
    Turn,
    #[serde(rename = "percent")]
    Percent,
}

impl Unit {
    pub const ALL: [Unit; 5] = [Unit::Metre, Unit::Millimetre, Unit::Degree, Unit::Turn, Unit::Percent];

    /// A whole turn, in this unit; `None` for what does not turn.
    pub fn whole_turn(self) -> Option<f64> {
        match self {
            Unit::Degree => Some(360.0),
            Unit::Turn => Some(1.0),
            Unit::Metre | Unit::Millimetre | Unit::Percent => None,
        }
    }

    /// The word for the unit in a show file.
    pub fn word(self) -> &'static str {
        match self {
            Unit::Metre => "m",
            Unit::Millimetre => "mm",
            Unit::Degree => "deg",
            Unit::Turn => "turn",
            Unit::Percent => "percent",
        }
    }

    /// The sign written after a number for people.
    pub fn sign(self) -> &'static str {
        match self {
            Unit::Metre => " m",
            Unit::Millimetre => " mm",
            Unit::Degree => "°",
            Unit::Turn => " turns",
            Unit::Percent => " %",
        }
    }

    pub fn displacement(self, position: f64) -> Displacement {
        match self {
            Unit::Metre => Displacement::Slide(Metres(position)),
            Unit::Millimetre => Displacement::Slide(Metres(position / 1000.0)),
            Unit::Degree => Displacement::Turn(Radians(position.to_radians())),
            Unit::Turn => Displacement::Turn(Radians(position * std::f64::consts::TAU)),
            Unit::Percent => Displacement::None,
        }
    }
}
