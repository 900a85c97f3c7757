//! `bellwire plan`: one cue's motion.

use std::path::PathBuf;

use clap::Args as ClapArgs;

use super::exit::Exit;
use super::threads::Threads;
use super::{output, page_file};
use crate::proof::{Proof, prove_with, spare};
use crate::report::{self, TooManyRows};
use crate::show::{self, CueId, CueNumber, Finding, Reading, Severity, Show};

/// Tell one cue's motion
#[derive(Debug, ClapArgs)]
pub struct Args {
    /// Folder of the show
    show: PathBuf,
    /// Number of the cue
    cue: CueNumber,
    /// As comma-separated values: time, then position, speed and acceleration of each axis
    #[arg(long)]
    csv: bool,
    /// Seconds between the rows of --csv; the show's tick if not given
    #[arg(long, value_name = "SECONDS", requires = "csv", value_parser = seconds)]
    every: Option<f64>,
    /// Draw it
    #[arg(long, value_name = "FILE", conflicts_with = "csv")]
    svg: Option<PathBuf>,
}

fn seconds(text: &str) -> Result<f64, String> {
    match text.parse::<f64>() {
        Ok(seconds) if seconds.is_finite() && seconds > 0.0 => Ok(seconds),
        Ok(_) | Err(_) => Err("expected a number of seconds above zero".into()),
    }
}

pub fn run(args: &Args) -> Exit {
    let reading = show::read(&args.show);
    let Some(show) = &reading.show else {
        return refuse(&reading, &reading.findings);
    };
    let Some(id) = show.find_cue(&args.cue) else {
        return refuse_unknown(show, &args.cue);
    };
    let proof = prove_with(show, &Threads);
    let exit = print(args, show, id, &proof);
    let number = show.cue(id).number.to_string();
    let of_cue = |finding: &&Finding| finding.severity == Severity::Error && finding.cues.contains(&number);
    let wrong: Vec<Finding> = proof.findings.iter().filter(of_cue).cloned().collect();
    if wrong.is_empty() { exit } else { refuse(&reading, &wrong) }
}

fn print(args: &Args, show: &Show, id: CueId, proof: &Proof) -> Exit {
    let plan = proof.plan.cue(id);
    if let Some(file) = &args.svg {
        let drawing = report::plan_svg(show, id, &proof.plan, &spare(show, id, plan));
        return page_file::write_page(file, &drawing);
    }
    if !args.csv {
        return output::result(&report::plan_text(show, id, proof, &spare(show, id, plan)));
    }
    let every = args.every.unwrap_or(show.settings.tick.seconds());
    match report::plan_csv(show, plan, every) {
        Ok(table) => output::result(&table),
        Err(TooManyRows { rows }) => {
            let most = report::ROWS_MAX;
            output::message(&format!("error: --every {every}: expected at most {most} rows, found {rows}\n"));
            Exit::Refused
        }
    }
}

pub(super) fn refuse(reading: &Reading, findings: &[Finding]) -> Exit {
    output::message(&report::render_findings(findings, &reading.sources, output::message_colour()));
    output::message(&format!("{}\n", report::summary(findings)));
    Exit::Refused
}

pub(super) fn refuse_unknown(show: &Show, wanted: &CueNumber) -> Exit {
    let numbers: Vec<String> = show.cues.iter().map(|cue| cue.number.to_string()).collect();
    let known = numbers.join(", ");
    output::message(&format!("error: there is no cue {wanted} in {}\n  = help: its cues are {known}\n", show.name));
    Exit::Refused
}
