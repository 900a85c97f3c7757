//! Faults, and why the stop latched.

use super::Words;
use super::numbers::span;
use crate::engine::{Cause, Fault, StopLane};
use crate::show::InterlockId;

impl Words<'_> {
    pub fn cause(&self, cause: &Cause) -> String {
        match *cause {
            Cause::Request(lane) => requested(lane).into(),
            Cause::Fault(fault) => self.fault(fault),
            Cause::Interlock(interlock) => {
                let needs = self.condition(&self.show.interlocks[interlock.index()].needs);
                format!("{} stops: it needs {needs}", self.interlock(interlock))
            }
        }
    }

    pub fn fault(&self, fault: Fault) -> String {
        match fault {
            Fault::LinkLost(rig) => {
                let rig = self.show.rig(rig);
                format!("{}: no report within {}: check its link and power", rig.name, span(rig.link_timeout))
            }
            Fault::Following(axis) => {
                let limit = self.position(axis, self.show.axis(axis).lag_limit);
                format!("{} lags its setpoint by more than {limit}: look for a jam or an overload", self.axis(axis))
            }
            Fault::NonFinite(axis) => {
                format!("{} reports a position or speed that is no number: check its encoder", self.axis(axis))
            }
            Fault::Drive(rig) => {
                format!("{} reports a fault of its own: look at the machine", self.show.rig(rig).name)
            }
            Fault::OverrunHold => "the control loop came late: the running cues are held".into(),
            Fault::OverrunStop => "the control loop came too late for a hold: look at the computer's load".into(),
            Fault::Engine => "a check inside bellwire failed, which is its own error: keep the journal".into(),
        }
    }

    /// "interlock 'lift clear of wagon'".
    pub(crate) fn interlock(&self, id: InterlockId) -> String {
        format!("interlock '{}'", self.show.interlocks[id.index()].name)
    }
}

fn requested(lane: StopLane) -> &'static str {
    match lane {
        StopLane::StopPort => "stop asked for on the stop port",
        StopLane::Osc => "stop asked for over OSC",
        StopLane::Rpc => "stop asked for over WebSocket",
        StopLane::Http => "stop asked for over HTTP",
        StopLane::Signal => "bellwire was asked to end",
        StopLane::Watch => "the thread that watches the control loop missed it",
    }
}
