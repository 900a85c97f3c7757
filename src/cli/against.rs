//! `bellwire check --against`: the show beside an older version of it, and beside the journals of its runs.

use std::fs;
use std::io;
use std::path::{Path, PathBuf};

use super::exit::Exit;
use super::progress::Counted;
use super::{journal_file, output};
use crate::journal;
use crate::proof::{Memory, Proof, Side, all_findings, compare, prove_from};
use crate::report::{self, Comparison, Journals, Kept, Version};
use crate::show::{self, Finding, Reading, Show};

/// What the command line asks for.
pub struct Asked<'a> {
    pub old: &'a Path,
    pub show: &'a Path,
    pub journals: &'a [PathBuf],
    pub json: bool,
}

/// Tells the differences of the show, read and proved, from its older version. Unchanged cues of that are taken from
/// `memory`. Refused if there are no two versions to compare.
pub fn tell(
    asked: &Asked<'_>,
    (reading, proof): (&Reading, Option<&Proof>),
    findings: &[Finding],
    memory: &Memory,
) -> Exit {
    let old = show::read(asked.old);
    let (Some(was), Some(now), Some(proof)) = (&old.show, &reading.show, proof) else {
        return cannot_compare(asked, &old, (reading, proof), findings);
    };
    let crew = Counted::new();
    let old_proof = prove_from(was, &crew, memory);
    crew.finish();
    let old_findings = all_findings(&old, Some(&old_proof));
    let against = compare(
        Side { show: was, proof: &old_proof, findings: &old_findings },
        Side { show: now, proof, findings },
    );
    let journals = journals(asked.journals);
    let rehearsed = report::rehearsed(now, proof, &[&was.name, &now.name], &journals);
    let (old_folder, folder) = (asked.old.display().to_string(), asked.show.display().to_string());
    let told = Comparison {
        old: version(&old, was, &old_proof, &old_findings, &old_folder),
        new: version(reading, now, proof, findings, &folder),
        against: &against,
        journals: &journals,
        rehearsed: &rehearsed,
    };
    if asked.json {
        let mut document = report::check_json(reading, Some(proof), findings);
        document["against"] = report::against_json(&told);
        return output::result(&format!("{document:#}\n"));
    }
    let written = output::result(&report::against_text(&told, output::result_colour()));
    output::message(&format!("{}\n", report::summary(findings)));
    written
}

fn version<'a>(
    reading: &'a Reading,
    show: &'a Show,
    proof: &'a Proof,
    findings: &'a [Finding],
    folder: &'a str,
) -> Version<'a> {
    Version { reading, show, proof, findings, folder }
}

/// One of the two does not read well: its findings, and that nothing is compared.
fn cannot_compare(
    asked: &Asked<'_>,
    old: &Reading,
    (reading, proof): (&Reading, Option<&Proof>),
    findings: &[Finding],
) -> Exit {
    let bad = if reading.show.is_none() { asked.show } else { asked.old };
    let why = format!("{} does not read without errors: mend these, then compare", bad.display());
    if asked.json {
        let mut document = report::check_json(reading, proof, findings);
        document["against"] = report::not_compared_json(old, &old.findings, &why);
        output::result(&format!("{document:#}\n"));
        return Exit::Refused;
    }
    let colour = output::message_colour();
    if reading.show.is_none() {
        output::message(&report::render_findings(findings, &reading.sources, colour));
        output::message(&format!("{}\n", report::summary(findings)));
    }
    if old.show.is_none() {
        output::message(&format!("in {}:\n", asked.old.display()));
        output::message(&report::render_findings(&old.findings, &old.sources, colour));
    }
    output::message(&format!("error: {why}\n"));
    Exit::Refused
}

/// Everything that the journals of these folders tell; by default of the folder where runs are kept.
fn journals(wished: &[PathBuf]) -> Journals {
    let default = if wished.is_empty() { journal_file::default_folder() } else { None };
    let mut journals = Journals::default();
    for place in wished.iter().chain(&default) {
        journals.folders.push(place.display().to_string());
        match files_in(place) {
            Ok(files) => files.iter().for_each(|file| read(file, &mut journals)),
            // Nobody has run a show yet.
            Err(error) if default.is_some() && error.kind() == io::ErrorKind::NotFound => {}
            Err(error) => journals.troubles.push(format!("{} cannot be read: {error}", place.display())),
        }
    }
    journals
}

/// The journals of a folder by their names; the file itself if it is one.
fn files_in(place: &Path) -> io::Result<Vec<PathBuf>> {
    if fs::metadata(place)?.is_file() {
        return Ok(vec![place.to_owned()]);
    }
    let paths = fs::read_dir(place)?.flatten().map(|entry| entry.path());
    let mut files: Vec<PathBuf> =
        paths.filter(|path| path.is_file() && path.extension().is_some_and(|name| name == "journal")).collect();
    files.sort();
    Ok(files)
}

fn read(file: &Path, journals: &mut Journals) {
    let name = file.display();
    let bytes = match fs::read(file) {
        Ok(bytes) => bytes,
        Err(error) => return journals.troubles.push(format!("{name} is not counted: it cannot be read: {error}")),
    };
    let Ok(runs) = journal::runs(&bytes) else {
        let why = "is not counted: it is no journal of this version";
        return journals.troubles.push(format!("{name} {why}"));
    };
    if runs.broken {
        let why =
            "has missing or damaged places: a cue that ran there is not counted; `bellwire journal` tells where";
        journals.troubles.push(format!("{name} {why}"));
    }
    if runs.unread_show {
        let why = "holds a show that does not read in this version: what ran of it is not counted";
        journals.troubles.push(format!("{name} {why}"));
    }
    journals.kept.push(Kept { file: file.display().to_string(), runs });
}
