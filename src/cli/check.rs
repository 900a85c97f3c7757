//! `bellwire check`: reads a show and proves what can be proved without moving.

use std::path::PathBuf;

use clap::{Args as ClapArgs, ValueEnum};

use super::exit::Exit;
use super::later;

/// Read a show and prove what can be proved without moving
#[derive(Debug, ClapArgs)]
pub struct Args {
    /// Folder of the show
    show: PathBuf,
    /// Print one JSON document and nothing else
    #[arg(long)]
    json: bool,
    /// Fail on findings of this severity too
    #[arg(long, value_name = "SEVERITY")]
    deny: Option<Deny>,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
enum Deny {
    Warning,
}

pub fn run(args: &Args) -> Exit {
    let _ = (&args.show, args.json, args.deny == Some(Deny::Warning));
    later::not_supported("`check`", "soon")
}
