//! Reading a show folder: files, trees, written types, the show.

use std::collections::BTreeSet;
use std::path::Path;

use toml::de::{DeTable, DeValue};

use super::Reading;
use super::decode::{Decode, Found, Node};
use super::finding::{Code, Finding, Severity};
use super::folder::{self, Folder, Kind};
use super::resolve::{Written, WrittenRig, resolve};
use super::source::{Place, Sources};
use super::written::ShowFile;

/// Reads a show folder, strictly.
///
/// Every finding of a show comes from one run: the reader goes on past syntax errors, unreadable values and
/// unknown names, and stays silent about what only follows from them. Never panics, whatever the files hold.
pub fn read(path: &Path) -> Reading {
    let mut found = Found::default();
    let folder = folder::load(path, &mut found);
    if folder.sources.files.is_empty() {
        return Reading { show: None, findings: found.finish(), sources: folder.sources, hash: None };
    }
    let written = decode(&folder, &mut found);
    let show = resolve(&written, &mut found);
    let findings = drop_echoes(found.finish(), &folder.sources);
    let sound = findings.iter().all(|finding| finding.severity != Severity::Error);
    Reading { show: show.filter(|_| sound), findings, hash: Some(folder.hash), sources: folder.sources }
}

fn decode(folder: &Folder, found: &mut Found) -> Written {
    let mut written = Written {
        show: ShowFile::stand_in(),
        show_torn: true,
        rigs: Vec::new(),
        cues: Vec::new(),
        cues_torn: false,
        hash: folder.hash.clone(),
    };
    for (index, source) in folder.sources.files.iter().enumerate() {
        let place = Place { file: index as u16, start: 0, end: 0 };
        let text = if folder.readable[index] { source.text.as_str() } else { "" };
        let torn = !folder.readable[index];
        match &folder.kinds[index] {
            Kind::Show => (written.show, written.show_torn) = parse(text, place, torn, found),
            Kind::Rig(name) => {
                let (file, torn) = parse(text, place, torn, found);
                written.rigs.push(WrittenRig { name: name.clone(), place, file, torn });
            }
            Kind::Cues => {
                let (file, torn) = parse(text, place, torn, found);
                written.cues.push(file);
                written.cues_torn |= torn;
            }
        }
    }
    written
}

/// Reads one file as far as it goes; true if it could not be read whole.
fn parse<T: Decode>(text: &str, place: Place, torn: bool, found: &mut Found) -> (T, bool) {
    let (tree, errors) = DeTable::parse_recoverable(text);
    let torn = torn || !errors.is_empty();
    found.enter(place.file, torn);
    for error in &errors {
        let message = format!("this is not TOML: {}", error.message());
        let place = found.place(error.span().unwrap_or(0..0));
        found.push(Finding::new(Code::Syntax, message).at(place).fix("a line is `key = value`, or a [table]"));
    }
    let node = Node { key: "the file", value: &DeValue::Table(tree.into_inner()), place };
    (T::decode(node, found), torn)
}

/// Leaves out what was found on a line that is not TOML: it says the same again, less clearly.
fn drop_echoes(mut findings: Vec<Finding>, sources: &Sources) -> Vec<Finding> {
    let line = |place: Place| (place.file, sources.line_column(place).0);
    let torn: BTreeSet<(u16, u32)> = findings
        .iter()
        .filter(|finding| finding.code == Code::Syntax)
        .filter_map(|finding| finding.place.map(line))
        .collect();
    if !torn.is_empty() {
        findings.retain(|finding| {
            finding.code == Code::Syntax || finding.place.is_none_or(|place| !torn.contains(&line(place)))
        });
    }
    findings
}
