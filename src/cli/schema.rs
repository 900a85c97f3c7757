//! `bellwire schema`: the JSON Schema of show files.

use clap::Args as ClapArgs;

use super::exit::Exit;
use super::output;

/// Print the JSON Schema of show files
#[derive(Debug, ClapArgs)]
pub struct Args {}

pub fn run(_args: &Args) -> Exit {
    output::result(&format!("{:#}\n", crate::show::schema()))
}
