//! What must hold after every tick, whatever came in. A breach is our bug: it stops everything and disables it.

use super::io::Setpoint;
use super::tick::Engine;
use crate::motion::Regime;
use crate::show::{Axis, AxisId, Limits};

/// Rounding allowed, as a part of the limit.
const ROUNDING: f64 = 1e-6;

/// A promise that was not kept, by the number of the invariant.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Breach {
    /// 1. A setpoint outside its travel or its limits.
    Travel {
        axis: AxisId,
        position: f64,
    },
    Speed {
        axis: AxisId,
        found: f64,
        limit: f64,
    },
    Acceleration {
        axis: AxisId,
        found: f64,
        limit: f64,
    },
    Jerk {
        axis: AxisId,
        found: f64,
        limit: f64,
    },
    /// 2. A jump between two ticks.
    Jump {
        axis: AxisId,
        from: f64,
        to: f64,
    },
    /// 3. Not at rest within the bound of its stop.
    SlowStop {
        late_ticks: u64,
    },
    /// 4. A setpoint that goes on though stopped or disarmed.
    MovesWhileStopped {
        axis: AxisId,
    },
    /// 5. A guarded motion whose interlock did not permit it in the tick before, and that is not braking.
    Unguarded {
        axis: AxisId,
    },
    /// 6. Two owners of one axis.
    TwoOwners {
        axis: AxisId,
    },
    /// An axis without a survey that something else sets going than a hand.
    Unsurveyed {
        axis: AxisId,
    },
    /// 9. An axis in hand outside the room that was proved.
    LeavesBerth {
        axis: AxisId,
    },
    /// 7. A request without its one answer.
    Answers {
        requests: usize,
        answers: usize,
    },
}

impl Engine {
    /// Every invariant that can be seen from inside; `before` are the setpoints of the last tick.
    pub(super) fn breach(&self, before: &[Setpoint], requests: usize) -> Option<Breach> {
        let axes = self.show.axes.iter().zip(before.iter().zip(&self.setpoints)).enumerate();
        axes.map(|(index, (axis, (before, now)))| self.axis_breach(AxisId::new(index), axis, before, now))
            .find(Option::is_some)
            .flatten()
            .or_else(|| self.stop_breach())
            .or_else(|| self.owner_breach())
            .or_else(|| self.hand_breach())
            .or_else(|| {
                let answers = self.outbox.answers.len();
                (answers != requests).then_some(Breach::Answers { requests, answers })
            })
    }

    /// Whether no setpoint of an axis may be there.
    pub(super) fn is_outside(&self, axis: AxisId, position: f64) -> bool {
        let [low, high] = self.show.axis(axis).reach();
        let slack = (high - low) * 1e-9;
        !(low - slack..=high + slack).contains(&position)
    }

    fn axis_breach(&self, id: AxisId, axis: &Axis, before: &Setpoint, now: &Setpoint) -> Option<Breach> {
        let limits = match self.regimes[id.index()] {
            Regime::Running => axis.run,
            Regime::Stopping => axis.stop,
        };
        let over = |found: f64, limit: f64| !found.is_finite() || found.abs() > limit * (1.0 + ROUNDING);
        let [low, high] = axis.reach();
        if self.is_outside(id, now.position) {
            return Some(Breach::Travel { axis: id, position: now.position });
        }
        let Limits { speed, acceleration, jerk } = limits;
        if over(now.speed, speed) {
            return Some(Breach::Speed { axis: id, found: now.speed, limit: speed });
        }
        if over(now.acceleration, acceleration) {
            return Some(Breach::Acceleration { axis: id, found: now.acceleration, limit: acceleration });
        }
        if over(now.jerk, jerk) {
            return Some(Breach::Jerk { axis: id, found: now.jerk, limit: jerk });
        }
        if self.replaced[id.index()] {
            return None;
        }
        let tick = self.period.seconds();
        let (way, change) = (now.position - before.position, now.speed - before.speed);
        let jumps =
            over(way, speed * tick + 1e-9 * (high - low)) || over(change, acceleration * tick + 1e-9 * speed);
        if jumps {
            return Some(Breach::Jump { axis: id, from: before.position, to: now.position });
        }
        // Given back, it comes to rest in the tick in which it is nobody's.
        if way != 0.0 && before.speed == 0.0 && !axis.surveyed && !self.is_in_hand(id) {
            return Some(Breach::Unsurveyed { axis: id });
        }
        let may_not_move = self.is_stopping() && self.groups.members.is_empty();
        (may_not_move && way != 0.0 && before.speed == 0.0).then_some(Breach::MovesWhileStopped { axis: id })
    }

    fn stop_breach(&self) -> Option<Breach> {
        let by = self.rest_by?;
        let moving = self.setpoints.iter().any(|setpoint| setpoint.speed != 0.0);
        (self.latch.is_latched() && self.tick > by && moving)
            .then(|| Breach::SlowStop { late_ticks: self.tick - by })
    }

    fn owner_breach(&self) -> Option<Breach> {
        let members = &self.groups.members;
        members.iter().enumerate().find_map(|(index, member)| {
            let twice = |axis: &AxisId| {
                members[index + 1..].iter().any(|other| self.axes_of(other.cue).any(|owned| owned == *axis))
            };
            self.axes_of(member.cue).find(twice).map(|axis| Breach::TwoOwners { axis })
        })
    }

    /// Of what is in hand: no cue owns it too, it brakes where an interlock does not permit its way, and it stays in its berth.
    fn hand_breach(&self) -> Option<Breach> {
        self.show.axis_ids().filter(|&axis| self.is_in_hand(axis)).find_map(|axis| {
            let Setpoint { speed, acceleration, jerk, .. } = self.setpoints[axis.index()];
            let slows = speed * jerk <= 0.0 || speed * acceleration <= 0.0;
            if self.groups.members.iter().any(|member| self.axes_of(member.cue).any(|owned| owned == axis)) {
                Some(Breach::TwoOwners { axis })
            } else if self.bar(axis).is_some() && !slows {
                Some(Breach::Unguarded { axis })
            } else {
                (!self.stays_in_berth(axis)).then_some(Breach::LeavesBerth { axis })
            }
        })
    }
}
