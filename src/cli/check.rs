//! `bellwire check`: reads a show and proves what can be proved without moving.

use std::path::PathBuf;

use clap::{Args as ClapArgs, ValueEnum};

use super::exit::Exit;
use super::output;
use super::proofs_file::ProofsFile;
use super::threads::Threads;
use crate::proof::{Memory, Proof, prove_from};
use crate::report;
use crate::show::{self, Finding, Reading, Severity, Show};

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
    /// Prove everything anew, whatever an earlier check proved
    #[arg(long)]
    anew: bool,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
enum Deny {
    Warning,
}

pub fn run(args: &Args) -> Exit {
    let reading = show::read(&args.show);
    let proof = reading.show.as_ref().map(|show| proved(args, show));
    let findings = all_findings(&reading, proof.as_ref());
    let written = if args.json {
        output::result(&format!("{:#}\n", report::check_json(&reading, proof.as_ref(), &findings)))
    } else {
        print_for_people(&reading, proof.as_ref(), &findings)
    };
    let denied = |finding: &Finding| match finding.severity {
        Severity::Error => true,
        Severity::Warning => args.deny == Some(Deny::Warning),
        Severity::Note => false,
    };
    if findings.iter().any(denied) { Exit::Refused } else { written }
}

fn proved(args: &Args, show: &Show) -> Proof {
    let file = ProofsFile::of(&args.show);
    let memory = if args.anew { Memory::default() } else { file.read() };
    let proof = prove_from(show, &Threads, &memory);
    file.write(&memory);
    proof
}

/// Findings of the files and of the proof, in the order of files and places.
pub fn all_findings(reading: &Reading, proof: Option<&Proof>) -> Vec<Finding> {
    let proved = proof.into_iter().flat_map(|proof| &proof.findings);
    let mut findings: Vec<Finding> = reading.findings.iter().chain(proved).cloned().collect();
    findings.sort_by_key(|finding| finding.place.map(|place| (place.file, place.start)));
    findings
}

fn print_for_people(reading: &Reading, proof: Option<&Proof>, findings: &[Finding]) -> Exit {
    output::message(&report::render_findings(findings, &reading.sources, output::message_colour()));
    let written = match (&reading.show, proof) {
        (Some(show), Some(proof)) => output::result(&report::check_table(show, proof)),
        (None, _) | (_, None) => Exit::Done,
    };
    output::message(&format!("{}\n", report::summary(findings)));
    written
}
