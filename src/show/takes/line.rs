//! The lines of a table of comma-separated values, and the cells of a line, with their places.

use crate::show::source::Place;

/// A cell: what is left without blanks and quotes, and where that stands.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Cell<'a> {
    pub text: &'a str,
    pub place: Place,
}

/// The lines that hold anything, each where it stands; a byte order mark, comments and blank lines left out.
pub fn lines(text: &str, file: u16) -> impl Iterator<Item = Cell<'_>> {
    let mut start = 0;
    let pieces = text.split_inclusive('\n').map(move |piece| {
        let here = start;
        start += piece.len();
        let mark = if here == 0 && piece.starts_with('\u{feff}') { '\u{feff}'.len_utf8() } else { 0 };
        cell(&piece[mark..], here + mark, file)
    });
    pieces.filter(|line| !line.text.is_empty() && !line.text.starts_with('#'))
}

/// The cells of a line. A value in quotes is the value; no number and no name has a comma in it.
pub fn cells(line: Cell<'_>) -> impl Iterator<Item = Cell<'_>> {
    let mut start = line.place.start as usize;
    line.text.split(',').map(move |piece| {
        let here = start;
        start += piece.len() + 1;
        let bare = cell(piece, here, line.place.file);
        match bare.text.strip_prefix('"').and_then(|rest| rest.strip_suffix('"')) {
            Some(inside) => cell(inside, bare.place.start as usize + 1, line.place.file),
            None => bare,
        }
    })
}

fn cell(piece: &str, start: usize, file: u16) -> Cell<'_> {
    let text = piece.trim();
    let begin = start + (piece.len() - piece.trim_start().len()).min(piece.len() - text.len());
    Cell { text, place: Place { file, start: begin as u32, end: (begin + text.len()) as u32 } }
}
