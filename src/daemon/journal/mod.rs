//! The journal of a run, written off the tick.
//!
//! ```text
//!   tick thread ── Pen ──> rings ──> scribe ── write ──> file ── once a second ──> disk (sync thread)
//!   listeners ──── notes (names, arrivals) ───┘   └── Keeping: how far it is written, and whether at all ──> post
//! ```
//!
//! The tick thread pushes what a tick was into rings that were made at the start; it takes no memory and never waits. An
//! answer goes to its client once its tick has been handed to the operating system, so that whoever was told
//! "accepted" finds it in the journal even if this process is killed in the same instant. Where that does not come
//! soon, because the disk is slow, full or broken, the answer goes without it: nobody waits for a disk.

mod file;
mod keeping;
mod pen;
mod scribe;

use std::io;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::Path;
use std::sync::Arc;
use std::thread::{Builder, JoinHandle};

pub use file::{Folder, folder};
pub use keeping::{Keeping, Note, Notes};
pub use pen::{Page, Pages, Pen, pen};

use super::house::House;
use crate::journal::Recorder;
use file::JournalFile;
use scribe::Scribe;

/// A journal that has been begun: its file is there and holds the show.
pub struct Journal {
    recorder: Recorder,
    file: JournalFile,
}

impl Journal {
    /// Creates the file of a run and writes what `recorder` has so far.
    ///
    /// # Errors
    /// The folder or the file cannot be made or written.
    pub fn create(folder: &Path, name: &str, mut recorder: Recorder) -> io::Result<Journal> {
        let file = JournalFile::create(folder, name, &recorder.take())?;
        Ok(Journal { recorder, file })
    }

    pub fn path(&self) -> &Path {
        self.file.path()
    }

    /// Starts the thread that writes it. If that fails by an error of ours the show runs on, and the alarm is raised.
    pub(super) fn write(self, pages: Pages, house: &Arc<House>) -> io::Result<JoinHandle<()>> {
        let (notes, taken) = Notes::channel();
        house.hub.tell(notes);
        let keeping = house.keeping.clone();
        let Journal { recorder, file } = self;
        let scribe =
            Scribe { recorder, file, pages, notes: taken, keeping: keeping.clone(), stop: house.stop.clone() };
        Builder::new().name("scribe".to_owned()).spawn(move || {
            if catch_unwind(AssertUnwindSafe(|| scribe.run())).is_err() {
                tracing::error!("the scribe thread has panicked: the journal ends here, the show runs on");
                keeping.break_down("an error of bellwire itself".to_owned());
            }
        })
    }
}
