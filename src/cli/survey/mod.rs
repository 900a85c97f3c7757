//! `bellwire survey`: the travel of a rig's axes, written into its file; with `--to`, of a running daemon's rig, jogged by keys.

mod keys;
mod live;
mod screen;
mod verb;

use std::fs;
use std::path::PathBuf;

use clap::Args as ClapArgs;

use super::client::{Daemon, Failure, ask_of_daemon};
use super::exit::Exit;
use super::proofs_file::ProofsFile;
use super::threads::Threads;
use super::{output, plan};
use crate::daemon::whole_file;
use crate::proof::{AxisSurvey, Surveying, effect, survey};
use crate::report::{self, SurveyTold};
use crate::show::{self, Place, Reading, Severity, Source};
use keys::Keys;
use live::Live;
use verb::Verb;

/// Set the travel of a rig's axes, and tell what no longer fits
#[derive(Debug, ClapArgs)]
pub struct Args {
    /// Folder of the show
    show: PathBuf,
    /// Name of the rig (machine)
    rig: String,
    /// The ends that an axis was jogged to: its travel becomes what lies between, less the way of a stop at either
    #[arg(long, value_name = "AXIS=LOW,HIGH", value_parser = axis_and_ends)]
    ends: Vec<(String, [f64; 2])>,
    /// The travel itself
    #[arg(long, value_name = "AXIS=LOW,HIGH", value_parser = axis_and_ends)]
    set: Vec<(String, [f64; 2])>,
    /// Axes that are no longer surveyed: nothing moves them but a slow jog by hand
    #[arg(long, value_name = "AXIS")]
    clear: Vec<String>,
    /// The same, with a provisional travel within which they may be jogged
    #[arg(long, value_name = "AXIS=LOW,HIGH", value_parser = axis_and_ends)]
    widen: Vec<(String, [f64; 2])>,
    /// Take the rig in hand at a running daemon, and survey it by the keys of this terminal
    #[arg(
        long, value_name = "ADDR", num_args = 0..=1, default_missing_value = "127.0.0.1:7117",
        conflicts_with_all = ["ends", "set", "clear", "widen", "dry_run", "json"]
    )]
    to: Option<String>,
    /// With --to, what is done instead of keys, in this order: jog AXIS SHARE SECONDS; sign, home AXIS; repeat AXIS [at PLACE]
    /// [times N]; set AXIS low|high|home; forget [AXIS]; clear [AXIS [LOW,HIGH]]; propose; write
    #[arg(long = "do", value_name = "VERB", value_parser = Verb::read, requires = "to")]
    verbs: Vec<Verb>,
    /// Token that `bellwire access` gave; others on this machine may read it from the command line, not from the
    /// environment
    #[arg(long, value_name = "TOKEN", env = "BELLWIRE_TOKEN", hide_env_values = true)]
    token: Option<String>,
    /// Tell all of it, and write nothing
    #[arg(long)]
    dry_run: bool,
    /// Print one JSON document and nothing else
    #[arg(long)]
    json: bool,
}

fn axis_and_ends(text: &str) -> Result<(String, [f64; 2]), String> {
    let expected = "expected an axis and its lower and upper end, such as pan=-170,170";
    let (axis, ends) = text.split_once('=').ok_or(expected)?;
    let (low, high) = ends.split_once(',').ok_or(expected)?;
    let number = |text: &str| text.trim().parse::<f64>().ok().filter(|end| end.abs() <= POSITION_MOST);
    match (number(low), number(high)) {
        (Some(low), Some(high)) if low < high => Ok((axis.to_owned(), [low, high])),
        (Some(_), Some(_)) => Err(format!("{expected}; found the lower end not below the upper")),
        (None, _) | (_, None) => Err(expected.to_owned()),
    }
}

/// As in the files of a show.
const POSITION_MOST: f64 = 1e6;

