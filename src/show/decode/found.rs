//! The findings of one run, as they are collected.

use std::fmt::Display;
use std::ops::Range;

use toml::de::DeValue;

use super::super::finding::{Code, Finding};
use super::super::source::Place;
use super::{Decode, Node};

/// Findings so far, and the file that is being read.
#[derive(Debug, Default)]
pub struct Found {
    pub findings: Vec<Finding>,
    file: u16,
    /// The file has syntax errors: what it lacks may stand in the part that could not be read.
    torn: bool,
    /// Findings past [`Found::MOST`], counted only.
    unsaid: usize,
}

impl Found {
    /// More findings than anybody reads; past them a broken show would only cost time.
    pub const MOST: usize = 1000;

    /// Reads on in another file.
    pub fn enter(&mut self, file: u16, torn: bool) {
        self.file = file;
        self.torn = torn;
    }

    pub fn push(&mut self, finding: Finding) {
        if self.findings.len() < Found::MOST {
            self.findings.push(finding);
        } else {
            self.unsaid += 1;
        }
    }

    /// True once nothing more will be said, so that no work need be done for it.
    pub fn full(&self) -> bool {
        self.findings.len() >= Found::MOST
    }

    /// A place in the file that is being read.
    pub fn place(&self, span: Range<usize>) -> Place {
        // Files are far smaller than 4 GiB: the reader of folders refuses others.
        Place { file: self.file, start: span.start as u32, end: span.end as u32 }
    }

    /// Reports a value of the wrong kind and gives the stand-in.
    pub fn wrong<T: Decode>(&mut self, node: Node<'_>) -> T {
        let expected = T::expected();
        self.bad(node, &expected, format!("write {expected}"));
        T::stand_in()
    }

    /// Reports a value that is not what was expected, and what to do.
    pub fn bad(&mut self, node: Node<'_>, expected: &str, fix: impl Into<String>) {
        let message = format!("`{}`: expected {expected}, found {}", node.key, describe(node.value));
        self.push(Finding::new(Code::BadValue, message).at(node.place).fix(fix));
    }

    /// Reports a key that is not there, unless it may stand in the torn part of the file.
    pub fn missing(&mut self, key: &str, expected: &str, what: &str, place: Place) {
        if !self.torn {
            let message = format!("`{key}` is missing in {what}: expected {expected}, found nothing");
            let fix = format!("add `{key} = ...`");
            self.push(Finding::new(Code::BadValue, message).at(place).fix(fix));
        }
    }

    /// Reports a name that nothing has, with the nearest that something has, or all if none is near. `lack` goes
    /// before the name: "there is no rig".
    pub fn unknown<'n>(&mut self, lack: &str, name: &str, place: Place, known: impl IntoIterator<Item = &'n str>) {
        if self.full() {
            self.unsaid += 1;
            return;
        }
        let known: Vec<&str> = known.into_iter().collect();
        let fix = match nearest(name, known.iter().copied()) {
            None => "none is known here: write one first".into(),
            Some(nearest) if near(name, nearest) => format!("the nearest known name is `{nearest}`"),
            Some(_) => format!("known here: {}", some_of(&known)),
        };
        self.push(Finding::new(Code::UnknownName, format!("{lack} `{name}`")).at(place).fix(fix));
    }

    /// Reports a name that is given twice, pointing at both.
    pub fn duplicate(&mut self, what: &str, name: &str, place: Place, first: Place) {
        let message = format!("there are two {what} `{name}`: expected one");
        let finding = Finding::new(Code::DuplicateName, message).at(place).also(first, "the first is here");
        self.push(finding.fix("keep one; give the other another name or number, or remove it"));
    }

    /// Whether the value at this place has been reported, or was never there, so that what it would mean with
    /// others need not be looked at.
    pub fn spoilt(&self, place: Place) -> bool {
        place.end == 0 || self.findings.iter().any(|finding| finding.place == Some(place))
    }

    /// Whether anything in that file has been reported.
    pub fn spoilt_file(&self, file: u16) -> bool {
        self.findings.iter().any(|finding| finding.place.is_some_and(|place| place.file == file))
    }

    /// The findings in the order of files and places, with a last word on those left out.
    pub fn finish(mut self) -> Vec<Finding> {
        self.findings.sort_by_key(|finding| finding.place.map(|place| (place.file, place.start)));
        if self.unsaid > 0 {
            let message = format!("{} more findings are not told", self.unsaid);
            self.findings.push(Finding::new(Code::Syntax, message).fix("settle those above and check again"));
        }
        self.findings
    }
}

/// The candidate that takes the fewest strokes to reach.
pub fn nearest<'n>(name: &str, known: impl IntoIterator<Item = &'n str>) -> Option<&'n str> {
    // A name of many kilobytes is near to nothing; its head is enough to compare.
    let head = name.char_indices().nth(80).map_or(name, |(end, _)| &name[..end]);
    known.into_iter().min_by_key(|candidate| strsim::osa_distance(head, candidate))
}

/// Whether the one was meant by the other: fewer than half of its characters differ.
pub fn near(name: &str, candidate: &str) -> bool {
    strsim::osa_distance(name, candidate) * 2 < name.chars().count().max(candidate.chars().count())
}

/// As many names as one reads.
fn some_of(names: &[&str]) -> String {
    const MOST: usize = 12;
    let told = names[..names.len().min(MOST)].join(", ");
    if names.len() > MOST { format!("{told} and {} more", names.len() - MOST) } else { told }
}

/// "`above`, `below` or `within`".
pub fn either(words: &[impl Display]) -> String {
    let quoted: Vec<String> = words.iter().map(|word| format!("`{word}`")).collect();
    match quoted.split_last() {
        Some((last, rest)) if !rest.is_empty() => format!("{} or {last}", rest.join(", ")),
        Some((last, _)) => last.clone(),
        None => String::new(),
    }
}

/// What stands in the file, for people.
pub fn describe(value: &DeValue<'_>) -> String {
    match value {
        DeValue::String(text) => {
            let head: String = text.chars().take(40).collect();
            let tail = if head.len() < text.len() { "..." } else { "" };
            format!("the text {head:?}{tail}")
        }
        DeValue::Integer(number) => format!("the number {number}"),
        DeValue::Float(number) => format!("the number {number}"),
        DeValue::Boolean(truth) => truth.to_string(),
        DeValue::Datetime(_) => "a date or time".into(),
        DeValue::Array(items) => format!("a list of {}", items.len()),
        DeValue::Table(_) => "a table".into(),
    }
}
