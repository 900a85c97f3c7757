//! `bellwire preset`: the proved way to where a cue starts, planned (`--from`) or asked of a running daemon.

use clap::Args as ClapArgs;

use super::client::{self, Daemon};
use super::exit::Exit;
use super::{later, output};
use crate::show::CueNumber;

/// Where a running daemon listens, unless told otherwise.
const DAEMON: &str = "127.0.0.1:7117";

/// The way to where a cue starts: put on standby in a running daemon, or with --from planned
#[derive(Debug, ClapArgs)]
pub struct Args {
    /// The cue that a running daemon shall preset; with --from the folder of the show
    #[arg(value_name = "CUE|SHOW")]
    target: String,
    /// Cue that has ended
    #[arg(long, value_name = "CUE", requires = "to")]
    from: Option<String>,
    /// Address of the daemon; with --from the cue to start next
    #[arg(long, value_name = "ADDR|CUE")]
    to: Option<String>,
    /// Token that `bellwire access` gave, for a daemon that asks for one
    #[arg(long, value_name = "TOKEN", env = "BELLWIRE_TOKEN", hide_env_values = true)]
    token: Option<String>,
}

pub fn run(args: &Args) -> Exit {
    if args.from.is_some() {
        return later::not_supported(
            "`preset --from`",
            "`bellwire check --json SHOW` tells the start and end pose of every cue",
        );
    }
    let Ok(cue) = args.target.parse::<CueNumber>() else {
        output::message(&format!(
            "error: expected a cue number such as 12.5, found '{}'\n  = help: with --from N --to N it is a show folder\n",
            args.target
        ));
        return Exit::Usage;
    };
    let address = args.to.clone().unwrap_or_else(|| DAEMON.to_owned());
    let daemon = Daemon { address, token: args.token.clone() };
    client::ask_of_daemon(async { client::preset(&cue, &daemon).await })
}
