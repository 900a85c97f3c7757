//! A take made of another: a stretch cut out of it, or its head written anew. Every other line stays as it was recorded.

use std::fmt;

use super::head::{Surveyed, head, is_of_head};
use super::line::{Cell, cells, lines};
use super::read::SAMPLES_LEAST;

/// Why nothing was cut out.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum CutError {
    /// s: the wanted ends lie outside the take, which lasts `length`, or the wrong way round.
    Ends { from: f64, to: f64, length: f64 },
    /// Fewer samples lie between them than a take needs.
    Few { samples: usize },
}

/// From `from` to `to` s of a take that reads well, counted from its first sample, both ends with it; `of` is its name.
///
/// # Errors
/// Ends that it does not have, or too little between them.
pub fn cut(text: &str, of: &str, [from, to]: [f64; 2]) -> Result<String, CutError> {
    let times: Vec<(f64, Cell)> = samples(text).collect();
    let (Some((first, begin)), Some((last, _))) = (times.first(), times.last()) else {
        return Err(CutError::Few { samples: 0 });
    };
    let length = last - first;
    if !(from >= 0.0 && to > from && to <= length + ROUNDING) {
        return Err(CutError::Ends { from, to, length });
    }
    let inside = |time: f64| (from - ROUNDING..=to + ROUNDING).contains(&(time - first));
    let kept: Vec<&str> = times.iter().filter(|(time, _)| inside(*time)).map(|(_, line)| line.text).collect();
    if kept.len() < SAMPLES_LEAST {
        return Err(CutError::Few { samples: kept.len() });
    }
    let over = &text[..begin.place.start as usize];
    let columns = lines(over, 0).next().map_or(0, |columns| columns.place.start as usize);
    let before = over[..columns].trim_start_matches('\u{feff}');
    Ok(format!("{before}# {from} s to {to} s of {of}\n{}{}\n", &over[columns..], kept.join("\n")))
}

/// The same recording under another survey, each axis by the name of its column.
pub fn surveyed_anew(text: &str, recorded: Option<&str>, axes: &[(&str, Surveyed)]) -> String {
    let columns = lines(text, 0).next().map_or(0, |columns| columns.place.start as usize);
    let (over, samples) = text.split_at(columns);
    let kept: String = over.split_inclusive('\n').filter(|line| !is_of_head(line)).collect();
    format!("{}{}{samples}", head(recorded, axes), kept.trim_start_matches('\u{feff}'))
}

/// s; times are written as decimals.
const ROUNDING: f64 = 1e-9;

/// Each sample of a take that reads well: its time as written, and its line.
fn samples(text: &str) -> impl Iterator<Item = (f64, Cell<'_>)> {
    let time = |line: Cell<'_>| cells(line).next().and_then(|cell| cell.text.parse::<f64>().ok());
    lines(text, 0).skip(1).filter_map(move |line| time(line).map(|time| (time, line)))
}

impl fmt::Display for CutError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            CutError::Ends { from, to, length } => write!(
                f,
                "expected a beginning and a later end from 0 to {length:.3} s, counted from its first sample, found \
                 {from} and {to}"
            ),
            CutError::Few { samples } => {
                write!(f, "expected at least {SAMPLES_LEAST} samples to be left, found {samples}: leave more of it")
            }
        }
    }
}

impl std::error::Error for CutError {}
