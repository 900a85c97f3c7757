//! `bellwire run`: the daemon.

use std::net::SocketAddr;
use std::path::PathBuf;

use clap::Args as ClapArgs;

use super::exit::Exit;
use super::later;

/// Run the daemon on a show; prints every bound address when ready
#[derive(Debug, ClapArgs)]
pub struct Args {
    /// Folder of the show
    pub show: PathBuf,
    /// Address of HTTP and WebSocket; port 0 takes any free one
    #[arg(long, value_name = "ADDR", default_value = "127.0.0.1:7117")]
    pub http: SocketAddr,
    /// Address of OSC, over UDP and TCP
    #[arg(long, value_name = "ADDR", default_value = "127.0.0.1:7118")]
    pub osc: SocketAddr,
    /// Address of the stop port, over UDP
    #[arg(long, value_name = "ADDR", default_value = "127.0.0.1:7119")]
    pub stop_port: SocketAddr,
    /// Folder for the journal of the run
    #[arg(long, value_name = "DIR", conflicts_with = "no_journal")]
    pub journal: Option<PathBuf>,
    /// Keep no journal
    #[arg(long)]
    pub no_journal: bool,
    /// Arm at once; only if all rigs are simulated
    #[arg(long)]
    pub arm: bool,
}

pub fn run(_args: &Args) -> Exit {
    later::not_supported("`run`", "`bellwire check SHOW` reads and proves the show")
}
