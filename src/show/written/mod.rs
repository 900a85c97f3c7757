//! The files of a show as they are written: every key once, with its meaning, its range and its default.
//!
//! The schema's descriptions are the words here.

mod condition;
mod cue_file;
mod lens_table;
mod ranges;
mod rig_file;
mod shape;
mod show_file;
mod take_head;

pub use condition::Condition;
pub use cue_file::{After, Aim, Cue, CueFile, Move, Number, Start, Target};
pub use lens_table::{Lens, LensRing};
pub(crate) use ranges::Seconds;
pub use ranges::{Coordinate, Limit, Position};
pub use rig_file::{Axis, Direction, Joint, RigFile};
pub use shape::{Block, Shape};
pub use show_file::{Interlock, Settings, ShowFile};
pub use take_head::TakeHead;
