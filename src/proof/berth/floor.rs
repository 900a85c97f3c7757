//! What must be kept where a rig in hand stands nearer to something than the margin already.
//!
//! What the tolerances of a rig that stands can take off a distance is not the same everywhere along it, and nothing at all once it
//! is in hand itself. So there is a floor for the distance less all tolerances, and one for the distance itself: who starts where
//! only a tolerance is in the way comes no nearer than the margin all the same.

use super::super::clearance::{BRACKET, SLACK};

/// m, infinite where it is the margin.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Floor {
    /// Of the distance less all tolerances.
    pub grown: f64,
    /// Of the distance itself.
    pub bare: f64,
}

impl Floor {
    pub const MARGIN: Floor = Floor { grown: f64::INFINITY, bare: f64::INFINITY };

    /// Of a rig that stands at `distance` from something, which may come nearer by a millimetre at most, and that once only.
    pub fn settled(self, distance: Floor, margin: f64) -> Floor {
        let floor = |was: f64, distance: f64| {
            if distance >= margin - SLACK {
                return f64::INFINITY;
            }
            let least = distance - BRACKET;
            if was <= distance { was.max(least) } else { least }
        };
        Floor { grown: floor(self.grown, distance.grown), bare: floor(self.bare, distance.bare) }
    }

    pub fn or_less(self, other: Floor) -> Floor {
        Floor { grown: self.grown.min(other.grown), bare: self.bare.min(other.bare) }
    }

    /// What has to be kept of a margin.
    pub fn kept(self, margin: f64) -> Kept {
        Kept { margin, grown: margin.min(self.grown) - SLACK, bare: margin.min(self.bare) - SLACK }
    }
}

/// m, what has to be kept of a margin.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Kept {
    pub margin: f64,
    pub grown: f64,
    pub bare: f64,
}

impl Kept {
    pub fn is_nothing(self) -> bool {
        self.grown <= 0.0 && self.bare <= 0.0
    }

    /// Whether the distance less tolerances may be less than the margin, so that the distance itself has to be looked at too.
    pub fn is_lowered(self) -> bool {
        self.grown < self.bare
    }
}