pub fn run(args: &Args) -> Exit {
    if let Some(address) = &args.to {
        let daemon = Daemon { address: address.clone(), token: args.token.clone() };
        return ask_of_daemon(at_daemon(args, &daemon));
    }
    let reading = show::read(&args.show);
    let path = format!("rigs/{}.toml", args.rig);
    let Some(index) = reading.sources.files.iter().position(|file| file.path == path) else {
        return no_such_rig(args, &reading);
    };
    let source = &reading.sources.files[index];
    let axes = match show::axes_written(&source.text, Place { file: index as u16, start: 0, end: 0 }) {
        Ok(axes) => axes,
        Err(findings) => return plan::refuse(&reading, &findings),
    };
    let asked = asked(args);
    if asked.is_empty() {
        return output::result(&report::travels_text(&args.rig, &axes));
    }
    match survey(&args.rig, &axes, &source.text, &asked) {
        Ok((surveys, text)) => tell(args, (&reading, index), &surveys, text),
        Err(why) => failed(&why),
    }
}

async fn at_daemon(args: &Args, daemon: &Daemon) -> Result<(), Failure> {
    let hash = show::read(&args.show).hash;
    let mut live = Live::take(daemon, &args.rig, hash.as_deref()).await?;
    if args.verbs.is_empty() {
        return Keys::new(live, daemon).run().await;
    }
    let mut outcome = Ok(());
    for verb in &args.verbs {
        match live.carry_out(verb).await {
            Ok(told) => drop(output::result(&told)),
            Err(failure) => {
                outcome = Err(failure);
                break;
            }
        }
    }
    let given = live.give_back().await;
    outcome.and(given)
}

fn failed(why: &str) -> Exit {
    output::message(&format!("error: {why}\n"));
    Exit::Refused
}

fn no_such_rig(args: &Args, reading: &Reading) -> Exit {
    let rigs =
        reading.sources.files.iter().filter_map(|file| file.path.strip_prefix("rigs/")?.strip_suffix(".toml"));
    let rigs: Vec<&str> = rigs.collect();
    if rigs.is_empty() {
        return plan::refuse(reading, &reading.findings);
    }
    failed(&format!(
        "there is no rig {} in {}\n  = help: its rigs are {}",
        args.rig,
        args.show.display(),
        rigs.join(", ")
    ))
}

/// What is asked of each axis.
fn asked(args: &Args) -> Vec<(String, Surveying)> {
    let jogged =
        args.ends.iter().map(|(axis, ends)| (axis.clone(), Surveying::Ends { ends: ends.map(Some), home: None }));
    let given = args.set.iter().map(|(axis, travel)| (axis.clone(), Surveying::Travel(*travel)));
    let cleared = args.clear.iter().map(|axis| (axis.clone(), Surveying::Clear(None)));
    let widened = args.widen.iter().map(|(axis, travel)| (axis.clone(), Surveying::Clear(Some(*travel))));
    jogged.chain(given).chain(cleared).chain(widened).collect()
}

/// Proves the show with the survey beside the show without it, tells, and writes the file.
fn tell(args: &Args, (old, index): (&Reading, usize), surveys: &[AxisSurvey], text: String) -> Exit {
    let mut files = old.sources.files.clone();
    files[index].text = text;
    let new = show::read_files(&files);
    let memory = ProofsFile::of(&args.show).read();
    let (findings, unproved) = effect((&args.rig, surveys), (old, &new), &Threads, &memory);
    let written = !args.dry_run;
    if written && let Err(why) = write(args, &old.sources.files[index], &files[index].text) {
        return failed(&why);
    }
    let called_by = new.show.as_ref().or(old.show.as_ref());
    let told = SurveyTold {
        rig: &args.rig,
        axes: surveys,
        reading: &new,
        findings: &findings,
        unproved: &unproved,
        called_by,
        written,
    };
    let done = if args.json {
        output::result(&format!("{:#}\n", report::survey_json(told)))
    } else {
        let last = match written {
            true => {
                format!("\n{} is written; a running daemon takes it in on `bellwire reload`\n", files[index].path)
            }
            false => "\nnothing was written\n".to_owned(),
        };
        output::result(&format!("{}{last}", report::survey_text(told, output::result_colour())))
    };
    let wrong = findings.iter().any(|finding| finding.severity == Severity::Error);
    if wrong { Exit::Refused } else { done }
}

fn write(args: &Args, source: &Source, text: &str) -> Result<(), String> {
    let path = args.show.join(&source.path);
    let now = fs::read_to_string(&path).map_err(|error| format!("{} cannot be read: {error}", path.display()))?;
    if now != source.text {
        return Err(format!("{} was changed meanwhile: nothing was written, survey again", path.display()));
    }
    whole_file::replace(&path, text)
        .map_err(|error| format!("{} could not be written: {error}; nothing was changed", path.display()))
}
