//! `bellwire plan`: one cue's motion.

use std::path::PathBuf;

use clap::Args as ClapArgs;

use super::exit::Exit;
use super::later;
use crate::show::CueNumber;

/// Tell one cue's motion
#[derive(Debug, ClapArgs)]
pub struct Args {
    /// Folder of the show
    show: PathBuf,
    /// Number of the cue
    cue: CueNumber,
    /// As a table: time, then position, speed and acceleration of each axis
    #[arg(long)]
    csv: bool,
    /// Seconds between the rows of --csv; the show's tick if not given
    #[arg(long, value_name = "SECONDS", requires = "csv")]
    every: Option<f64>,
    /// Draw it
    #[arg(long, value_name = "FILE", conflicts_with = "csv")]
    svg: Option<PathBuf>,
}

pub fn run(args: &Args) -> Exit {
    let _ = (&args.show, &args.cue, args.csv, args.every, &args.svg);
    later::not_supported("`plan`", "soon")
}
