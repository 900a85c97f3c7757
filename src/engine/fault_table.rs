//! The table from fault to reaction: the one place where it is decided what is done, and what undoes it.
//!
//! Where it is still to be believed what is measured, and the drive obeys, a fault is answered on the path: the rigs
//! slow together. Where it is not, power is taken from that rig at once and its brakes act; the others slow together.
//! Nobody's brakes are trusted less for it: a rig whose power is gone still keeps the stop latched while it moves.

use serde::{Deserialize, Serialize};

/// A kind of fault, without saying of which rig or axis.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum FaultKind {
    LateReports,
    OverrunHold,
    OverrunStop,
    MovesUnpowered,
    Following,
    Stuck,
    Reversed,
    RunsOn,
    Creeps,
    Jump,
    NonFinite,
    OverTravel,
    BrakeSlip,
    LinkLost,
    Drive,
    Swapped,
    Engine,
}

/// What is done about a fault; the worst of a tick wins.
///
/// No fault stops one group of cues and lets the others go on: a rig that does not do as it is told is a danger to what
/// comes near it, and how far that reaches no map tells. Each group brakes as fast as its own axes can.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Reaction {
    Warn,
    Hold,
    /// The latched stop of everything.
    Stop,
    /// The latched stop, and the rig's power taken once its setpoints rest.
    StopThenDisable,
    /// The latched stop, and the rig (or all, if it is the engine's own) disabled at once.
    Disable,
}

/// What ends a fault, and who may go on from there.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Clears {
    /// It ends by itself, and keeps nobody from anything.
    Alone,
    /// It ends by itself; whoever may call cues resumes.
    Resume,
    /// Once it has ended by itself an operator may reset.
    Reset,
    /// Without power it cannot stand; an operator may reset, and the rig's setpoint is put where it is measured.
    ResetWithoutPower,
    /// It stands until an operator resets, who says by it that the position was looked at.
    Acknowledged,
    /// It stands while the show is armed: disarm, reset, and arm anew.
    Disarm,
    /// Never in this run: the program is started anew.
    NewStart,
}

/// A row of the table.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Rule {
    pub reaction: Reaction,
    pub clears: Clears,
}

impl FaultKind {
    /// By reaction, the mildest first.
    pub const ALL: [FaultKind; 17] = [
        FaultKind::LateReports,
        FaultKind::OverrunHold,
        FaultKind::OverrunStop,
        FaultKind::MovesUnpowered,
        FaultKind::Following,
        FaultKind::Stuck,
        FaultKind::Reversed,
        FaultKind::RunsOn,
        FaultKind::Creeps,
        FaultKind::Jump,
        FaultKind::NonFinite,
        FaultKind::OverTravel,
        FaultKind::BrakeSlip,
        FaultKind::LinkLost,
        FaultKind::Drive,
        FaultKind::Swapped,
        FaultKind::Engine,
    ];

    pub fn rule(self) -> Rule {
        let (reaction, clears) = match self {
            FaultKind::LateReports => (Reaction::Warn, Clears::Alone),
            FaultKind::OverrunHold => (Reaction::Hold, Clears::Resume),
            FaultKind::OverrunStop => (Reaction::Stop, Clears::Reset),
            FaultKind::MovesUnpowered => (Reaction::Stop, Clears::Reset),
            FaultKind::Following => (Reaction::StopThenDisable, Clears::ResetWithoutPower),
            FaultKind::Stuck => (Reaction::Disable, Clears::ResetWithoutPower),
            FaultKind::Reversed => (Reaction::Disable, Clears::ResetWithoutPower),
            FaultKind::RunsOn => (Reaction::Disable, Clears::ResetWithoutPower),
            FaultKind::Creeps => (Reaction::Disable, Clears::ResetWithoutPower),
            FaultKind::Jump => (Reaction::Disable, Clears::Acknowledged),
            FaultKind::NonFinite => (Reaction::Disable, Clears::Reset),
            FaultKind::OverTravel => (Reaction::Disable, Clears::Reset),
            FaultKind::BrakeSlip => (Reaction::Disable, Clears::Reset),
            FaultKind::LinkLost => (Reaction::Disable, Clears::Reset),
            FaultKind::Drive => (Reaction::Disable, Clears::Reset),
            FaultKind::Swapped => (Reaction::Disable, Clears::Disarm),
            FaultKind::Engine => (Reaction::Disable, Clears::NewStart),
        };
        Rule { reaction, clears }
    }

    pub fn word(self) -> &'static str {
        match self {
            FaultKind::LateReports => "late-reports",
            FaultKind::OverrunHold => "overrun-hold",
            FaultKind::OverrunStop => "overrun-stop",
            FaultKind::MovesUnpowered => "moves-unpowered",
            FaultKind::Following => "following",
            FaultKind::Stuck => "stuck",
            FaultKind::Reversed => "reversed",
            FaultKind::RunsOn => "runs-on",
            FaultKind::Creeps => "creeps",
            FaultKind::Jump => "jump",
            FaultKind::NonFinite => "not-a-number",
            FaultKind::OverTravel => "over-travel",
            FaultKind::BrakeSlip => "brake-slip",
            FaultKind::LinkLost => "link-lost",
            FaultKind::Drive => "drive",
            FaultKind::Swapped => "swapped",
            FaultKind::Engine => "engine",
        }
    }
}

impl Reaction {
    pub fn word(self) -> &'static str {
        match self {
            Reaction::Warn => "warn",
            Reaction::Hold => "hold",
            Reaction::Stop => "stop",
            Reaction::StopThenDisable => "stop-then-disable",
            Reaction::Disable => "disable",
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_table_rises_from_warnings_to_the_loss_of_power_and_has_each_kind_once() {
        let reactions = FaultKind::ALL.map(|kind| kind.rule().reaction);
        assert!(reactions.is_sorted(), "{reactions:?}");
        let mut kinds = FaultKind::ALL;
        kinds.sort();
        assert!(kinds.windows(2).all(|pair| pair[0] != pair[1]));
    }

    #[test]
    fn nothing_that_stops_ends_without_somebody() {
        for kind in FaultKind::ALL {
            let Rule { reaction, clears } = kind.rule();
            assert_eq!(reaction == Reaction::Warn, clears == Clears::Alone, "{kind:?}");
            assert_eq!(reaction == Reaction::Hold, clears == Clears::Resume, "{kind:?}");
        }
    }
}
