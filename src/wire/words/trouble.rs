//! Faults, and why the stop latched.

use super::Words;
use super::numbers::span;
use crate::engine::{Cause, Fault, StopLane};
use crate::show::{AxisId, InterlockId, Nanos, RigId};

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

    /// What is wrong, and what to do.
    pub fn fault(&self, fault: Fault) -> String {
        let rig = |rig: RigId| self.show.rig(rig).name.clone();
        let axis = |axis: AxisId| self.axis(axis);
        match fault {
            Fault::LinkLost(id) => {
                let limit = span(self.show.rig(id).link_timeout);
                format!("{}: no report within {limit}: check its link and power", rig(id))
            }
            Fault::LateReports(id) => {
                let limit = span(Nanos(self.show.rig(id).link_timeout.0 / 2));
                format!("{}: its reports come more than {limit} late: look at its link before it is lost", rig(id))
            }
            Fault::Drive(id) => format!("{} reports a fault of its own: look at the machine", rig(id)),
            Fault::Swapped(id) => format!(
                "{} is not what it was at arming, simulated or real: disarm, see which it is, and arm again",
                rig(id)
            ),
            Fault::Following(id) => {
                let limit = self.position(id, self.show.axis(id).lag_limit);
                format!("{} lags its setpoint by more than {limit}: look for a jam or an overload", axis(id))
            }
            Fault::Stuck(id) => format!("{} is told to move and stands: clear the jam before the reset", axis(id)),
            Fault::Reversed(id) => {
                format!("{} moves against its command: check its direction and its wiring", axis(id))
            }
            Fault::RunsOn(id) => format!("{} is told to stop and runs on: look at the machine", axis(id)),
            Fault::Creeps(id) => format!("{} is told to stand and moves: look for slip in its drive", axis(id)),
            Fault::MovesUnpowered(id) => {
                format!("{} moves though its power is off: see what moves it, and secure it", axis(id))
            }
            Fault::BrakeSlip(id) => {
                format!("{} moves though its brake is on: keep clear, and secure the load", axis(id))
            }
            Fault::Jump(id) => format!(
                "the position of {} has jumped: check its encoder, and where it stands at a mark, then reset",
                axis(id)
            ),
            Fault::NonFinite(id) => {
                format!("{} reports a position or speed that is no number: check its encoder", axis(id))
            }
            Fault::OverTravel(id) => {
                let [low, high] = self.show.axis(id).travel.map(|end| self.position(id, end));
                format!("{} is outside its travel of {low} to {high}: bring it inside by hand", axis(id))
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
