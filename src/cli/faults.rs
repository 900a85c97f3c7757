//! `bellwire faults`: what is done about which fault.

use clap::Args as ClapArgs;

use super::exit::Exit;
use super::output;
use crate::report;

/// Print what is done about each fault, and what clears it
#[derive(Debug, ClapArgs)]
pub struct Args {
    /// Print one JSON document and nothing else
    #[arg(long)]
    json: bool,
}

pub fn run(args: &Args) -> Exit {
    if args.json {
        output::result(&format!("{:#}\n", report::fault_json()))
    } else {
        output::result(&report::fault_table())
    }
}
