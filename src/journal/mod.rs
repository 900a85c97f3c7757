//! The record of a run: its inputs tick by tick, written as it goes and replayed to the bit.
//!
//! The engine is a pure function, so that its inputs are the whole story: whoever has them has the run. A digest of
//! each tick's outputs stands beside its inputs, and answers and events stand there whole, so that a replay that
//! differs is seen in the very tick in which it does.
//!
//! A journal is one file a run, only ever appended to: a first line, then frames (`frame`) of records (`record`),
//! ticks packed so that what does not change costs nothing (`pack`). It holds the show's files, and needs nothing else
//! to be replayed. Here are only bytes: files and clocks belong to the daemon and the command line.

mod entry;
mod frame;
mod octets;
mod pack;
mod ran;
mod read;
mod record;
mod recorder;
mod replay;
mod unpack;

pub use entry::{Entry, Turned, digest};
pub use frame::Trouble;
pub use ran::{Ran, Runs, runs};
pub use read::{NotAJournal, Told, read};
pub use record::{FIRST_LINE, Gap, Header, ShowFiles};
pub use recorder::Recorder;
pub use replay::{Difference, Lost, Seen, Verdict, What, replay};
