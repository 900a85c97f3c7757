//! The clock of a group of running cues: its rate, how that is changing, and the brakes that it has at hand.

use super::brakes::Brakes;
use crate::motion::{Change, Regime, Search};

/// Ticks between two tries for a change of rate that was not found.
const RETRY_TICKS: u64 = 5;
/// A change that does not meet the rate wanted is taken if it leaves no more than this part of what was left: each takes the brake at
/// hand with it.
const NEARER: f64 = 0.9;

#[derive(Clone, Debug)]
pub struct Clock {
    change: Change,
    /// s, since the change began.
    elapsed: f64,
    regime: Regime,
    /// A rate to which no change was found, and the tick at which it is tried again.
    retry: Option<(f64, u64)>,
    /// s, in the last tick.
    pub went: f64,
    pub brakes: Brakes,
    /// At rest: a change that will set it going, as long as it is searched for.
    pub start: Option<Search>,
}

impl Clock {
    pub fn steady(rate: f64) -> Clock {
        Clock {
            change: Change::steady(rate),
            elapsed: 0.0,
            regime: Regime::Running,
            retry: None,
            went: 0.0,
            brakes: Brakes::default(),
            start: None,
        }
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

    /// How far the cues' own time goes on until the rate is steady, s.
    pub fn way_left(&self) -> f64 {
        if self.is_steady() { 0.0 } else { self.change.distance() - self.change.at(self.elapsed).position }
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

    /// Sets it going towards `desired` by the change that was found.
    pub fn steer(&mut self, change: Option<&Change>, desired: f64, tick: u64) {
        self.start = None;
        let regime = self.regime_towards(desired);
        // A phase without reserve, or a brake not yet over: go on as before, or nearly as wanted, and try again.
        let off = |rate: f64| (rate - desired).abs();
        let change = change
            .filter(|change| off(change.to_rate()) < NEARER * off(self.goal()) || change.to_rate() == desired);
        let met = change.is_some_and(|change| change.to_rate() == desired);
        self.retry = (!met).then_some((desired, tick + RETRY_TICKS));
        if let Some(change) = change {
            (self.change, self.elapsed, self.regime, self.went) = (*change, 0.0, regime, 0.0);
            self.brakes = Brakes::default();
        }
    }

    /// One tick, s; how far it went.
    pub fn advance(&mut self, tick: f64) {
        let before = self.change.at(self.elapsed).position;
        self.elapsed += tick;
        self.went = self.change.at(self.elapsed).position - before;
        // A steady rate goes on for ever; its clock is kept small, so that it keeps its digits.
        if self.elapsed >= self.change.duration() + 1.0 {
            self.change = Change::steady(self.change.to_rate());
            self.elapsed = 0.0;
        }
        self.brakes.go_on(self.went);
    }

    /// The time until it stands, s, if that is settled already: it stands, or brakes, and that brake is kept.
    pub fn rests_in(&self) -> Option<f64> {
        let (rate, drift, _) = self.rate();
        if rate == 0.0 && drift == 0.0 && self.goal() == 0.0 {
            return Some(0.0);
        }
        let brakes = self.change.to_rate() == 0.0 && self.regime() == Regime::Stopping;
        brakes.then(|| self.change.duration() - self.elapsed)
    }

    /// The brake at hand that begins first, with all until then.
    pub fn brake_at_hand(&self) -> Option<Change> {
        let (ahead, brake) = self.brakes.first()?;
        let wait = (ahead - self.way_left()) / self.goal();
        if self.is_steady() { brake.after(wait) } else { self.left().then(wait, brake) }
    }

    /// s; the longest that any brake at hand takes from now on. `None` if there is none. Of several cues a standard brake may take its
    /// place that goes less far: on the whole that goes at half its first rate or faster.
    pub fn brakes_within(&self, are_several: bool) -> Option<f64> {
        let (left, way) = ((self.change.duration() - self.elapsed).max(0.0), self.way_left());
        let takes = |(ahead, brake): (f64, &Change)| {
            let takes = left + (ahead - way) / self.goal() + brake.duration();
            let standard = 2.0 * (ahead + brake.distance()) / self.goal();
            if are_several && self.is_steady() { takes.max(standard) } else { takes }
        };
        self.brakes.each().map(takes).reduce(f64::max)
    }
}
