//! Reading a show folder: files, trees, written types, the show.

use std::collections::BTreeSet;
use std::path::Path;
use std::sync::Arc;

use toml::de::{DeTable, DeValue};

use super::Reading;
use super::decode::{Decode, Found, Node};
use super::finding::{Code, Finding, Severity};
use super::folder::{self, Folder, Kind};
use super::resolve::{Written, WrittenRig, WrittenTake, resolve};
use super::source::{Place, Source, Sources};
use super::takes::read_take;
use super::written::ShowFile;

/// Reads a show folder, strictly.
///
/// Every finding of a show comes from one run: the reader goes on past syntax errors, unreadable values and
/// unknown names, and stays silent about what only follows from them. Never panics, whatever the files hold.
pub fn read(path: &Path) -> Reading {
    let mut found = Found::default();
    let folder = folder::load(path, &mut found);
    read_folder(folder, found)
}

/// Reads a show again from the files of an earlier reading, [`Reading::sources`]: the same show, with the same hash.
pub fn read_files(files: &[Source]) -> Reading {
    let mut found = Found::default();
    let folder = folder::restore(files, &mut found);
    read_folder(folder, found)
}

fn read_folder(folder: Folder, mut found: Found) -> Reading {
    if folder.sources.files.is_empty() {
        return Reading { show: None, findings: found.finish(), sources: folder.sources, hash: None };
    }
    let written = decode(&folder, &mut found);
    let show = resolve(&written, &mut found);
    let findings = drop_echoes(found.finish(), &folder.sources);
    let sound = findings.iter().all(|finding| finding.severity != Severity::Error);
    Reading { show: show.filter(|_| sound), findings, hash: Some(folder.hash), sources: folder.sources }
}

/// A file that belongs to no show folder, as far as it could be read. Whoever asked for it goes on with `found`, and
/// ends with [`OneFile::findings`].
pub(crate) struct OneFile<T> {
    pub written: T,
    pub found: Found,
    pub sources: Sources,
}

/// Reads one file of TOML, as strictly as those of a show.
pub(crate) fn read_one<T: Decode>(path: &Path) -> OneFile<T> {
    let mut found = Found::default();
    let (source, readable) = folder::load_one(path, &mut found);
    let text = if readable { source.text.as_str() } else { "" };
    let (written, _) = parse(text, Place::default(), !readable, &mut found);
    OneFile { written, found, sources: Sources { files: vec![source] } }
}

impl<T> OneFile<T> {
    /// Everything found, in the order of places, and the files to show it in.
    pub fn findings(self) -> (Vec<Finding>, Sources) {
        (drop_echoes(self.found.finish(), &self.sources), self.sources)
    }
}

fn decode(folder: &Folder, found: &mut Found) -> Written {
    let mut written = Written {
        show: ShowFile::stand_in(),
        show_torn: true,
        rigs: Vec::new(),
        cues: Vec::new(),
        cues_torn: false,
        takes: Vec::new(),
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
            Kind::Take(name) => {
                // One that could not be read has been told.
                let (take, findings) = if torn { Default::default() } else { read_take(name, text, place) };
                written.takes.push(WrittenTake { name: name.clone(), take: Arc::new(take), torn, findings });
            }
        }
    }
    written
}

/// Reads one file as far as it goes; true if it could not be read whole.
pub(super) fn parse<T: Decode>(text: &str, place: Place, torn: bool, found: &mut Found) -> (T, bool) {
    let (tree, errors) = DeTable::parse_recoverable(text);
    let torn = torn || !errors.is_empty();
    found.enter(place.file, torn);
    let mut told = BTreeSet::new();
    for error in &errors {
        let span = error.span().unwrap_or(0..0);
        // One [table] where a [[list]] was begun makes the same error of every item after it.
        if told.insert((error.message(), line_at(text, span.start))) {
            let message = format!("this is not TOML: {}", error.message());
            let fix = remedy(error.message(), line_at(text, span.start));
            found.push(Finding::new(Code::Syntax, message).at(found.place(span)).fix(fix));
        }
    }
    let node = Node { key: "the file", value: &DeValue::Table(tree.into_inner()), place };
    (T::decode(node, found), torn)
}

/// The line around an offset.
fn line_at(text: &str, offset: usize) -> &str {
    let offset = text.floor_char_boundary(offset);
    let start = text[..offset].rfind('\n').map_or(0, |end| end + 1);
    text[start..].lines().next().unwrap_or("")
}

/// What to do about a line that is not TOML, by the slips that hands make.
fn remedy(message: &str, line: &str) -> &'static str {
    let value = line.split_once('=').map_or("", |(_, value)| value.trim());
    if message.contains("duplicate") {
        "it is there already: remove one; of a list of tables each begins with [[name]]"
    } else if value.contains(',') && value.chars().all(|c| c.is_ascii_digit() || "+-, ".contains(c)) {
        "write a decimal point, not a comma"
    } else if line.matches('"').count() % 2 == 1 {
        "close the quotes on the same line"
    } else if value.starts_with(char::is_alphabetic) {
        "put a text in quotes"
    } else {
        "a line is `key = value`, or a [table]"
    }
}

/// Leaves out what was found on a line that is not TOML: it says the same again, less clearly.
pub(super) fn drop_echoes(mut findings: Vec<Finding>, sources: &Sources) -> Vec<Finding> {
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
