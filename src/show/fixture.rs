//! Shows of a few lines, for the tests of every room.

use super::Reading;
use super::model::Show;
use super::read::read_files;
use super::source::Source;

/// Reads a show from files that stand in a test: for each its path in the folder, and its text.
pub fn reading_of<T: AsRef<str>>(files: &[(&str, T)]) -> Reading {
    let file = |(path, text): &(&str, T)| Source { path: (*path).to_owned(), text: text.as_ref().to_owned() };
    let mut files: Vec<Source> = files.iter().map(file).collect();
    files.sort_by(|a, b| a.path.cmp(&b.path));
    read_files(&files)
}

/// The same of one that reads well.
pub fn show_of<T: AsRef<str>>(files: &[(&str, T)]) -> Show {
    let reading = reading_of(files);
    reading.show.unwrap_or_else(|| panic!("{:#?}", reading.findings))
}
