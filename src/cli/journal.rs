//! `bellwire journal`: reads, verifies and replays the journal of a run, and tells the show.

use std::path::PathBuf;

use clap::Args as ClapArgs;

use super::exit::Exit;
use super::output;
use crate::journal;
use crate::report::{JournalReport, journal_json, journal_text};

/// Read, verify and replay the journal of a run, and report the show
///
/// Exit code 1 if the replay differs anywhere, or if anything but the end of the last record is missing or damaged.
#[derive(Debug, ClapArgs)]
pub struct Args {
    /// The journal
    file: PathBuf,
    /// Print one JSON document and nothing else
    #[arg(long)]
    json: bool,
    /// Add everything that happened, line by line
    #[arg(long, conflicts_with = "json")]
    events: bool,
}

pub fn run(args: &Args) -> Exit {
    let refused = |why: String| {
        output::message(&format!("error: {why}\n"));
        Exit::Refused
    };
    let bytes = match std::fs::read(&args.file) {
        Ok(bytes) => bytes,
        Err(error) => return refused(format!("{} cannot be read: {error}", args.file.display())),
    };
    let mut report = JournalReport::default();
    let Ok(verdict) = journal::replay(&bytes, |seen| report.see(&seen)) else {
        let file = args.file.display();
        return refused(format!(
            "{file} is no journal of this version: it does not begin with `bellwire journal 1`; read it with the \
             bellwire that wrote it"
        ));
    };
    let written = if args.json {
        output::result(&format!("{:#}\n", journal_json(&report, &verdict, bytes.len())))
    } else {
        output::result(&journal_text(&report, &verdict, bytes.len(), args.events))
    };
    if verdict.is_sound() { written } else { Exit::Refused }
}
