//! Who was late: the caller, the network, the computer or the rig.

use super::CueRun;
use crate::engine::TickOutput;
use crate::journal::Entry;
use crate::show::{AxisId, Nanos, Show};

/// What went by before a GO was motion, each part by itself. `None` where it was not measured.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Delays {
    /// Against the planned gap since the GO before: late, or early if negative.
    pub caller: Option<Nanos>,
    /// From `sent` to our socket. As true as the sender's clock and ours agree.
    pub network: Option<Nanos>,
    /// From the socket to the tick that took it.
    pub waited: Option<Nanos>,
    /// From that tick to the first setpoint that moves.
    pub setpoint: Option<Nanos>,
    /// By how much the first axis to move trails its setpoint, at half its tolerance from where it stood.
    pub rig: Option<Nanos>,
}

/// Looks for the first motion of a cue that was just fired.
#[derive(Clone, Debug)]
pub struct Following {
    run: usize,
    tick: u64,
    axes: Vec<Trail>,
    moved: bool,
}

/// One axis, and when its setpoint and its measured position had gone a little way.
#[derive(Clone, Debug)]
struct Trail {
    axis: AxisId,
    way: f64,
    setpoint: f64,
    measured: f64,
    led: Option<u64>,
    came: Option<u64>,
}

/// After this many seconds nothing more is expected.
const PATIENCE: f64 = 10.0;

impl Following {
    /// `setpoints` as they were before the tick of the GO.
    pub fn new(run: usize, show: &Show, axes: Vec<AxisId>, entry: &Entry, setpoints: &[f64]) -> Following {
        let trail = |axis: AxisId| Trail {
            axis,
            way: 0.5 * show.axis(axis).tolerance,
            setpoint: setpoints[axis.index()],
            measured: entry.axes[axis.index()].position,
            led: None,
            came: None,
        };
        Following { run, tick: entry.tick, axes: axes.into_iter().map(trail).collect(), moved: false }
    }

    /// One tick; true once everything is known, or nothing more can come.
    pub fn tick(&mut self, entry: &Entry, output: &TickOutput<'_>, period: Nanos, runs: &mut [CueRun]) -> bool {
        let since = |tick: u64| Nanos((entry.tick - tick) as i64 * period.0);
        for trail in &mut self.axes {
            let index = trail.axis.index();
            let (setpoint, measured) = (output.setpoints[index].position, entry.axes[index].position);
            if !self.moved && setpoint != trail.setpoint {
                self.moved = true;
                runs[self.run].delays.setpoint = Some(since(self.tick));
            }
            if trail.led.is_none() && (setpoint - trail.setpoint).abs() >= trail.way {
                trail.led = Some(entry.tick);
            }
            if trail.came.is_none() && (measured - trail.measured).abs() >= trail.way {
                trail.came = Some(entry.tick);
            }
            if let (Some(led), Some(came)) = (trail.led, trail.came) {
                runs[self.run].delays.rig = Some(Nanos((came as i64 - led as i64) * period.0));
                return true;
            }
        }
        since(self.tick).seconds() > PATIENCE
    }
}
