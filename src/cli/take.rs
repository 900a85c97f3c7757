//! `bellwire take`: what a take holds, how it would be played, and a stretch of it as a take of its own.

use std::io;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use clap::Args as ClapArgs;

use super::exit::Exit;
use super::{output, page_file, plan};
use crate::daemon::whole_file;
use crate::proof::take_alone;
use crate::report::{self, TakePart, TakeTold};
use crate::show::{self, Finding, Place, Reading, Severity, Show, Source, Surveyed, Take};

/// Tell what a take holds and how it would be played; cut a stretch out of it
#[derive(Debug, ClapArgs)]
pub struct Args {
    /// Folder of the show
    show: PathBuf,
    /// Name of the take; without it, a line for each
    take: Option<String>,
    /// Rig that plays the columns that name none, if several could
    #[arg(long, value_name = "RIG", requires = "take")]
    rig: Option<String>,
    /// Samples and path as comma-separated values: time of the recording, then of each axis the recorded position and the
    /// path's position, speed and acceleration
    #[arg(long, requires = "take")]
    csv: bool,
    /// Print one JSON document and nothing else
    #[arg(long, requires = "take", conflicts_with = "csv")]
    json: bool,
    /// Draw samples and path
    #[arg(long, value_name = "FILE", requires = "take", conflicts_with_all = ["csv", "json"])]
    svg: Option<PathBuf>,
    /// Write what lies between two times of it, s from its first sample, as a new take
    #[arg(long, num_args = 2, value_names = ["FROM", "TO"], requires_all = ["take", "name"], conflicts_with_all = ["csv", "json", "svg"])]
    trim: Option<Vec<f64>>,
    /// Name of the new take
    #[arg(long = "as", value_name = "NAME", requires = "trim")]
    name: Option<String>,
    /// Put it in the place of a take that has that name
    #[arg(long, requires = "trim")]
    replace: bool,
    /// Put the survey of now into it: its positions are the same places still
    #[arg(long, requires = "take", conflicts_with_all = ["csv", "json", "svg", "trim"])]
    adopt: bool,
}

pub fn run(args: &Args) -> Exit {
    let reading = show::read(&args.show);
    let Some(name) = &args.take else { return list(&reading) };
    let Some((source, place)) = source_of(&reading, name) else { return no_such_take(args, &reading, name) };
    let (take, findings) = show::read_take(name, &source.text, place);
    if !findings.is_empty() {
        return refuse(args, &reading, &findings);
    }
    if let (Some(ends), Some(new)) = (&args.trim, &args.name) {
        return trim(args, source, name, [ends[0], ends[1]], new);
    }
    let Some(show) = &reading.show else { return refuse(args, &reading, &reading.findings) };
    match show::cast(show, &Arc::new(take), args.rig.as_deref()) {
        Ok(parts) if args.adopt => adopt(&args.show, show, source, &parts[0].1.take.clone(), &parts),
        Ok(parts) => tell(args, &reading, show, &parts),
        Err(why) => failed(&format!("take {name}: {why}")),
    }
}

/// The file of a take, among those that were read.
fn source_of<'a>(reading: &'a Reading, name: &str) -> Option<(&'a Source, Place)> {
    let path = format!("takes/{name}.csv");
    let index = reading.sources.files.iter().position(|file| file.path == path)?;
    Some((&reading.sources.files[index], Place { file: index as u16, start: 0, end: 0 }))
}

fn names(reading: &Reading) -> impl Iterator<Item = &str> {
    let paths = reading.sources.files.iter().map(|file| file.path.as_str());
    paths.filter_map(|path| path.strip_prefix("takes/")?.strip_suffix(".csv"))
}

fn list(reading: &Reading) -> Exit {
    let Some(show) = &reading.show else { return plan::refuse(reading, &reading.findings) };
    let takes: Vec<Take> = names(reading)
        .filter_map(|name| {
            source_of(reading, name).map(|(source, place)| show::read_take(name, &source.text, place).0)
        })
        .collect();
    if takes.is_empty() {
        output::message(&format!("{} has no takes: they lie in takes/NAME.csv\n", show.name));
        return Exit::Done;
    }
    output::result(&report::takes_text(show, &takes))
}

