//! The files of a show and places in them.

use std::ops::Range;

/// A stretch of one file. Cheap to keep beside every value.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Place {
    /// Index into [`Sources::files`].
    pub file: u16,
    /// Byte offsets.
    pub start: u32,
    pub end: u32,
}

impl Place {
    pub fn span(self) -> Range<usize> {
        self.start as usize..self.end as usize
    }
}

/// One file, as read.
#[derive(Clone, Debug)]
pub struct Source {
    /// Relative to the show folder, with `/`.
    pub path: String,
    pub text: String,
}

/// Every file of the folder that was read, in the order of their paths.
#[derive(Clone, Debug, Default)]
pub struct Sources {
    pub files: Vec<Source>,
}

impl Sources {
    /// Line and column of the start of a place, from 1; the column counts characters.
    pub fn line_column(&self, place: Place) -> (u32, u32) {
        let text = &self.files[usize::from(place.file)].text;
        let mut start = place.span().start.min(text.len());
        while !text.is_char_boundary(start) {
            start -= 1;
        }
        let before = &text[..start];
        let line = before.matches('\n').count() + 1;
        let column = before.rsplit('\n').next().unwrap_or("").chars().count() + 1;
        (line as u32, column as u32)
    }

    pub fn path(&self, place: Place) -> &str {
        &self.files[usize::from(place.file)].path
    }
}
