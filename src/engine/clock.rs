//! The clock of a group of running cues: its rate, and how that is changing.

use crate::motion::{Course, Ramp, Regime, Track, change_rate};

/// Ticks between two tries for a change of rate that no ramp allowed.
const RETRY_TICKS: u64 = 5;

#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Clock {
    ramp: Ramp,
    /// s, since the ramp began.
    elapsed: f64,
    regime: Regime,
    /// A rate that no ramp allowed, and the tick at which it is tried again.
    retry: Option<(f64, u64)>,
    /// s, in the last tick.
    pub went: f64,
}

impl Clock {
    pub fn steady(rate: f64) -> Clock {
        Clock { ramp: Ramp::steady(rate), elapsed: 0.0, regime: Regime::Running, retry: None, went: 0.0 }
    }

    /// The rate, its derivative and its second derivative now.
    pub fn rate(&self) -> (f64, f64, f64) {
        let now = self.ramp.at(self.elapsed);
        (now.speed, now.acceleration, now.jerk)
    }

    /// The rate to which it is going, or at which it is.
    pub fn goal(&self) -> f64 {
        self.ramp.to_speed()
    }

    /// Which limits hold now.
    pub fn regime(&self) -> Regime {
        if self.is_steady() { Regime::Running } else { self.regime }
    }

    pub fn is_steady(&self) -> bool {
        self.elapsed >= self.ramp.duration()
    }

    pub fn at_rest(&self) -> bool {
        self.rate().0 == 0.0 && self.is_steady()
    }

    /// What is left of its change of rate.
    pub fn left(&self) -> Ramp {
        self.ramp.rest_from(self.elapsed)
    }

    /// Whether there is something to be changed, and it is time to try.
    pub fn heeds(&self, desired: f64, tick: u64) -> bool {
        let waits = self.retry.is_some_and(|(refused, until)| refused == desired && tick < until);
        self.ramp.to_speed() != desired && !waits
    }

    /// Set going towards `desired`, as quickly as the courses allow; braking has the stopping limits.
    pub fn steered(&self, courses: &[Course<Track>], desired: f64, tick: u64) -> Clock {
        let (rate, drift, _) = self.rate();
        let slower = desired == 0.0 || (desired.abs() < rate.abs() && desired * rate > 0.0);
        let regime = if slower { Regime::Stopping } else { Regime::Running };
        match change_rate(courses, rate, drift, desired, regime) {
            Some(ramp) => Clock { ramp, elapsed: 0.0, regime, retry: None, went: 0.0 },
            // A phase without reserve, or a brake not yet over: go on as before and try again.
            None => Clock { retry: Some((desired, tick + RETRY_TICKS)), ..*self },
        }
    }

    /// One tick, s; how far it went.
    pub fn advance(&mut self, tick: f64) -> f64 {
        let before = self.ramp.at(self.elapsed).position;
        self.elapsed += tick;
        let way = self.ramp.at(self.elapsed).position - before;
        // A steady rate goes on for ever; its clock is kept small, so that it keeps its digits.
        if self.elapsed >= self.ramp.duration() + 1.0 {
            self.ramp = Ramp::steady(self.ramp.to_speed());
            self.elapsed = 0.0;
        }
        self.went = way;
        way
    }

    /// The longest that a stop asked for now would take, s; `None` where no ramp would stop it now.
    pub fn stop_bound(&self, courses: &[Course<Track>]) -> Option<f64> {
        let (rate, drift, _) = self.rate();
        if rate == 0.0 && drift == 0.0 {
            return Some(0.0);
        }
        if self.ramp.to_speed() == 0.0 && self.regime() == Regime::Stopping {
            // It brakes already, and that brake is kept.
            return Some(self.ramp.duration() - self.elapsed);
        }
        change_rate(courses, rate, drift, 0.0, Regime::Stopping).map(|ramp| ramp.duration())
    }
}
