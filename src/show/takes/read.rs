//! Reading a take: everything wrong with it is told where it stands.

use super::head::read_head;
use super::line::{Cell, cells, lines};
use super::{Column, Take};
use crate::show::finding::{Code, Finding};
use crate::show::source::Place;

/// The name of the column of times.
const TIME: &str = "time";
/// Fewer samples are no performance.
pub(super) const SAMPLES_LEAST: usize = 10;
/// Of a take; more than anybody plays.
pub(super) const SAMPLES_MOST: usize = 200_000;
pub(super) const LENGTH_MOST: f64 = 3600.0;
/// s; what happened in a longer gap nobody can tell.
const GAP_MOST: f64 = 0.5;
/// s; no recorder is faster.
const STEP_LEAST: f64 = 1e-4;
/// Positions, as in the other files.
const VALUE_MOST: f64 = 1e6;
/// s; a clock may count from long ago.
const TIME_MOST: f64 = 1e10;
const COLUMNS_MOST: usize = 64;
/// Findings of one take; a recording that is spoilt is spoilt in every line.
const TOLD_MOST: usize = 20;

/// Reads a take, and what is wrong with it. With any finding the take is not to be played.
pub fn read_take(name: &str, text: &str, place: Place) -> (Take, Vec<Finding>) {
    let mut reader = Reader {
        take: Take { name: name.to_owned(), place, ..Take::default() },
        findings: Vec::new(),
        untold: 0,
        last: None,
    };
    let mut lines = lines(text, place.file);
    let Some(head) = lines.next() else {
        let message = "a take: expected a line of names and then samples, found nothing";
        reader.tell(Finding::new(Code::BadValue, message).at(place).fix("record it again, or remove the file"));
        return reader.finish();
    };
    if reader.head(head) {
        let over = &text[..head.place.start as usize];
        reader.findings = read_head(over, place, &mut reader.take);
        for line in lines {
            if reader.take.times.len() == SAMPLES_MOST {
                let message = format!("a take: expected at most {SAMPLES_MOST} samples, found more");
                reader.tell(
                    Finding::new(Code::BadValue, message).at(line.place).fix("record it at fewer samples a second"),
                );
                break;
            }
            reader.sample(line);
        }
        reader.look_at_length();
    }
    reader.finish()
}

struct Reader {
    take: Take,
    findings: Vec<Finding>,
    /// Past [`TOLD_MOST`].
    untold: usize,
    /// The last time that could be read, and where it stands.
    last: Option<(f64, Place)>,
}

impl Reader {
    fn tell(&mut self, finding: Finding) {
        if self.findings.len() < TOLD_MOST {
            self.findings.push(finding);
        } else {
            self.untold += 1;
        }
    }

    fn wrong(&mut self, place: Place, message: String, fix: &str) {
        self.tell(Finding::new(Code::BadValue, message).at(place).fix(fix));
    }

    fn finish(mut self) -> (Take, Vec<Finding>) {
        if self.untold > 0 {
            let message = format!("{} more lines of the take are wrong", self.untold);
            let place = self.findings[TOLD_MOST - 1].place.unwrap_or(self.take.place);
            self.findings.push(Finding::new(Code::BadValue, message).at(place).fix("record it again"));
        }
        (self.take, self.findings)
    }

    /// The line of names; false if the samples below it cannot be told apart.
    fn head(&mut self, line: Cell) -> bool {
        let names: Vec<Cell> = cells(line).collect();
        let shown = head_of(line.text);
        if names.len() == 1 && line.text.contains([';', '\t']) {
            self.wrong(
                line.place,
                format!("the names of the columns: expected commas between them, found {shown:?}"),
                "save it with commas between the columns, and a point in the numbers",
            );
            return false;
        }
        if names.iter().all(|name| name.text.parse::<f64>().is_ok()) {
            self.wrong(
                line.place,
                format!("a take: expected a line of names first, such as `time,pan,tilt`, found {shown:?}"),
                "write the names of the columns above the first sample",
            );
            return false;
        }
        if names.len() > COLUMNS_MOST {
            let found = names.len();
            self.wrong(
                line.place,
                format!("a take: expected at most {COLUMNS_MOST} columns, found {found}"),
                "remove the columns that no rig plays",
            );
            return false;
        }
        if names[0].text != TIME {
            let found = head_of(names[0].text);
            self.wrong(
                names[0].place,
                format!("the first column: expected `{TIME}`, in seconds, found {found:?}"),
                "put the times first, and call them `time`",
            );
            return false;
        }
        self.columns(line, &names[1..]);
        self.findings.is_empty()
    }

