//! `bellwire preset`: the proved way to where a cue starts, planned (`--from`) or asked of a running daemon.

use clap::Args as ClapArgs;

use super::exit::Exit;
use super::later;

/// The proved way from where one cue leaves the rigs to where another starts
#[derive(Debug, ClapArgs)]
pub struct Args {
    /// With --from the folder of the show, else the cue that a running daemon shall preset
    #[arg(value_name = "SHOW|CUE")]
    target: String,
    /// Cue that has ended
    #[arg(long, value_name = "CUE", requires = "to")]
    from: Option<String>,
    /// With --from the cue to start next, else the address of the daemon
    #[arg(long, value_name = "CUE|ADDR")]
    to: Option<String>,
}

pub fn run(_args: &Args) -> Exit {
    later::not_supported("`preset`", "`bellwire check --json SHOW` tells the start and end pose of every cue")
}
