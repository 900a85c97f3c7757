//! `bellwire schema`: the JSON Schemas of the files that people write.

use clap::Args as ClapArgs;

use super::exit::Exit;
use super::output;
use crate::{rig, show};

/// Print the JSON Schema of show files
#[derive(Debug, ClapArgs)]
pub struct Args {
    /// That of a file of faults instead, as `rehearse` and `run` take it
    #[arg(long)]
    faults: bool,
    /// That of access.toml, which is no part of the show
    #[arg(long, conflicts_with = "faults")]
    access: bool,
    /// That of a map for `bellwire hand`
    #[arg(long, conflicts_with_all = ["faults", "access"])]
    hand: bool,
}

pub fn run(args: &Args) -> Exit {
    let schema = if args.access {
        show::access_schema()
    } else if args.faults {
        rig::faults_schema()
    } else if args.hand {
        show::hand::map_schema()
    } else {
        show::schema()
    };
    output::result(&format!("{schema:#}\n"))
}
