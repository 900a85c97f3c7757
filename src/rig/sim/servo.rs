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

    /// Moved by something that is not the drive.
    pub fn slide(&mut self, by: f64) {
        self.position += by;
    }
}
