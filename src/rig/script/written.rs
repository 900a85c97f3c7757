//! A file of faults as it is written.

use crate::rig::SimFaultKind;
use crate::show::decode::{At, Text, numbers, record, words};
use crate::show::written::{Number, Seconds};

record! {
    /// Faults of simulated rigs (machines): for `bellwire rehearse --faults` and `bellwire run --faults`.
    FaultFile, "a file of faults" {
        /// The faults; each happens once.
        faults as "fault": Option<Vec<At<Fault>>>,
    }
}

record! {
    /// One fault: what fails, when, and for how long.
    Fault, "a fault" {
        /// Name of a simulated rig.
        rig: At<Text>,
        /// Name of its axis, for a kind that is one of an axis. Default: the only axis of the rig.
        axis: Option<At<Text>>,
        /// How it fails. Of a rig: link-lost, mute (it is silent, but hears), late (reports come late), drive (a fault
        /// of its own), ignores-stop. Of an axis: stuck, reversed, drift, brake-slip, jump (of the encoder),
        /// not-a-number, wrong-end (a hard end inside the surveyed travel), crossed (its motor's cable and that of the rig's
        /// next axis).
        kind: SimFaultKind,
        /// s from the start of the run at which it begins; or `cue`.
        at: Option<At<Seconds>>,
        /// Number of the cue with whose own time it begins; or `at`.
        cue: Option<At<Number>>,
        /// s of the cue's own time. Default 0.
        past: Option<At<Seconds>>,
        /// s that it lasts. Default: it never ends. A jump is over at once and has none.
        lasts as "for": Option<At<Seconds>>,
        /// How much, for a kind that needs it: s of late; units per s of drift and brake-slip; units of jump and
        /// wrong-end.
        size: Option<At<Amount>>,
    }
}

numbers! {
    /// How much.
    Amount = -1e6 to 1e6, "s, the axis's unit, or that per s, as the kind needs it";
}

words! {
    SimFaultKind {
        "link-lost" = SimFaultKind::LinkLost,
        "mute" = SimFaultKind::Mute,
        "late" = SimFaultKind::Late,
        "drive" = SimFaultKind::Drive,
        "ignores-stop" = SimFaultKind::IgnoresStop,
        "stuck" = SimFaultKind::Stuck,
        "reversed" = SimFaultKind::Reversed,
        "drift" = SimFaultKind::Drift,
        "brake-slip" = SimFaultKind::BrakeSlip,
        "jump" = SimFaultKind::Jump,
        "not-a-number" = SimFaultKind::NotANumber,
        "wrong-end" = SimFaultKind::WrongEnd,
        "crossed" = SimFaultKind::Crossed,
    }
}
