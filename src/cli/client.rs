//! The commands that ask something of a running daemon.

use clap::{Args, Subcommand};

use super::exit::Exit;
use super::later;
use crate::show::CueNumber;

/// Where the daemon is.
#[derive(Debug, Args)]
pub struct Daemon {
    /// Address of the daemon
    #[arg(long = "to", value_name = "ADDR", default_value = "127.0.0.1:7117")]
    pub address: String,
}

#[derive(Debug, Subcommand)]
pub enum Verb {
    /// Put cues on standby, in order; each GO fires the first
    Standby {
        #[arg(required = true, value_name = "CUE")]
        cues: Vec<CueNumber>,
        /// Acknowledge passing over cues
        #[arg(long)]
        skip: bool,
        #[command(flatten)]
        daemon: Daemon,
    },
    /// Fire the standby cue
    Go {
        /// Refused unless this is the standby cue
        cue: Option<CueNumber>,
        #[command(flatten)]
        daemon: Daemon,
    },
    /// Slow a cue, or all that run, to rest on its path
    Hold {
        cue: Option<CueNumber>,
        #[command(flatten)]
        daemon: Daemon,
    },
    /// Carry on a cue, or all that are held
    Resume {
        cue: Option<CueNumber>,
        #[command(flatten)]
        daemon: Daemon,
    },
    /// Go back along the path to the cue's start
    Return {
        cue: CueNumber,
        #[command(flatten)]
        daemon: Daemon,
    },
    /// Stop everything; this is not an emergency stop
    Stop {
        #[command(flatten)]
        daemon: Daemon,
    },
    /// Clear the stop once no cause remains; starts nothing
    Reset {
        #[command(flatten)]
        daemon: Daemon,
    },
    /// Allow motion of the whole show
    Arm {
        #[command(flatten)]
        daemon: Daemon,
    },
    /// Forbid motion of the whole show
    Disarm {
        #[command(flatten)]
        daemon: Daemon,
    },
    /// Set the factor on the show's clock
    Master {
        /// Above 0, to 1
        #[arg(value_name = "FACTOR")]
        value: f64,
        #[command(flatten)]
        daemon: Daemon,
    },
    /// Offer the edited show files to the daemon
    Reload {
        #[command(flatten)]
        daemon: Daemon,
    },
    /// Print the status, as JSON
    Status {
        #[command(flatten)]
        daemon: Daemon,
    },
}

pub fn run(_verb: &Verb) -> Exit {
    later::not_supported("a request to the daemon", "`bellwire check SHOW` reads and proves the show")
}
