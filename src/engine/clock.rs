//! The clock of a group of running cues: its rate, and how that is changing.

use crate::motion::{Change, Regime};

/// Ticks between two tries for a change of rate that was not found.
const RETRY_TICKS: u64 = 5;

#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Clock {
    change: Change,
    /// s, since the change began.
    elapsed: f64,
    regime: Regime,
    /// A rate to which no change was found, and the tick at which it is tried again.
    retry: Option<(f64, u64)>,
    /// s, in the last tick.
    pub went: f64,
}

impl Clock {
    pub fn steady(rate: f64) -> Clock {
        Clock { change: Change::steady(rate), elapsed: 0.0, regime: Regime::Running, retry: None, went: 0.0 }
    }

    /// The rate, its derivative and its second derivative now.
    pub fn rate(&self) -> (f64, f64, f64) {
        let now = self.change.at(self.elapsed);
        (now.speed, now.acceleration, now.jerk)
    }

    /// The rate to which it is going, or at which it is.
    pub fn goal(&self) -> f64 {
        self.change.to_rate()
    }

    /// Which limits hold now.
    pub fn regime(&self) -> Regime {
        if self.is_steady() { Regime::Running } else { self.regime }
    }

    pub fn is_steady(&self) -> bool {
        self.elapsed >= self.change.duration()
    }

    pub fn at_rest(&self) -> bool {
        self.rate().0 == 0.0 && self.is_steady()
    }

    /// What is left of its change of rate.
    pub fn left(&self) -> Change {
        self.change.rest_from(self.elapsed)
    }

    /// Whether there is something to be changed, and it is time to try.
    pub fn heeds(&self, desired: f64, tick: u64) -> bool {
        let waits = self.retry.is_some_and(|(refused, until)| refused == desired && tick < until);
        self.change.to_rate() != desired && !waits
    }

    /// Which limits a change to `desired` has: braking the stopping ones.
    pub fn regime_towards(&self, desired: f64) -> Regime {
        let (rate, ..) = self.rate();
        let slower = desired == 0.0 || (desired.abs() < rate.abs() && desired * rate > 0.0);
        if slower { Regime::Stopping } else { Regime::Running }
    }

    /// Set going towards `desired` by the change that was found.
    pub fn steered(&self, change: Option<Change>, desired: f64, tick: u64) -> Clock {
        let regime = self.regime_towards(desired);
        match change {
            Some(change) => Clock { change, elapsed: 0.0, regime, retry: None, went: 0.0 },
            // A phase without reserve, or a brake not yet over: go on as before and try again.
            None => Clock { retry: Some((desired, tick + RETRY_TICKS)), ..*self },
        }
    }

    /// One tick, s; how far it went.
    pub fn advance(&mut self, tick: f64) -> f64 {
        let before = self.change.at(self.elapsed).position;
        self.elapsed += tick;
        let way = self.change.at(self.elapsed).position - before;
        // A steady rate goes on for ever; its clock is kept small, so that it keeps its digits.
        if self.elapsed >= self.change.duration() + 1.0 {
            self.change = Change::steady(self.change.to_rate());
            self.elapsed = 0.0;
        }
        self.went = way;
        way
    }

    /// The time until it stands, s, if that is settled already: it stands, or brakes, and that brake is kept.
    pub fn rests_in(&self) -> Option<f64> {
        let (rate, drift, _) = self.rate();
        if rate == 0.0 && drift == 0.0 {
            return Some(0.0);
        }
        let brakes = self.change.to_rate() == 0.0 && self.regime() == Regime::Stopping;
        brakes.then(|| self.change.duration() - self.elapsed)
    }
}
