//! The show as written: files to typed values, findings with file, line and column.

mod called;
mod changes;
mod condition;
pub(crate) mod decode;
mod finding;
#[cfg(test)]
pub mod fixture;
mod folder;
mod id;
mod lens;
mod list;
mod model;
mod number;
mod read;
mod resolve;
mod schema;
mod source;
mod survey;
mod takes;
mod units;
mod winding;
pub(crate) mod written;

pub mod access;
pub mod hand;

pub use access::Role;
pub use changes::{
    AxisPart, Change, CuePart, Subject, changes, differences, same_machines, same_wiring, spelt_whole, used_in,
};
pub use condition::Truth;
pub use finding::{Code, Finding, Severity};
pub use id::{AtomId, AxisId, CueId, InputId, InterlockId, RigId};
pub use lens::{Lens, Ring, Scale, Table};
pub use list::*;
pub use model::*;
pub use number::{CueNumber, CueNumberError};
pub(crate) use read::{OneFile, read_one};
pub use read::{read, read_files};
pub(crate) use schema::schema_of;
pub use schema::{access_schema, schema};
pub use source::{Place, Source, Sources};
pub use survey::{AxisWritten, Rewrite, SurveyError, axes_written, rewritten, with_travel};
pub use takes::{
    CastError, Column, CutError, Recorder, RecorderError, Recording, Surveyed, Take, cast, cut, head, read_take,
    surveyed_anew, whole_lines,
};
pub use units::{Displacement, Metres, Nanos, Radians, Unit};
pub use winding::beyond_winding;

/// Whether a rig or a take may be called that: a name that is a file's name too.
pub fn is_name(text: &str) -> bool {
    !decode::Name::refused(text) && !text.contains(['/', '\\'])
}

/// What reading a folder gave: all findings of one run, and the show if none of them is an error.
#[derive(Clone, Debug)]
pub struct Reading {
    pub show: Option<Show>,
    pub findings: Vec<Finding>,
    pub sources: Sources,
    /// Of the files as they are, also when they do not read well; `None` if there is no folder.
    pub hash: Option<String>,
}

impl Reading {
    /// With what access.toml has to say as well. It is no part of the show: whom it lets in changes neither the show nor
    /// its hash.
    pub fn and_access(mut self, access: access::AccessReading) -> Reading {
        let before = self.sources.files.len() as u16;
        self.findings.extend(access.findings.into_iter().map(|finding| finding.after_files(before)));
        self.sources.files.extend(access.sources.files);
        self
    }

    /// With what a map for hands has to say that lies in the folder; it is no part of the show either.
    pub fn and_map(mut self, map: hand::MapReading) -> Reading {
        let before = self.sources.files.len() as u16;
        self.findings.extend(map.findings.into_iter().map(|finding| finding.after_files(before)));
        self.sources.files.extend(map.sources.files);
        self
    }
}
