//! `bellwire plan`: one cue's motion.

use std::path::PathBuf;

use clap::Args as ClapArgs;
use serde_json::Value;

use super::exit::Exit;
use super::threads::Threads;
use super::{output, page_file};
use crate::proof::{Proof, look_onward_thoroughly, prove_with, spare};
use crate::report::{self, CueMotion, CueStops, TooManyRows};
use crate::show::{self, CueId, CueNumber, Finding, Reading, Severity, Show};

/// Tell one cue's motion
#[derive(Debug, ClapArgs)]
pub struct Args {
    /// Folder of the show
    show: PathBuf,
    /// Number of the cue
    cue: CueNumber,
    /// Tell instead where it stands after a stop at any time of it, and whether it goes on or back from there
    #[arg(long)]
    stops: bool,
    /// As comma-separated values: time, then position, speed and acceleration of each axis, then what each lens sees;
    /// with --stops a row a stop
    #[arg(long)]
    csv: bool,
    /// Print one JSON document and nothing else: its moves, or with --stops its stops
    #[arg(long, conflicts_with_all = ["csv", "svg"])]
    json: bool,
    /// Seconds between the rows of --csv, the show's tick if not given; between the stops told by --stops; or between the
    /// times at which --json tells what a lens sees
    #[arg(long, value_name = "SECONDS", value_parser = seconds)]
    every: Option<f64>,
    /// Draw it
    #[arg(long, value_name = "FILE", conflicts_with_all = ["csv", "stops"])]
    svg: Option<PathBuf>,
}

fn seconds(text: &str) -> Result<f64, String> {
    match text.parse::<f64>() {
        Ok(seconds) if seconds.is_finite() && seconds > 0.0 => Ok(seconds),
        Ok(_) | Err(_) => Err("expected a number of seconds above zero".into()),
    }
}

pub fn run(args: &Args) -> Exit {
    if args.every.is_some() && !args.csv && !args.json && !args.stops {
        output::message("error: --every needs --csv, --json or --stops\n");
        return Exit::Usage;
    }
    let reading = show::read(&args.show);
    let Some(show) = &reading.show else {
        return match args.json {
            true => print_json(args, &reading, None, &reading.findings),
            false => refuse(&reading, &reading.findings),
        };
    };
    let Some(id) = show.find_cue(&args.cue) else {
        return refuse_unknown(show, &args.cue);
    };
    let proof = prove_with(show, &Threads);
    let number = show.cue(id).number.to_string();
    let of_cue = |finding: &&Finding| finding.severity == Severity::Error && finding.cues.contains(&number);
    let wrong: Vec<Finding> = proof.findings.iter().filter(of_cue).cloned().collect();
    if args.json {
        return print_json(args, &reading, Some((show, id, &proof)), &wrong);
    }
    let exit = if args.stops { print_stops(args, show, id, &proof) } else { print(args, show, id, &proof) };
    if wrong.is_empty() { exit } else { refuse(&reading, &wrong) }
}

fn print(args: &Args, show: &Show, id: CueId, proof: &Proof) -> Exit {
    if let Some(file) = &args.svg {
        let drawing = report::plan_svg(show, id, &proof.plan, &spare(show, id, &proof.plan.cues));
        return page_file::write_page(file, &drawing);
    }
    if !args.csv {
        return output::result(&report::plan_text(show, id, proof, &spare(show, id, &proof.plan.cues)));
    }
    write(args, report::plan_csv(show, &proof.plan.cues, id, rows_every(args, show)))
}

fn rows_every(args: &Args, show: &Show) -> f64 {
    args.every.unwrap_or(show.settings.tick.seconds())
}

fn print_stops(args: &Args, show: &Show, id: CueId, proof: &Proof) -> Exit {
    told_of(show, id, proof, |told| match args.csv {
        true => write(args, report::stops_csv(told, rows_every(args, show))),
        false => write(args, report::stops_text(told, args.every)),
    })
}

/// Of a show that does not read well, its findings; else the cue's moves, or its stops.
fn print_json(args: &Args, reading: &Reading, of: Option<(&Show, CueId, &Proof)>, findings: &[Finding]) -> Exit {
    let put =
        |document: Result<Value, TooManyRows>| write(args, document.map(|document| format!("{document:#}\n")));
    let stops = |told: Option<CueStops>| put(report::stops_json(reading, told, args.every, findings));
    let moves = |told: Option<CueMotion>| put(report::plan_json(reading, told, args.every, findings));
    let written = match (of, args.stops) {
        (Some((show, id, proof)), true) => told_of(show, id, proof, |told| stops(Some(told))),
        (Some((show, cue, proof)), false) => {
            let plans = &proof.plan.cues;
            moves(Some(CueMotion { show, cue, plans, spare: &spare(show, cue, plans) }))
        }
        (None, true) => stops(None),
        (None, false) => moves(None),
    };
    if findings.is_empty() { written } else { Exit::Refused }
}

fn told_of(show: &Show, id: CueId, proof: &Proof, tell: impl FnOnce(CueStops) -> Exit) -> Exit {
    let (plan, stops) = (proof.plan.cue(id), &proof.stops[id.index()]);
    let onward = look_onward_thoroughly(show, &proof.plan, id, stops);
    let longest = stops.worst_tick(show, plan, &Threads);
    tell(CueStops { show, cue: id, plan, stops, longest, onward: &onward })
}

fn write(args: &Args, rows: Result<String, TooManyRows>) -> Exit {
    match rows {
        Ok(text) => output::result(&text),
        Err(TooManyRows { rows }) => {
            let (every, most) = (args.every.unwrap_or_default(), report::ROWS_MAX);
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
