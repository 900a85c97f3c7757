//! From the drive to the reading: dead zone, slip, noise, whole steps.

use super::fault::AxisFaults;
use super::noise::Noise;
use crate::engine::AxisReport;
use crate::show::{AxisId, SimSettings, Unit};

/// Drives count steps over a while to tell their speed, s; its noise and step are those of the position by this.
const SPEED_WINDOW: f64 = 0.1;

/// One axis behind its drive, and the encoder on it. In the axis's unit.
#[derive(Clone, Debug)]
pub struct Encoder {
    noise: Noise,
    /// Standard deviation.
    deviation: f64,
    /// Steps to one of the axis's unit.
    steps: f64,
    /// Half the width of the dead zone.
    play: f64,
    /// The far side of the dead zone, as far as the drive has pushed it.
    trailing: f64,
    /// The axis itself.
    position: f64,
    speed: f64,
    /// By how much the reading is off.
    offset: f64,
}

/// What a believable encoder resolves: a hundredth of a millimetre, 360,000 steps to a turn, 10,000 to a ring.
fn steps(unit: Unit) -> f64 {
    match unit {
        Unit::Metre => 100_000.0,
        Unit::Millimetre | Unit::Percent => 100.0,
        Unit::Degree => 1_000.0,
        Unit::Turn => 360_000.0,
    }
}

impl Encoder {
    pub fn new(position: f64, unit: Unit, settings: &SimSettings, seed: u64, axis: AxisId) -> Encoder {
        Encoder {
            noise: Noise::new(seed, axis),
            deviation: settings.noise,
            steps: steps(unit),
            play: settings.backlash / 2.0,
            trailing: position,
            position,
            speed: 0.0,
            offset: 0.0,
        }
    }

    /// The drive has gone to `drive` in `time` s and now runs at `speed`; the axis follows across the dead zone.
    pub fn carry(&mut self, drive: f64, speed: f64, faults: &AxisFaults, time: f64) {
        let before = self.trailing;
        self.trailing = self.trailing.clamp(drive - self.play, drive + self.play);
        let sense = if faults.reversed() { -1.0 } else { 1.0 };
        let drift = faults.drift();
        self.position += sense * (self.trailing - before) + drift * time;
        let carried = if self.trailing == before { 0.0 } else { speed };
        self.speed = sense * carried + drift;
        self.offset += faults.take_jump();
    }

    /// What it would read without noise, to any fraction of a step.
    pub fn reading(&self) -> f64 {
        self.position + self.offset
    }

    pub fn measure(&mut self, faults: &AxisFaults) -> AxisReport {
        if faults.non_finite() {
            return AxisReport { position: f64::NAN, speed: f64::NAN };
        }
        let position = self.reading() + self.deviation * self.noise.normal();
        let speed = self.speed + self.deviation / SPEED_WINDOW * self.noise.normal();
        let speed_steps = self.steps * SPEED_WINDOW;
        AxisReport {
            position: (position * self.steps).round() / self.steps,
            speed: (speed * speed_steps).round() / speed_steps,
        }
    }
}
