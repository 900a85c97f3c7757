//! A real rig, as far as the engine can tell.

use bellwire::engine::*;
use bellwire::rig::Driver;
use bellwire::show::Nanos;

/// A simulated rig that says it is real.
pub struct Real(pub Box<dyn Driver>);

impl Driver for Real {
    fn simulated(&self) -> bool {
        false
    }

    fn read(&mut self, now: Nanos, axes: &mut [AxisReport]) -> RigReport {
        RigReport { simulated: false, ..self.0.read(now, axes) }
    }

    fn write(&mut self, now: Nanos, command: RigCommand, setpoints: &[Setpoint]) {
        self.0.write(now, command, setpoints);
    }
}