    fn columns(&mut self, line: Cell, names: &[Cell]) {
        if names.is_empty() {
            let message = "a take: expected a column of at least one axis beside `time`, found none".to_owned();
            self.wrong(line.place, message, "record an axis, or remove the file");
        }
        for name in names {
            let known = |column: &&Column| column.name == name.text;
            let first = self.take.columns.iter().find(known).map(|column| column.place);
            if name.text.is_empty() {
                let place = if name.place.start < name.place.end { name.place } else { line.place };
                let message = "the names of the columns: expected one for each, found one that is empty".to_owned();
                self.wrong(place, message, "remove the comma, or name the axis");
            } else if let Some(first) = first {
                let message = format!("there are two columns `{}`: expected one", head_of(name.text));
                let finding =
                    Finding::new(Code::DuplicateName, message).at(name.place).also(first, "the first is here");
                self.tell(finding.fix("remove one"));
            }
            self.take.columns.push(Column { name: name.text.to_owned(), place: name.place, ..Column::default() });
        }
    }

    fn sample(&mut self, line: Cell) {
        let columns = self.take.columns.len();
        let found = cells(line).count();
        if found != columns + 1 {
            self.wrong(
                line.place,
                format!("a sample: expected {} numbers, one a column, found {found}", columns + 1),
                "remove the line: a sample may be dropped",
            );
            return;
        }
        let mut cells = cells(line);
        let Some(time) = cells.next().and_then(|cell| self.number(TIME, cell, TIME_MOST)) else { return };
        let rises = self.rises(time, line.place);
        self.last = Some((time, line.place));
        let mut values = Vec::with_capacity(columns);
        for (column, cell) in cells.enumerate() {
            let name = self.take.columns[column].name.clone();
            values.extend(self.number(&name, cell, VALUE_MOST).map(|value| (value, cell.place)));
        }
        if rises && values.len() == columns {
            self.take.times.push(time);
            for (column, (value, place)) in self.take.columns.iter_mut().zip(values) {
                column.values.push(value);
                column.places.push(place);
            }
        }
    }

    fn number(&mut self, column: &str, cell: Cell, most: f64) -> Option<f64> {
        match cell.text.parse::<f64>() {
            Ok(value) if value.abs() <= most => Some(value),
            Ok(_) | Err(_) => {
                let (column, found) = (head_of(column), head_of(cell.text));
                let message =
                    format!("`{column}`: expected a number from {:e} to {most:e}, found {found:?}", -most);
                self.wrong(cell.place, message, "remove the line: a sample may be dropped");
                None
            }
        }
    }

    /// Whether the time is later than the last, and not too much.
    fn rises(&mut self, time: f64, place: Place) -> bool {
        let Some((last, before)) = self.last else { return true };
        let step = time - last;
        if (STEP_LEAST..=GAP_MOST).contains(&step) {
            return true;
        }
        let (message, fix) = if step > GAP_MOST {
            (
                format!("the samples: expected no more than {GAP_MOST} s from one to the next, found {step:.3} s"),
                "record the passage again; times are in seconds",
            )
        } else if step == 0.0 {
            (format!("the time {time} is there twice: expected times that rise"), "remove one of the two lines")
        } else if step < 0.0 {
            (format!("the times: expected one later than {last}, found {time}"), "sort the lines by their times")
        } else {
            (
                format!("the times: expected one at least {STEP_LEAST} s after {last}, found {time}"),
                "remove one of the two lines; times are in seconds",
            )
        };
        self.tell(Finding::new(Code::BadValue, message).at(place).also(before, "the one before is here").fix(fix));
        false
    }

    fn look_at_length(&mut self) {
        if !self.findings.is_empty() {
            return;
        }
        let (count, length, place) = (self.take.times.len(), self.take.length(), self.take.place);
        if count < SAMPLES_LEAST {
            let message = format!("a take: expected at least {SAMPLES_LEAST} samples, found {count}");
            self.wrong(place, message, "record it again, or write the move with `to`");
        } else if length > LENGTH_MOST {
            let message = format!("a take: expected at most {LENGTH_MOST} s, found {length:.0} s");
            self.wrong(place, message, "make it several takes");
        }
    }
}

/// As much of a text as one reads.
fn head_of(text: &str) -> String {
    text.chars().take(40).collect()
}
