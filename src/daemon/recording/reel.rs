//! The tick thread's end: where every axis is asked to be, now and then, into a ring that never grows.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

use crate::engine::Setpoint;
use crate::show::{Nanos, Show};

/// Between two samples: a hand's motion has nothing that is faster.
const EVERY: Nanos = Nanos(20_000_000);
/// Samples that wait at most, if the disk does: twenty seconds.
const WAITING_MAX: usize = 1000;

/// Takes no memory and never waits; what finds no room is a gap in the take.
pub struct Reel {
    tick: Nanos,
    /// Ticks from one sample to the next.
    every: u64,
    ticks: u64,
    /// The tick, then the position of every axis.
    samples: rtrb::Producer<f64>,
    wanted: Arc<AtomicBool>,
}

/// The other end.
pub struct Samples {
    samples: rtrb::Consumer<f64>,
    pose: Vec<f64>,
}

/// Both ends, for the axes of a show. Samples are taken while `wanted` is true.
pub fn reel(show: &Show, wanted: Arc<AtomicBool>) -> (Reel, Samples) {
    let tick = show.settings.tick;
    let (samples, taken) = rtrb::RingBuffer::new(WAITING_MAX * (1 + show.axes.len()));
    let every = (EVERY.0 / tick.0).max(1).unsigned_abs();
    let reel = Reel { tick, every, ticks: 0, samples, wanted };
    (reel, Samples { samples: taken, pose: vec![0.0; show.axes.len()] })
}

impl Reel {
    /// After each tick.
    pub fn write(&mut self, setpoints: &[Setpoint]) {
        self.ticks += 1;
        let due = self.ticks.is_multiple_of(self.every) && self.wanted.load(Ordering::Acquire);
        if !due || self.samples.slots() <= setpoints.len() {
            return;
        }
        let seconds = Nanos(self.ticks as i64 * self.tick.0).seconds();
        for value in std::iter::once(seconds).chain(setpoints.iter().map(|setpoint| setpoint.position)) {
            let _ = self.samples.push(value);
        }
    }
}

impl Samples {
    /// Each sample that waits: its time on the show's clock, and every position by `AxisId`.
    pub fn drain(&mut self, mut take: impl FnMut(Nanos, &[f64])) {
        while self.samples.slots() > self.pose.len() {
            let Ok(seconds) = self.samples.pop() else { return };
            for place in &mut self.pose {
                *place = self.samples.pop().unwrap_or(*place);
            }
            take(Nanos::from_seconds(seconds), &self.pose);
        }
    }
}
