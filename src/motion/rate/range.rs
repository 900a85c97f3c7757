//! Closed intervals, for bounds that hold throughout a stretch of time.

/// A closed interval.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Range {
    pub low: f64,
    pub high: f64,
}

impl Range {
    pub fn of(a: f64, b: f64) -> Range {
        Range { low: a.min(b), high: a.max(b) }
    }

    pub fn with(self, value: f64) -> Range {
        Range { low: self.low.min(value), high: self.high.max(value) }
    }

    pub fn plus(self, other: Range) -> Range {
        Range { low: self.low + other.low, high: self.high + other.high }
    }

    pub fn times(self, other: Range) -> Range {
        let products = [self.low * other.low, self.low * other.high, self.high * other.low, self.high * other.high];
        Range {
            low: products.into_iter().fold(f64::INFINITY, f64::min),
            high: products.into_iter().fold(f64::NEG_INFINITY, f64::max),
        }
    }

    pub fn scaled(self, factor: f64) -> Range {
        Range::of(self.low * factor, self.high * factor)
    }

    pub fn square(self) -> Range {
        let square = Range::of(self.low * self.low, self.high * self.high);
        if self.low < 0.0 && self.high > 0.0 { square.with(0.0) } else { square }
    }

    /// The greatest magnitude in it.
    pub fn most(self) -> f64 {
        self.high.max(-self.low)
    }

    pub fn holds(self, value: f64) -> bool {
        self.low <= value && value <= self.high
    }

    /// Whether no magnitude in it is above `limit`, but for rounding.
    pub fn within(self, limit: f64) -> bool {
        let limit = limit * (1.0 + 1e-9);
        self.high <= limit && self.low >= -limit
    }
}
