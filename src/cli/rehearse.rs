//! `bellwire rehearse`: fires every cue in order, in virtual time.

use std::ops::ControlFlow;
use std::path::PathBuf;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};

use clap::Args as ClapArgs;

use super::exit::Exit;
use super::output;
use super::page_file::{made_now, write_page};
use super::progress;
use super::run::read_faults;
use super::threads::Threads;
use crate::proof::{Plan, Proof, all_findings, prove_with};
use crate::rehearsal::{self, Beat, Options, Rehearsal};
use crate::report;
use crate::show::{self, CueId, CueNumber, Finding, InputId, Reading, Severity, Show};

/// Fire every cue in order, in virtual time, on simulated rigs (machines)
#[derive(Debug, ClapArgs)]
pub struct Args {
    /// Folder of the show
    show: PathBuf,
    /// Print one JSON document and nothing else
    #[arg(long)]
    json: bool,
    /// Write a page for people: running order, peaks against limits, plots
    #[arg(long, value_name = "FILE.html")]
    report: Option<PathBuf>,
    /// Factor on the show's clock, above 0 and at most 1; dynamic limits are not proved below 1
    #[arg(long, value_name = "FACTOR", default_value = "1", value_parser = factor)]
    master: f64,
    /// Call at random times, with operators who hold, resume, return and stop at random, and take rigs in hand; the same seed, the same story
    #[arg(long, value_name = "N")]
    seed: Option<u64>,
    /// Let simulated rigs fail as this file says
    #[arg(long, value_name = "FILE")]
    faults: Option<PathBuf>,
    /// Leave an input silent; all others are supplied as true. May be repeated
    #[arg(long, value_name = "INPUT")]
    without: Vec<String>,
    /// Begin at this cue, with the rigs where the list has them
    #[arg(long, value_name = "CUE")]
    from: Option<CueNumber>,
    /// End with this cue
    #[arg(long, value_name = "CUE")]
    to: Option<CueNumber>,
    /// Call each cue as soon as the one before has ended, whatever its gap
    #[arg(long)]
    no_gaps: bool,
    /// Take as long as the show does
    #[arg(long)]
    real_time: bool,
}

fn factor(text: &str) -> Result<f64, String> {
    match text.parse::<f64>() {
        Ok(factor) if factor > 0.0 && factor <= 1.0 => Ok(factor),
        Ok(_) | Err(_) => Err("expected a factor above 0 and at most 1, such as 0.5".into()),
    }
}

pub fn run(args: &Args) -> Exit {
    let reading = show::read(&args.show);
    let proof = reading.show.as_ref().map(|show| prove_with(show, &Threads));
    let findings = all_findings(&reading, proof.as_ref());
    let sound = findings.iter().all(|finding| finding.severity != Severity::Error);
    match (&reading.show, proof) {
        (Some(show), Some(proof)) if sound => rehearse(args, &reading, show, proof, &findings),
        (Some(_) | None, _) => refuse(args, &reading, &findings),
    }
}

/// The show has errors: it is not rehearsed.
fn refuse(args: &Args, reading: &Reading, findings: &[Finding]) -> Exit {
    if args.json {
        let options = Options { master: args.master, seed: args.seed, ..Options::default() };
        let document = report::rehearsal_json(reading, None, findings, &options, None);
        output::result(&format!("{document:#}\n"));
    } else {
        output::message(&report::render_findings(findings, &reading.sources, output::message_colour()));
        let summary = report::summary(findings);
        output::message(&format!("{summary}\nerror: a show with errors in it is not rehearsed\n"));
    }
    Exit::Refused
}

fn rehearse(args: &Args, reading: &Reading, show: &Show, proof: Proof, findings: &[Finding]) -> Exit {
    let options = match options(args, show) {
        Ok(options) => options,
        Err(exit) => return exit,
    };
    let rehearsal = perform(args, &Arc::new(show.clone()), &Arc::new(proof.plan), &options);
    let written = if args.json {
        let document = report::rehearsal_json(reading, Some(show), findings, &options, Some(&rehearsal));
        output::result(&format!("{document:#}\n"))
    } else {
        output::result(&report::rehearsal_table(show, &rehearsal))
    };
    let reported = args
        .report
        .as_deref()
        .map_or(Exit::Done, |path| write_page(path, &report::rehearsal_page(show, &rehearsal, &made_now())));
    if !args.json {
        output::message(&format!("{}\n", report::verdict(show, &rehearsal)));
    }
    match (rehearsal.is_clean(), written) {
        (true, Exit::Done) => reported,
        (true, _) => written,
        (false, _) => Exit::Refused,
    }
}

