//! takes/NAME.csv: a recorded performance, in columns.
//!
//! ```text
//! time,travel,pan
//! 0.000,2.4003,35.02
//! 0.019,2.4001,35.01
//! ```
//!
//! Times in seconds that rise, from whatever they begin at; a column for each axis, in its unit, named `axis` or
//! `rig.axis`. Lines that are blank or begin with # count for nothing. A recorder may be uneven and drop samples; what it
//! writes has to be numbers. Lines are taken apart by hand, since a value is told with its line and its column. Over the
//! columns may stand when it was recorded and under which survey ([`head`]).

mod cast;
mod edit;
mod head;
mod line;
mod read;
mod recorder;
#[cfg(test)]
mod tests;

pub use cast::{CastError, cast};
pub use edit::{CutError, cut, surveyed_anew};
pub use head::{Surveyed, head, survey_hash};
pub use read::read_take;
pub use recorder::{Recorder, RecorderError, Recording, whole_lines};

use super::source::Place;

/// A recorded performance, as written.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Take {
    pub name: String,
    /// The start of its file.
    pub place: Place,
    /// s, as written; rising.
    pub times: Vec<f64>,
    pub columns: Vec<Column>,
    /// When it was recorded, by RFC 3339, if its head says so.
    pub recorded: Option<String>,
}

/// What one axis did.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Column {
    /// `axis` or `rig.axis`.
    pub name: String,
    pub place: Place,
    /// Its axis as it was surveyed then, and where the head tells it.
    pub surveyed: Option<(Surveyed, Place)>,
    /// In the axis's unit, beside the times.
    pub values: Vec<f64>,
    /// Where each value stands.
    pub places: Vec<Place>,
}

impl Take {
    /// s, from the first sample to the last.
    pub fn length(&self) -> f64 {
        match &self.times[..] {
            [first, .., last] => last - first,
            [_] | [] => 0.0,
        }
    }

    /// Of the survey that it was recorded under; `None` if its head tells of none.
    pub fn survey_hash(&self) -> Option<String> {
        let axis = |column: &'_ Column| column.surveyed.clone().map(|(axis, _)| (column.name.clone(), axis));
        let axes: Vec<(String, Surveyed)> = self.columns.iter().filter_map(axis).collect();
        (!axes.is_empty()).then(|| survey_hash(axes.iter().map(|(name, axis)| (name.as_str(), axis))))
    }

    /// Whether the samples are the same, wherever they stand in their files.
    pub fn same_recording(&self, other: &Take) -> bool {
        let column = |a: &Column, b: &Column| a.name == b.name && a.values == b.values;
        self.times == other.times
            && self.columns.len() == other.columns.len()
            && self.columns.iter().zip(&other.columns).all(|(a, b)| column(a, b))
    }
}
