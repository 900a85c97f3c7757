//! The table of faults in words, for those who want to know beforehand what is done about what.

use crate::engine::{Clears, FaultKind, Reaction};

impl FaultKind {
    /// What is seen when it is found.
    pub fn seen(self) -> &'static str {
        match self {
            FaultKind::LateReports => "a rig's reports are older than half its link time-out",
            FaultKind::OverrunHold => "the control loop woke later than half the shortest link time-out",
            FaultKind::OverrunStop => "the control loop woke later than the shortest link time-out",
            FaultKind::MovesUnpowered => "an axis without power left its place by more than its tolerance",
            FaultKind::Following => "an axis is further from its setpoint than its lag limit",
            FaultKind::Stuck => "past its lag limit an axis stands, though it is told to move",
            FaultKind::Reversed => "past half its lag limit an axis moves against its command",
            FaultKind::RunsOn => "past twice its lag limit an axis goes on, though it is told to stop",
            FaultKind::Creeps => "an axis that is told to stand left its setpoint by more than its tolerance",
            FaultKind::Jump => {
                "from report to report an axis came further than twice its rated speed and its tolerance explain"
            }
            FaultKind::NonFinite => "a measured position or speed is no number",
            FaultKind::OverTravel => {
                "while armed, an axis is measured outside its travel by more than its tolerance"
            }
            FaultKind::BrakeSlip => "a gravity axis without power left its place by more than its tolerance",
            FaultKind::LinkLost => "nothing was heard of a rig for its link time-out",
            FaultKind::Drive => "a rig reports a fault of its own, or takes no power within 1 s",
            FaultKind::Swapped => "a rig that was simulated at arming is real now, or the reverse",
            FaultKind::Engine => "a promise that bellwire checks in every tick was broken: an error of its own",
        }
    }
}

impl Reaction {
    /// What is done.
    pub fn done(self) -> &'static str {
        match self {
            Reaction::Warn => "it is told, and nothing else is done",
            Reaction::Hold => "the running cues are held on their path",
            Reaction::Stop => "everything stops on its path, and the stop is latched",
            Reaction::StopThenDisable => {
                "everything stops on its path, the stop is latched, and once the setpoints rest the rig loses its power"
            }
            Reaction::Disable => {
                "the rig loses its power and its heartbeat at once; the others stop on their path; the stop is latched"
            }
        }
    }
}

impl Clears {
    /// What ends it, and who may go on.
    pub fn how(self) -> &'static str {
        match self {
            Clears::Alone => "ends by itself; keeps nobody from anything",
            Clears::Resume => "ends by itself; whoever may call cues resumes",
            Clears::Reset => "has to end first; then an operator resets",
            Clears::ResetWithoutPower => "over once its power is off; then an operator resets",
            Clears::Acknowledged => "lasts until an operator resets, having looked where the axis really stands",
            Clears::Disarm => "lasts while armed: disarm, reset, arm again",
            Clears::NewStart => "never; start the program anew",
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_two_faults_are_seen_alike() {
        let mut seen = FaultKind::ALL.map(FaultKind::seen);
        seen.sort_unstable();
        assert!(seen.windows(2).all(|pair| pair[0] != pair[1]));
    }
}