fn options(args: &Args, show: &Show) -> Result<Options, Exit> {
    let script = args.faults.as_deref().map(|path| read_faults(path, show)).transpose()?;
    let cue = |number: &Option<CueNumber>| number.as_ref().map(|number| find_cue(show, number)).transpose();
    let (from, to) = (cue(&args.from)?, cue(&args.to)?);
    if let (Some(first), Some(last)) = (from, to)
        && first > last
    {
        let [first, last] = [first, last].map(|cue| &show.cue(cue).number);
        return Err(usage(&format!("--from {first} --to {last}: cue {last} comes before cue {first}")));
    }
    let without = args.without.iter().map(|name| find_input(show, name)).collect::<Result<_, _>>()?;
    Ok(Options { master: args.master, seed: args.seed, gaps: !args.no_gaps, from, to, without, faults: script })
}

fn find_cue(show: &Show, number: &CueNumber) -> Result<CueId, Exit> {
    show.find_cue(number).ok_or_else(|| {
        let known: Vec<String> = show.cues.iter().map(|cue| cue.number.to_string()).collect();
        usage(&format!("there is no cue {number} in {}; its cues are {}", show.name, known.join(", ")))
    })
}

fn find_input(show: &Show, name: &str) -> Result<InputId, Exit> {
    let found = show.inputs.iter().position(|input| input.name == name).map(InputId::new);
    found.ok_or_else(|| {
        let known: Vec<String> = show.inputs.iter().map(|input| format!("'{}'", input.name)).collect();
        let known = if known.is_empty() { "it has none".into() } else { format!("they are {}", known.join(", ")) };
        usage(&format!("there is no input '{name}' in {}; {known}", show.name))
    })
}

fn usage(why: &str) -> Exit {
    output::message(&format!("error: {why}\n"));
    Exit::Usage
}

fn perform(args: &Args, show: &Arc<Show>, plan: &Arc<Plan>, options: &Options) -> Rehearsal {
    let interrupted = interruption();
    let bar = progress::bar("{bar:30} {pos} of {len} cues, {msg} of the show");
    let begun = Instant::now();
    let mut drawn = begun;
    let mut pace = |beat: Beat| {
        if args.real_time {
            let due = Duration::from_nanos(beat.time.0.max(0) as u64);
            std::thread::sleep(due.saturating_sub(begun.elapsed()));
        }
        // A clock is not looked at in every tick.
        if beat.time.0 % 1_000_000_000 == 0 && drawn.elapsed() > Duration::from_millis(80) {
            drawn = Instant::now();
            bar.set_length(beat.cues as u64);
            bar.set_position(beat.settled as u64);
            bar.set_message(report::clock(beat.time.seconds()));
        }
        if interrupted.load(Ordering::Relaxed) { ControlFlow::Break(()) } else { ControlFlow::Continue(()) }
    };
    let rehearsal = rehearsal::rehearse(show, plan, options, &mut pace);
    bar.finish_and_clear();
    rehearsal
}

/// Set by Ctrl-C or SIGTERM: the rehearsal then ends with what it has found so far.
fn interruption() -> Arc<AtomicBool> {
    let flag = Arc::new(AtomicBool::new(false));
    let raised = flag.clone();
    std::thread::spawn(move || {
        let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build();
        let asked = |runtime: tokio::runtime::Runtime| {
            runtime.block_on(async {
                let mut term = tokio::signal::unix::signal(tokio::signal::unix::SignalKind::terminate())?;
                tokio::select! {
                    pressed = tokio::signal::ctrl_c() => pressed,
                    _ = term.recv() => Ok(()),
                }
            })
        };
        // Without a handler Ctrl-C ends the process at once, as it does everywhere.
        if runtime.and_then(asked).is_ok() {
            raised.store(true, Ordering::Relaxed);
        }
    });
    flag
}
