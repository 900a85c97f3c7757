//! The command line: one file a command.
//!
//! Results go to standard output, messages to standard error. The exit code is 0 when it was done, 1 when it was
//! refused or something was found wrong, 2 for a wrong command line and 3 when no daemon was reached.

mod access;
mod against;
mod check;
mod client;
mod completions;
mod exit;
mod faults;
mod hand;
mod journal;
mod journal_file;
mod lend;
mod man;
mod output;
mod page_file;
mod plan;
mod preset;
mod progress;
mod proofs_file;
mod qr;
mod rehearse;
mod run;
mod schema;
mod survey;
mod take;
mod terminal;
mod threads;

use clap::{Parser, Subcommand};

/// Fires the moves of many motorised rigs in a live show on cue, and proves the cue list first.
///
/// The stop here is an operational stop. Emergency stop, enabling devices, final limits and brakes are
/// independent hardware. No one rides on or stands under a rig on the word of this program.
#[derive(Debug, Parser)]
#[command(name = "bellwire", version = crate::VERSION, disable_help_subcommand = true)]
pub struct CommandLine {
    #[command(subcommand)]
    command: Command,
}

#[derive(Debug, Subcommand)]
enum Command {
    Run(run::Args),
    Check(check::Args),
    Rehearse(rehearse::Args),
    Plan(plan::Args),
    Preset(preset::Args),
    Take(take::Args),
    Survey(survey::Args),
    #[command(flatten)]
    Request(client::Verb),
    Access(access::Args),
    Faults(faults::Args),
    Hand(hand::Args),
    Lend(lend::Args),
    Schema(schema::Args),
    Journal(journal::Args),
    Completions(completions::Args),
    Man(man::Args),
}

/// Runs the command line of the process; the exit code is the contract's.
pub fn main() -> std::process::ExitCode {
    // A wrong command line ends here, with its usage on standard error and exit code 2.
    let command_line = CommandLine::parse();
    let exit = match command_line.command {
        Command::Run(args) => run::run(&args),
        Command::Check(args) => check::run(&args),
        Command::Rehearse(args) => rehearse::run(&args),
        Command::Plan(args) => plan::run(&args),
        Command::Preset(args) => preset::run(&args),
        Command::Take(args) => take::run(&args),
        Command::Survey(args) => survey::run(&args),
        Command::Request(verb) => client::run(&verb),
        Command::Access(args) => access::run(&args),
        Command::Faults(args) => faults::run(&args),
        Command::Hand(args) => hand::run(&args),
        Command::Lend(args) => lend::run(&args),
        Command::Schema(args) => schema::run(&args),
        Command::Journal(args) => journal::run(&args),
        Command::Completions(args) => completions::run(&args),
        Command::Man(args) => man::run(&args),
    };
    exit.into()
}
