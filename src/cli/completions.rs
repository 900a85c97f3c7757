//! `bellwire completions`: what a shell needs to complete the command line.

use clap::{Args as ClapArgs, CommandFactory};
use clap_complete::Shell;

use super::exit::Exit;
use super::{CommandLine, output};

/// Print shell completions
#[derive(Debug, ClapArgs)]
pub struct Args {
    shell: Shell,
}

pub fn run(args: &Args) -> Exit {
    let mut script = Vec::new();
    clap_complete::generate(args.shell, &mut CommandLine::command(), "bellwire", &mut script);
    output::result(&String::from_utf8_lossy(&script))
}
