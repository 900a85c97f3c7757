//! A take while it is recorded: which axes, since when, and its lines as they come. Files and clocks belong to whoever asks.
//!
//! ```text
//! idle ── prime ──> primed ── first motion, or record ──> recording ── record off ──> stopped ── keep, discard ──> idle
//!          ↑ prime └──┘└── record off ──> idle                  └── an hour is over ──┘
//! ```
//!
//! What is recorded are setpoints: of the same rigs under the same limits they ask for nothing that was not there before, and a
//! rig that lags a little lags no further when it plays them.

use std::collections::VecDeque;
use std::fmt::{self, Write};

use super::head::{Surveyed, head};
use super::read::{LENGTH_MOST, SAMPLES_MOST};
use crate::show::id::{AxisId, RigId};
use crate::show::model::Show;
use crate::show::units::{Nanos, Unit};

/// Of standstill before the first motion, so that a take begins at rest.
const BEFORE: Nanos = Nanos(500_000_000);
/// In an axis's own unit; less is no motion.
const STILL: f64 = 1e-9;

#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Recording {
    #[default]
    Idle,
    Primed,
    Recording,
    Stopped,
}

/// Why nothing was done.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum RecorderError {
    /// A take is being recorded, or waits to be kept or discarded.
    Busy(Recording),
    /// Nothing is primed.
    NotPrimed,
    /// There is nothing to keep or to discard.
    NotStopped(Recording),
    NoRig,
    /// A table of values cannot have such a name.
    Unwritable(String),
}

/// See the module.
#[derive(Debug, Default)]
pub struct Recorder {
    state: Recording,
    rigs: Vec<RigId>,
    columns: Vec<Column>,
    /// The latest samples of a standstill, oldest first.
    before: VecDeque<(Nanos, Vec<f64>)>,
    /// Asked for, and no sample has come yet.
    asked: bool,
    /// When the motion began, and the first and the last sample, on the show's clock.
    began: Nanos,
    first: Nanos,
    last: Nanos,
    samples: usize,
}

#[derive(Clone, Debug)]
struct Column {
    axis: AxisId,
    name: String,
    surveyed: Surveyed,
    decimals: usize,
}

impl Recorder {
    /// Of a take that was recorded before, so long, and waits to be kept or discarded.
    pub fn left(length: Nanos) -> Recorder {
        Recorder { state: Recording::Stopped, last: length, ..Recorder::default() }
    }

    pub fn state(&self) -> Recording {
        self.state
    }

    /// Since the motion began; zero before.
    pub fn elapsed(&self) -> Nanos {
        Nanos(self.last.0 - self.began.0)
    }

    /// Makes ready to record these rigs.
    ///
    /// # Errors
    /// Another take is under way, or there is nothing to record.
    pub fn prime(&mut self, show: &Show, rigs: &[RigId]) -> Result<(), RecorderError> {
        match self.state {
            Recording::Idle | Recording::Primed => {}
            Recording::Recording | Recording::Stopped => return Err(RecorderError::Busy(self.state)),
        }
        let mut rigs = rigs.to_vec();
        rigs.sort_by_key(|rig| rig.index());
        rigs.dedup();
        let axes = rigs.iter().flat_map(|&rig| show.rig(rig).axis_ids());
        let columns: Vec<Column> = axes.map(|axis| Column::of(show, axis)).collect();
        if columns.is_empty() {
            return Err(RecorderError::NoRig);
        }
        if let Some(column) = columns.iter().find(|column| column.name.contains([',', '"'])) {
            return Err(RecorderError::Unwritable(column.name.clone()));
        }
        *self = Recorder { state: Recording::Primed, rigs, columns, ..Recorder::default() };
        Ok(())
    }

    /// The rigs of the take, primed, recorded or to be kept.
    pub fn rigs(&self) -> &[RigId] {
        &self.rigs
    }

    /// Begins though nothing moves, or ends. What is so already stays.
    ///
    /// # Errors
    /// Nothing is primed, or what was recorded is to be kept or discarded first.
    pub fn record(&mut self, on: bool) -> Result<(), RecorderError> {
        match (self.state, on) {
            (Recording::Primed, true) => self.asked = true,
            (Recording::Primed, false) => *self = Recorder::default(),
            (Recording::Recording, false) => self.state = Recording::Stopped,
            (Recording::Recording, true) | (Recording::Stopped, false) => {}
            (Recording::Idle, _) => return Err(RecorderError::NotPrimed),
            (Recording::Stopped, true) => return Err(RecorderError::Busy(Recording::Stopped)),
        }
        Ok(())
    }

    /// Lets go of what was recorded, wherever its file went.
    ///
    /// # Errors
    /// Nothing has been recorded to its end.
    pub fn settle(&mut self) -> Result<(), RecorderError> {
        if self.state != Recording::Stopped {
            return Err(RecorderError::NotStopped(self.state));
        }
        *self = Recorder::default();
        Ok(())
    }

