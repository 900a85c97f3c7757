//! One drive: a critically damped second-order system, stepped exactly.
//!
//! x'' = ω²(u − x) − 2ω x', with ω = 2 / lag and u running linearly from setpoint to setpoint over a step. For such
//! an input the equation is solved in closed form (ramp-invariant discretisation, or first-order hold: Franklin,
//! Powell and Workman, *Digital Control of Dynamic Systems*, chapter on discrete equivalents), so that no step is
//! too long for it: the error from the steady ramp, e, falls as (e₀ + (e₀' + ω e₀) t) exp(−ω t).

use crate::show::Nanos;

/// A shorter lag is taken as this, s: then the axis is on its setpoint at the end of each step.
const LAG_LEAST: f64 = 1e-6;

/// In an axis's unit, and per second.
#[derive(Clone, Debug)]
pub struct Servo {
    /// 1/s.
    omega: f64,
    /// s.
    step: f64,
    /// exp(−ω step).
    decay: f64,
    /// Where the interpolation has arrived.
    input: f64,
    position: f64,
    speed: f64,
}

impl Servo {
    /// At rest at `position`; `lag` is by how long it trails at constant speed, s.
    pub fn new(position: f64, lag: f64, step: Nanos) -> Servo {
        let omega = 2.0 / lag.max(LAG_LEAST);
        let step = step.seconds();
        Servo { omega, step, decay: libm::exp(-omega * step), input: position, position, speed: 0.0 }
    }

    pub fn position(&self) -> f64 {
        self.position
    }

    pub fn speed(&self) -> f64 {
        self.speed
    }

    pub fn at_rest(&self) -> bool {
        self.speed == 0.0
    }

    /// Power comes on: the interpolation begins where the axis stands.
    pub fn take_hold(&mut self) {
        self.input = self.position;
    }

    /// One step towards a setpoint, to be reached by the interpolation at its end.
    pub fn follow(&mut self, setpoint: f64) {
        let slope = (setpoint - self.input) / self.step;
        let trail = 2.0 * slope / self.omega;
        let error = self.position - self.input + trail;
        let error_rate = self.speed - slope;
        let swing = (error_rate + self.omega * error) * self.step;
        self.position = setpoint - trail + (error + swing) * self.decay;
        self.speed = slope + (error_rate - self.omega * swing) * self.decay;
        self.input = setpoint;
    }

    /// One step of constant deceleration, to rest.
    pub fn brake(&mut self, deceleration: f64) {
        let left = self.speed.abs() / deceleration;
        if left <= self.step {
            self.position += self.speed * left / 2.0;
            self.speed = 0.0;
        } else {
            let slower = self.speed - deceleration.copysign(self.speed) * self.step;
            self.position += (self.speed + slower) / 2.0 * self.step;
            self.speed = slower;
        }
    }

    /// One step against an obstacle that does not give.
    pub fn jam(&mut self) {
        self.speed = 0.0;
    }

    /// One step at the speed that it has, deaf to any setpoint.
    pub fn run_on(&mut self) {
        self.position += self.speed * self.step;
        self.input = self.position;
    }

    /// Held up by hard ends; from beyond one, where it was `before`, it goes no further out.
    pub fn stay_within(&mut self, [low, high]: [f64; 2], before: f64) {
        let (low, high) = (low.min(before), high.max(before));
        if !(low..=high).contains(&self.position) {
            self.position = self.position.clamp(low, high);
            self.speed = 0.0;
        }
    }

    /// Moved by something that is not the drive.
    pub fn slide(&mut self, by: f64) {
        self.position += by;
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// Follows `path` (position by time) for `seconds` in steps of `millis`; the path's own samples are reached at
    /// the ends of the steps.
    fn run(millis: i64, lag: f64, seconds: f64, path: impl Fn(f64) -> f64) -> Servo {
        let step = Nanos::from_millis(millis);
        let mut servo = Servo::new(path(0.0), lag, step);
        let steps = (seconds / step.seconds()).round() as u32;
        for count in 1..=steps {
            servo.follow(path(f64::from(count) * step.seconds()));
        }
        servo
    }

    #[test]
    fn trails_a_steady_ramp_by_its_lag() {
        for millis in [1, 2, 5, 20] {
            let servo = run(millis, 0.03, 2.0, |time| 7.0 * time);
            assert!((servo.position() - 7.0 * (2.0 - 0.03)).abs() < 1e-9);
            assert!((servo.speed() - 7.0).abs() < 1e-9);
        }
    }

    #[test]
    fn steps_of_any_length_give_the_same_motion() {
        let fine = run(1, 0.08, 0.1, |time| 3.0 * time);
        for millis in [2, 5, 10, 20] {
            let coarse = run(millis, 0.08, 0.1, |time| 3.0 * time);
            assert!((coarse.position() - fine.position()).abs() < 1e-12);
            assert!((coarse.speed() - fine.speed()).abs() < 1e-11);
        }
    }

    #[test]
    fn agrees_with_the_differential_equation() {
        // Euler's method in steps of a microsecond.
        let (omega, mut position, mut speed) = (2.0 / 0.05, 0.0, 0.0);
        for count in 0..100_000 {
            let input = 4.0 * f64::from(count) * 1e-6;
            let acceleration: f64 = omega * omega * (input - position) - 2.0 * omega * speed;
            position += speed * 1e-6;
            speed += acceleration * 1e-6;
        }
        let servo = run(10, 0.05, 0.1, |time| 4.0 * time);
        assert!((servo.position() - position).abs() < 1e-4, "{} {position}", servo.position());
        assert!((servo.speed() - speed).abs() < 1e-3, "{} {speed}", servo.speed());
    }

    #[test]
    fn brakes_in_the_time_and_way_of_constant_deceleration() {
        for millis in [1, 7, 20] {
            let step = Nanos::from_millis(millis);
            let mut servo = Servo { speed: -3.0, ..Servo::new(10.0, 0.03, step) };
            let mut steps = 0;
            while !servo.at_rest() {
                servo.brake(2.0);
                steps += 1;
            }
            // v² / 2a = 2.25 in v / a = 1.5 s.
            assert!((servo.position() - 7.75).abs() < 1e-9);
            assert!((f64::from(steps) * step.seconds() - 1.5).abs() < 1.01 * step.seconds());
        }
    }

    proptest! {
        /// Whatever it is told, it stays within twice the range of what it was told, and arrives once left alone.
        #[test]
        fn never_runs_away(
            millis in 1_i64..=20,
            lag in prop_oneof![Just(0.0), 1e-4..2.0],
            setpoints in prop::collection::vec(-1e9..1e9, 1..40),
        ) {
            let mut servo = Servo::new(0.0, lag, Nanos::from_millis(millis));
            for &setpoint in &setpoints {
                servo.follow(setpoint);
                prop_assert!(servo.position().abs() <= 4e9);
            }
            let last = setpoints[setpoints.len() - 1];
            for _ in 0..(60.0 * lag.max(0.01) / servo.step) as u32 {
                servo.follow(last);
            }
            prop_assert!((servo.position() - last).abs() < 1e-3);
            prop_assert!(servo.speed().abs() < 1e-3);
        }
    }
}