fn no_such_take(args: &Args, reading: &Reading, name: &str) -> Exit {
    if reading.sources.files.is_empty() {
        return refuse(args, reading, &reading.findings);
    }
    let known: Vec<&str> = names(reading).collect();
    let known = if known.is_empty() { "none: they lie in takes/NAME.csv".to_owned() } else { known.join(", ") };
    output::message(&format!(
        "error: there is no take {name} in {}\n  = help: its takes are {known}\n",
        args.show.display()
    ));
    Exit::Refused
}

fn refuse(args: &Args, reading: &Reading, findings: &[Finding]) -> Exit {
    if args.json {
        output::result(&format!("{:#}\n", report::take_json(reading, None, findings)));
        return Exit::Refused;
    }
    plan::refuse(reading, findings)
}

fn failed(why: &str) -> Exit {
    output::message(&format!("error: {why}\n"));
    Exit::Refused
}

fn tell(args: &Args, reading: &Reading, show: &Show, parts: &[(show::RigId, show::Playing)]) -> Exit {
    let mut findings = Vec::new();
    let mut told = Vec::new();
    for (rig, playing) in parts {
        let (played, against) = take_alone(show, (*rig, playing), parts, None);
        findings.extend(against);
        told.push(TakePart { rig: *rig, playing: playing.clone(), played });
    }
    let take = TakeTold { show, take: &parts[0].1.take, parts: &told, findings: &findings };
    let written = if args.json {
        output::result(&format!("{:#}\n", report::take_json(reading, Some(take), &findings)))
    } else if args.csv {
        output::result(&report::take_csv(take))
    } else if let Some(file) = &args.svg {
        page_file::write_page(file, &report::take_svg(take))
    } else {
        output::result(&report::take_text(take))
    };
    let wrong = findings.iter().any(|finding| finding.severity == Severity::Error);
    match (wrong, args.json) {
        (false, _) => written,
        (true, true) => Exit::Refused,
        (true, false) => plan::refuse(reading, &findings),
    }
}

/// Writes a stretch of a take as another. The samples stay as they were recorded, to the letter.
fn trim(args: &Args, source: &Source, name: &str, ends: [f64; 2], new: &str) -> Exit {
    if !show::is_name(new) {
        return failed(&format!(
            "--as {new}: expected a name of 1 to 64 characters without spaces, dots and slashes"
        ));
    }
    let text = match show::cut(&source.text, name, ends) {
        Ok(text) => text,
        Err(why) => return failed(&format!("--trim: {why}")),
    };
    let path = args.show.join("takes").join(format!("{new}.csv"));
    let written = if args.replace { whole_file::replace(&path, &text) } else { whole_file::create(&path, &text) };
    match written {
        Ok(()) => output::result(&format!(
            "{} holds {} s to {} s of {name}; `bellwire take {} {new}` tells of it\n",
            path.display(),
            ends[0],
            ends[1],
            args.show.display()
        )),
        Err(error) if error.kind() == io::ErrorKind::AlreadyExists => {
            failed(&format!("there is a take {new} already: choose another name, or --replace it"))
        }
        Err(error) => failed(&format!("{} could not be written: {error}; nothing was changed", path.display())),
    }
}

/// Puts the survey that the show has into a take.
fn adopt(folder: &Path, show: &Show, source: &Source, take: &Take, parts: &[(show::RigId, show::Playing)]) -> Exit {
    let mut columns: Vec<(usize, Surveyed)> = Vec::new();
    let mut differences = Vec::new();
    for &(axis, column) in parts.iter().flat_map(|(_, playing)| &playing.columns) {
        let now = Surveyed::of(show.axis(axis));
        let name = show.axis_name(axis);
        match &take.columns[column].surveyed {
            Some((was, _)) => {
                differences.extend(was.differences(&now).iter().map(|one| format!("{name}: {one}\n")))
            }
            None => differences.push(format!("{name}: it had no survey\n")),
        }
        columns.push((column, now));
    }
    if differences.is_empty() {
        return output::result(&format!("take {} has the survey of now already\n", take.name));
    }
    columns.sort_by_key(|(column, _)| *column);
    let axes: Vec<(&str, Surveyed)> =
        columns.into_iter().map(|(column, now)| (take.columns[column].name.as_str(), now)).collect();
    let text = show::surveyed_anew(&source.text, take.recorded.as_deref(), &axes);
    let path = folder.join(&source.path);
    match whole_file::replace(&path, &text) {
        Ok(()) => output::result(&format!("{}take {} has the survey of now\n", differences.concat(), take.name)),
        Err(error) => failed(&format!("{} could not be written: {error}; nothing was changed", path.display())),
    }
}
