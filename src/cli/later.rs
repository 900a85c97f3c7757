//! Commands of the contract that this version answers, but does not carry out yet.

use std::path::PathBuf;

use clap::Args;

use super::exit::Exit;
use super::output;

/// Fire every cue in order, in virtual time
#[derive(Debug, Args)]
pub struct Rehearse {
    /// Folder of the show
    show: PathBuf,
    /// Print one JSON document and nothing else
    #[arg(long)]
    json: bool,
    /// Write a report for people
    #[arg(long, value_name = "FILE.html")]
    report: Option<PathBuf>,
    /// Factor on the show's clock
    #[arg(long, value_name = "FACTOR")]
    master: Option<f64>,
    /// Seed of everything random
    #[arg(long, value_name = "N")]
    seed: Option<u64>,
    /// Faults to inject
    #[arg(long, value_name = "FILE")]
    faults: Option<PathBuf>,
    /// Take as long as the show does
    #[arg(long)]
    real_time: bool,
}

impl Rehearse {
    pub fn run(&self) -> Exit {
        not_supported("`rehearse`", "run the show with `bellwire run` and its simulated rigs")
    }
}

/// Says that something of the contract is not supported yet, and what to do instead.
pub fn not_supported(what: &str, instead: &str) -> Exit {
    output::message(&format!("error: {what} is not supported yet\n  = help: {instead}\n"));
    Exit::Refused
}
