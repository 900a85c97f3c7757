//! An absolute control, from 0 at the low end of the travel to 1 at its high end.

use crate::motion::rate::Range;

/// As near as this share of the travel, a dial stands where its axis does.
const NEAR: f64 = 1e-3;

/// A dial, and whether it has been picked up: it does nothing until it has passed where its axis stands.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Dial {
    /// Where it was last, of 1.
    value: Option<f64>,
    is_picked_up: bool,
}

impl Dial {
    /// A new value, 0 to 1, while the axis stands at `position` of its travel. Whatever is no such value is none: it changes
    /// nothing. Gives whether the dial is picked up.
    pub fn turn(&mut self, value: f64, position: f64, travel: Range) -> bool {
        if (0.0..=1.0).contains(&value) {
            let stands = (position - travel.low) / (travel.high - travel.low);
            let before = self.value.unwrap_or(value);
            let passed = (before - stands) * (value - stands) <= 0.0;
            self.is_picked_up |= passed || (value - stands).abs() <= NEAR;
            self.value = Some(value);
        }
        self.is_picked_up
    }

    /// Something else moves the axis, or nothing does: it has to be picked up again.
    pub fn let_go(&mut self) {
        *self = Dial::default();
    }

    /// Where it stands, 0 to 1; none before it said anything.
    pub fn value(&self) -> Option<f64> {
        self.value
    }

    pub fn is_picked_up(&self) -> bool {
        self.is_picked_up
    }

    /// Where it takes its axis, once picked up.
    pub fn target(&self, travel: Range) -> Option<f64> {
        let value = self.value.filter(|_| self.is_picked_up)?;
        Some(if value == 1.0 { travel.high } else { travel.low + value * (travel.high - travel.low) })
    }
}