    /// What stands over the samples. `recorded` is the time of day by RFC 3339.
    pub fn head(&self, recorded: &str) -> String {
        let surveyed = |column: &'_ Column| column.surveyed.clone();
        let axes: Vec<(&str, Surveyed)> =
            self.columns.iter().map(|column| (column.name.as_str(), surveyed(column))).collect();
        let names: Vec<&str> = self.columns.iter().map(|column| column.name.as_str()).collect();
        format!("{}time,{}\n", head(Some(recorded), &axes), names.join(","))
    }

    /// Where every axis of the show is asked to be, by `AxisId`, `at` this time of the show's clock, which rises. Adds the
    /// lines that belong into the file.
    pub fn sample(&mut self, at: Nanos, pose: &[f64], lines: &mut String) {
        let here: Vec<f64> = self.columns.iter().map(|column| pose[column.axis.index()]).collect();
        match self.state {
            Recording::Primed => self.wait(at, here, lines),
            Recording::Recording => self.write(at, &here, lines),
            Recording::Idle | Recording::Stopped => {}
        }
    }

    fn wait(&mut self, at: Nanos, here: Vec<f64>, lines: &mut String) {
        let moved = self.before.back().is_some_and(|(_, rest)| differs(rest, &here));
        if !moved && !self.asked {
            while self.before.front().is_some_and(|(then, _)| at.0 - then.0 >= BEFORE.0) {
                self.before.pop_front();
            }
            return self.before.push_back((at, here));
        }
        self.state = Recording::Recording;
        self.began = self.before.back().map_or(at, |(then, _)| *then);
        self.first = self.before.front().map_or(at, |(then, _)| *then);
        for (then, pose) in std::mem::take(&mut self.before) {
            self.write(then, &pose, lines);
        }
        self.write(at, &here, lines);
    }

    fn write(&mut self, at: Nanos, here: &[f64], lines: &mut String) {
        (self.last, self.samples) = (at, self.samples + 1);
        let time = Nanos(at.0 - self.first.0).seconds();
        // Writing to a string cannot fail.
        let _ = write!(lines, "{time:.4}");
        for (column, value) in self.columns.iter().zip(here) {
            let _ = write!(lines, ",{:.*}", column.decimals, value + 0.0);
        }
        lines.push('\n');
        if time >= LENGTH_MOST || self.samples >= SAMPLES_MOST {
            self.state = Recording::Stopped;
        }
    }
}

impl Column {
    fn of(show: &Show, axis: AxisId) -> Column {
        let (name, written) = (show.axis_name(axis), show.axis(axis));
        Column { axis, name, surveyed: Surveyed::of(written), decimals: decimals(written.unit) }
    }
}

/// A micrometre, a hundred thousandth of a degree: finer than any encoder.
fn decimals(unit: Unit) -> usize {
    match unit {
        Unit::Metre => 6,
        Unit::Millimetre => 3,
        Unit::Degree | Unit::Percent => 5,
        Unit::Turn => 7,
    }
}

fn differs(rest: &[f64], here: &[f64]) -> bool {
    rest.iter().zip(here).any(|(rest, here)| (rest - here).abs() > STILL)
}

impl Recording {
    pub fn word(self) -> &'static str {
        match self {
            Recording::Idle => "idle",
            Recording::Primed => "primed",
            Recording::Recording => "recording",
            Recording::Stopped => "stopped",
        }
    }
}

/// What of a file that was cut off can be read: all lines but one that was not written to its end.
pub fn whole_lines(text: &str) -> &str {
    &text[..text.rfind('\n').map_or(0, |end| end + 1)]
}

impl fmt::Display for RecorderError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            RecorderError::Busy(Recording::Stopped) => "a take waits to be kept or discarded: do that first",
            RecorderError::Busy(_) => "a take is being recorded: stop it first",
            RecorderError::NotPrimed => "nothing is primed: name the rigs (machines) to record first",
            RecorderError::NotStopped(Recording::Recording) => "the take is being recorded still: stop it first",
            RecorderError::NotStopped(_) => "no take has been recorded",
            RecorderError::NoRig => "expected at least one rig (machine) to record, found none",
            RecorderError::Unwritable(name) => {
                return write!(f, "`{name}`: a take cannot have a column with a comma or a quote in its name");
            }
        })
    }
}

