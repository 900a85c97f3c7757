//! Drivers: the engine's hands and eyes on one rig each.

mod chance;
mod cycle;
mod script;
mod sim;

pub use chance::Chance;
pub use cycle::{Cycle, Exchange};
pub use script::{FaultScript, Injection, ScriptReading, When, faults_schema, read_faults};
pub use sim::{SimFaults, SimRig};

use crate::engine::{AxisReport, RigCommand, RigReport, Setpoint};
pub use crate::engine::{NoSuchFault, SimFault, SimFaultKind, Size};
use crate::show::{self, Nanos, Show};

/// One rig (machine), as the tick loop sees it.
///
/// Called once a tick, in virtual time as in real time, and never blocks: a driver that talks over a network
/// keeps a thread of its own and only exchanges the newest values here.
pub trait Driver: Send {
    /// Whether no machine moves.
    fn simulated(&self) -> bool;

    /// What was heard of the rig up to `now` (monotonic, from the start of the run). `axes` holds the rig's axes,
    /// base to tip, and keeps its last values where nothing new came.
    fn read(&mut self, now: Nanos, axes: &mut [AxisReport]) -> RigReport;

    /// Passes on the command and the setpoints for the tick that ends at `now + tick`.
    fn write(&mut self, now: Nanos, command: RigCommand, setpoints: &[Setpoint]);
}

/// A driver for each rig of the show, by `RigId`, and the handle that makes the simulated ones fail.
///
/// The same `seed` gives the same noise.
pub fn open(show: &Show, seed: u64) -> (Vec<Box<dyn Driver>>, SimFaults) {
    let faults = SimFaults::none(show);
    let drivers = show
        .rig_ids()
        .map(|rig| match show.rig(rig).driver {
            show::Driver::Sim(ref settings) => {
                Box::new(SimRig::new(show, rig, settings, seed, faults.clone())) as Box<dyn Driver>
            }
        })
        .collect();
    (drivers, faults)
}
