//! `bellwire check`: reads a show and proves what can be proved without moving.

use std::path::{Path, PathBuf};

use clap::{Args as ClapArgs, ValueEnum};

use super::against;
use super::exit::Exit;
use super::output;
use super::page_file::{made_now, write_page};
use super::progress::Counted;
use super::proofs_file::ProofsFile;
use crate::proof::{Memory, Proof, all_findings, prove_from};
use crate::report;
use crate::show::access::read_access;
use crate::show::hand::read_map_beside;
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
    /// Write a page for people: findings with the stage drawn, running order, maps, the act on a ruler
    #[arg(long, value_name = "FILE.html")]
    report: Option<PathBuf>,
    /// Tell what an edit changed since this folder: what breaks, what moved, what must be rehearsed again
    #[arg(long, value_name = "OLD_SHOW")]
    against: Option<PathBuf>,
    /// Folder of journals, or one journal, that tell what was rehearsed; by default where `run` keeps them
    #[arg(long, value_name = "DIR", requires = "against")]
    journal: Vec<PathBuf>,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
enum Deny {
    Warning,
}

pub fn run(args: &Args) -> Exit {
    let reading = read(&args.show);
    let memory = if args.anew { Memory::default() } else { ProofsFile::of(&args.show).read() };
    let proof = reading.show.as_ref().map(|show| proved(args, show, &memory));
    let findings = all_findings(&reading, proof.as_ref());
    let written = if let Some(old) = &args.against {
        let asked = against::Asked { old, show: &args.show, journals: &args.journal, json: args.json };
        against::tell(&asked, (&reading, proof.as_ref()), &findings, &memory)
    } else if args.json {
        output::result(&format!("{:#}\n", report::check_json(&reading, proof.as_ref(), &findings)))
    } else {
        print_for_people(&reading, proof.as_ref(), &findings)
    };
    let reported = args.report.as_deref().map_or(Exit::Done, |path| {
        let folder = folder_name(&args.show);
        write_page(path, &report::check_page(&reading, proof.as_ref(), &findings, &folder, &made_now()))
    });
    let denied = |finding: &Finding| match finding.severity {
        Severity::Error => true,
        Severity::Warning => args.deny == Some(Deny::Warning),
        Severity::Note => false,
    };
    match (findings.iter().any(denied), written) {
        (true, _) => Exit::Refused,
        (false, Exit::Done) => reported,
        (false, _) => written,
    }
}

/// The show, what `run` reads beside it, and the map for hands, where one lies with it.
fn read(folder: &Path) -> Reading {
    let reading = show::read(folder);
    // Where there is no folder, nothing lies in it.
    if reading.hash.is_none() {
        return reading;
    }
    let map = read_map_beside(folder, reading.show.as_ref());
    let reading = reading.and_access(read_access(folder));
    match map {
        Some(map) => reading.and_map(map),
        None => reading,
    }
}

/// What the folder is called, also where it is given as `.`.
fn folder_name(show: &Path) -> String {
    let whole = show.canonicalize().unwrap_or_else(|_| show.to_owned());
    whole.file_name().unwrap_or(show.as_os_str()).to_string_lossy().into_owned()
}

fn proved(args: &Args, show: &Show, memory: &Memory) -> Proof {
    let crew = Counted::new();
    let proof = prove_from(show, &crew, memory);
    crew.finish();
    ProofsFile::of(&args.show).write(memory);
    proof
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
