//! `bellwire survey`: the travel of a rig's axes, written into its file.

use std::fs;
use std::path::PathBuf;

use clap::Args as ClapArgs;

use super::check::all_findings;
use super::exit::Exit;
use super::proofs_file::ProofsFile;
use super::threads::Threads;
use super::{output, plan, whole_file};
use crate::motion::{stopping_way, travel_between};
use crate::proof::{Side, compare, new_findings, prove_from};
use crate::report::{self, AxisSurvey, SurveyTold};
use crate::show::{
    self, AxisPart, AxisWritten, CueId, Finding, Place, Reading, Severity, Show, Source, Subject, used_in,
};

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
    if args.ends.is_empty() && args.set.is_empty() {
        return output::result(&report::travels_text(&args.rig, &axes));
    }
    match surveyed(args, &axes, &source.text) {
        Ok((surveys, text)) => tell(args, (&reading, index), &surveys, text),
        Err(why) => failed(&why),
    }
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

/// What is asked of each axis, and the file with all of it.
fn surveyed(args: &Args, axes: &[AxisWritten], text: &str) -> Result<(Vec<AxisSurvey>, String), String> {
    let mut text = text.to_owned();
    let mut surveys: Vec<AxisSurvey> = Vec::new();
    let jogged = args.ends.iter().map(|(axis, ends)| (axis, Some(*ends), *ends));
    let given = args.set.iter().map(|(axis, travel)| (axis, None, *travel));
    for (name, ends, travel) in jogged.chain(given) {
        let named = |axis: &&AxisWritten| axis.name == *name;
        let Some(axis) = axes.iter().find(named).filter(|_| surveys.iter().all(|one| one.axis.name != *name))
        else {
            let known: Vec<&str> = axes.iter().map(|axis| axis.name.as_str()).collect();
            return Err(format!("{name}: expected an axis of {}, each once: {}", args.rig, known.join(", ")));
        };
        let travel = match ends {
            None => travel,
            Some(ends) => travel_between(ends, axis.stop, axis.unit.survey_decimals()).ok_or_else(|| {
                let (way, sign) = (stopping_way(axis.stop), axis.unit.sign());
                format!(
                    "{name}: its ends are {:.3}{sign} apart, and a stop from its top speed takes {way:.3}{sign}, at either: \
                     nothing is left. Lower its `share`, or set the travel itself with --set",
                    ends[1] - ends[0]
                )
            })?,
        };
        text = show::with_travel(&text, name, travel).map_err(|error| error.to_string())?;
        surveys.push(AxisSurvey { axis: axis.clone(), ends, travel });
    }
    Ok((surveys, text))
}

/// Proves the show with the survey beside the show without it, tells, and writes the file.
fn tell(args: &Args, (old, index): (&Reading, usize), surveys: &[AxisSurvey], text: String) -> Exit {
    let mut files = old.sources.files.clone();
    files[index].text = text;
    let new = show::read_files(&files);
    let (findings, unproved) = beside(args, old, &new, surveys);
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

/// The errors and warnings that were not there before, and the cues whose proof no longer counts.
fn beside(args: &Args, old: &Reading, new: &Reading, surveys: &[AxisSurvey]) -> (Vec<Finding>, Vec<CueId>) {
    let worth = |finding: &Finding| finding.severity != Severity::Note;
    let (Some(was), Some(now)) = (&old.show, &new.show) else {
        let fresh = new_findings(&old.findings, &new.findings).into_iter().map(|index| new.findings[index].clone());
        let of_axes =
            new.show.as_ref().or(old.show.as_ref()).map_or_else(Vec::new, |show| using(args, show, surveys));
        return (fresh.filter(worth).collect(), of_axes);
    };
    let proofs = ProofsFile::of(&args.show);
    let memory = proofs.read();
    let [old_proof, new_proof] = [was, now].map(|show| prove_from(show, &Threads, &memory));
    let (old_findings, new_findings) = (all_findings(old, Some(&old_proof)), all_findings(new, Some(&new_proof)));
    let against = compare(
        Side { show: was, proof: &old_proof, findings: &old_findings },
        Side { show: now, proof: &new_proof, findings: &new_findings },
    );
    let fresh = against.new_findings.iter().map(|&index| new_findings[index].clone()).filter(worth);
    let unproved = against.cues.iter().filter(|cue| !cue.unproven.is_empty()).map(|cue| cue.now);
    (fresh.collect(), unproved.collect())
}

/// The cues that use an axis whose travel is another now, where nothing can be proved.
fn using(args: &Args, show: &Show, surveys: &[AxisSurvey]) -> Vec<CueId> {
    let moved = surveys.iter().filter(|one| one.travel != one.axis.travel);
    let subject = |one: &AxisSurvey| Subject::Axis {
        rig: args.rig.clone(),
        axis: one.axis.name.clone(),
        part: AxisPart::Travel,
    };
    let mut cues: Vec<CueId> = moved.flat_map(|one| used_in(show, &subject(one))).collect();
    cues.sort();
    cues.dedup();
    cues
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