impl std::error::Error for RecorderError {}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::show::fixture::show_of;
    use crate::show::source::Place;
    use crate::show::takes::read_take;

    const STEP: i64 = 20_000_000;
    const CART: &str = "kind = \"cart\"\nat = [0.0, 0.0, 0.0]\n[[axis]]\nname = \"travel\"\nunit = \"m\"\n\
                        travel = [-2.0, 2.0]\nstart = 0.5\nspeed = 0.5\nacceleration = 0.5\njerk = 1.0\n";

    fn show() -> Show {
        let head = "[show]\nname = \"Takes\"\nmargin = 0.1\nreact = 0.1\n";
        show_of(&[("rigs/east.toml", CART), ("rigs/west.toml", CART), ("show.toml", head)])
    }

    /// Samples from one number of it to another; west moves from the hundredth on, from 0.5 m by 1 mm a sample.
    fn run(recorder: &mut Recorder, samples: std::ops::Range<i64>) -> String {
        let mut lines = String::new();
        for k in samples {
            let west = 0.5 + 1e-3 * (k - 100).max(0) as f64;
            recorder.sample(Nanos(k * STEP), &[-0.25, west], &mut lines);
        }
        lines
    }

    #[test]
    fn a_take_begins_with_the_first_motion_and_half_a_second_of_rest() {
        let (show, mut recorder) = (show(), Recorder::default());
        recorder.prime(&show, &[RigId::new(1)]).unwrap();
        assert_eq!((run(&mut recorder, 0..101), recorder.state()), (String::new(), Recording::Primed));
        let lines = run(&mut recorder, 101..151);
        assert_eq!(recorder.state(), Recording::Recording);
        assert_eq!(recorder.elapsed(), Nanos(50 * STEP), "since the last sample at rest");
        let text = recorder.head("2026-11-26T19:30:00Z") + &lines;
        let (take, findings) = read_take("x", &text, Place::default());
        assert_eq!((findings, take.times.len(), take.columns[0].name.as_str()), (vec![], 25 + 50, "west.travel"));
        assert_eq!((take.times[0], take.columns[0].values[24], take.columns[0].values[74]), (0.0, 0.5, 0.55));
        assert!((take.length() - 1.48).abs() < 1e-9);
        assert_eq!(take.recorded.as_deref(), Some("2026-11-26T19:30:00Z"));
        let (surveyed, _) = take.columns[0].surveyed.as_ref().unwrap();
        assert_eq!(surveyed, &Surveyed::of(show.axis(AxisId::new(1))));
    }

    #[test]
    fn every_press_does_what_it_may_in_each_state_and_nothing_else() {
        let (show, west) = (show(), [RigId::new(1)]);
        let states = [Recording::Idle, Recording::Primed, Recording::Recording, Recording::Stopped];
        let in_state = |state: Recording| {
            let mut recorder = Recorder::default();
            if state != Recording::Idle {
                recorder.prime(&show, &west).unwrap();
            }
            if state == Recording::Recording || state == Recording::Stopped {
                recorder.record(true).unwrap();
                assert_eq!(run(&mut recorder, 0..1), "0.0000,0.500000\n", "a press begins it at rest");
            }
            if state == Recording::Stopped {
                recorder.record(false).unwrap();
            }
            assert_eq!(recorder.state(), state);
            recorder
        };
        type Press<'a> = &'a dyn Fn(&mut Recorder) -> Result<(), RecorderError>;
        let prime: Press = &|recorder| recorder.prime(&show, &west);
        let presses: [(Press, [Option<Recording>; 4]); 4] = [
            (prime, [Some(Recording::Primed), Some(Recording::Primed), None, None]),
            (&|recorder| recorder.record(true), [None, Some(Recording::Primed), Some(Recording::Recording), None]),
            (
                &|recorder| recorder.record(false),
                [None, Some(Recording::Idle), Some(Recording::Stopped), Some(Recording::Stopped)],
            ),
            (&|recorder| recorder.settle(), [None, None, None, Some(Recording::Idle)]),
        ];
        for (index, (press, wanted)) in presses.iter().enumerate() {
            for (state, wanted) in states.into_iter().zip(wanted) {
                let mut recorder = in_state(state);
                let done = press(&mut recorder);
                assert_eq!(done.is_ok(), wanted.is_some(), "press {index} while {state:?}: {done:?}");
                assert_eq!(recorder.state(), wanted.unwrap_or(state), "press {index} while {state:?}");
            }
        }
        assert_eq!(Recorder::default().prime(&show, &[]), Err(RecorderError::NoRig));
    }

    #[test]
    fn a_file_that_was_cut_anywhere_is_read_up_to_the_cut() {
        let (show, mut recorder) = (show(), Recorder::default());
        recorder.prime(&show, &[RigId::new(0), RigId::new(1)]).unwrap();
        let lines = run(&mut recorder, 0..130);
        let head = recorder.head("2026-11-26T19:30:00Z");
        let text = head.clone() + &lines;
        for cut in head.len() + lines.len() / 2..text.len() {
            let (take, findings) = read_take("x", whole_lines(&text[..cut]), Place::default());
            assert_eq!(findings, [], "cut at {cut}");
            assert!(text[..cut].matches('\n').count() == take.times.len() + head.lines().count(), "cut at {cut}");
        }
    }
}
