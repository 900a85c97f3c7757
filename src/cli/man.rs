//! `bellwire man`: the manual pages, made from the command line itself.

use std::io;
use std::path::{Path, PathBuf};

use clap::{Args as ClapArgs, CommandFactory};

use super::exit::Exit;
use super::{CommandLine, output};

/// Write the manual pages into a folder: bellwire.1, and one for each command
#[derive(Debug, ClapArgs)]
pub struct Args {
    /// Folder for the pages; it is made if it is missing
    #[arg(value_name = "DIR")]
    folder: PathBuf,
}

pub fn run(args: &Args) -> Exit {
    match write(&args.folder) {
        Ok(()) => output::result(&format!("read them with: man -l {}/bellwire.1\n", args.folder.display())),
        Err(error) => {
            output::message(&format!(
                "error: the manual pages could not be written into {}: {error}; name a folder that you may write\n",
                args.folder.display()
            ));
            Exit::Refused
        }
    }
}

fn write(folder: &Path) -> io::Result<()> {
    std::fs::create_dir_all(folder)?;
    clap_mangen::generate_to(CommandLine::command(), folder)
}
