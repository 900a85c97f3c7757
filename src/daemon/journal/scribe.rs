//! The thread that encodes a run and writes it, and the one that sees it onto the disk.

use std::collections::HashMap;
use std::fs::File;
use std::io;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::Receiver;
use std::thread::Builder;
use std::time::Duration;

use super::file::JournalFile;
use super::keeping::{Keeping, Note};
use super::pen::{Page, Pages};
use crate::daemon::stop_road::StopRoad;
use crate::engine::{Cause, EventKind, RequestId};
use crate::journal::{Gap, Recorder};
use crate::show::Nanos;

/// Without a word it looks so often; also how often it tries again to write.
const LOOK: Duration = Duration::from_millis(100);
/// How much of a run a lost machine may cost.
const SYNC: Duration = Duration::from_secs(1);
/// Between two readings of the wall clock.
const CLOCK: Nanos = Nanos(10_000_000_000);

/// Writes the journal of a run until the tick thread has ended.
pub struct Scribe {
    pub recorder: Recorder,
    pub file: JournalFile,
    pub pages: Pages,
    pub notes: Receiver<Note>,
    pub keeping: Arc<Keeping>,
    pub stop: Arc<StopRoad>,
}

/// What it keeps in mind from tick to tick.
#[derive(Default)]
struct Mind {
    page: Page,
    waited: Vec<Nanos>,
    arrived: HashMap<RequestId, Nanos>,
    clock_read: Option<Nanos>,
    /// Somebody waits for what was said.
    spoke: bool,
    /// Ticks that the file had no room for.
    unkept: Option<(u64, u64)>,
    /// The file was failing when last written to.
    failing: bool,
    why: String,
}

impl Scribe {
    pub fn run(mut self) {
        let dirty = Arc::new(AtomicBool::new(true));
        match self.file.handle() {
            Ok(file) => see_onto_disk(file, &dirty, &self.keeping),
            Err(error) => tracing::warn!("the journal is not synced to its disk: {error}"),
        }
        let mut mind = Mind::default();
        loop {
            let ending = self.pages.is_abandoned();
            while self.pages.next(&mut mind.page) {
                self.take(&mut mind);
            }
            if ending {
                self.recorder.end();
            }
            if std::mem::take(&mut mind.spoke) || ending {
                self.recorder.flush();
            }
            self.write(&mut mind, &dirty);
            if ending {
                break;
            }
            std::thread::park_timeout(LOOK);
        }
        if let Ok(file) = self.file.handle() {
            let _ = file.sync_all();
        }
    }

    /// One tick into the recorder, with what goes before it.
    fn take(&mut self, mind: &mut Mind) {
        for note in self.notes.try_iter() {
            match note {
                Note::Client { client, name } => self.recorder.client(client, &name),
                Note::Arrived { request, at } => drop(mind.arrived.insert(request, at)),
            }
        }
        let tick = mind.page.tick;
        if mind.page.replaced
            && let Some(show) = self.keeping.take_next_show()
        {
            self.recorder.show(show);
        }
        let expected = mind.unkept.map_or(self.recorder.last(), |(_, last)| last) + 1;
        if self.file.is_full() {
            self.keeping.lose(tick + 1 - expected);
            let first = mind.unkept.map_or(expected, |(first, _)| first);
            mind.unkept = Some((first, tick));
            return;
        }
        self.close_gap(mind, expected);
        let page = &mind.page;
        mind.waited.clear();
        for request in &page.requests {
            let arrived = mind.arrived.remove(&request.id);
            // Less than nothing is how the recorder is told that it is not known.
            mind.waited.push(arrived.map_or(Nanos(-1), |arrived| Nanos((page.at.0 - arrived.0).max(0))));
        }
        for event in &page.events {
            if let EventKind::Stop { cause: Cause::Request(lane) } = event.kind
                && let Some(client) = self.stop.pressed_by(lane)
            {
                self.recorder.pressed(tick, client);
            }
        }
        if mind.clock_read.is_none_or(|read| page.at.0 - read.0 >= CLOCK.0) {
            mind.clock_read = Some(page.at);
            self.recorder.clock(tick, page.wall());
        }
        self.recorder.turn(&page.turned(&mind.waited));
        mind.spoke |= !page.answers.is_empty() || !page.events.is_empty();
    }

    /// Records the ticks between the last that is kept and this one.
    fn close_gap(&mut self, mind: &mut Mind, expected: u64) {
        let tick = mind.page.tick;
        if tick != expected {
            self.keeping.lose(tick - expected);
        }
        let first = self.recorder.last() + 1;
        if tick != first {
            let why = match mind.unkept.take() {
                Some(_) => mind.why.clone(),
                None => "the disk was too slow".to_owned(),
            };
            tracing::warn!("the journal lacks ticks {first} to {}: {why}", tick - 1);
            self.recorder.gap(Gap { first, last: tick - 1, why });
            mind.spoke = true;
            self.keeping.overflow_recorded();
        }
    }

    fn write(&mut self, mind: &mut Mind, dirty: &AtomicBool) {
        let framed = self.recorder.framed();
        match self.file.append(&self.recorder.take()) {
            Ok(()) => {
                if std::mem::take(&mut mind.failing) {
                    tracing::info!("the journal is written again");
                }
                dirty.store(true, Ordering::Release);
                self.keeping.wrote(framed, self.file.written());
            }
            Err(error) => {
                let why = format!("{}: {error}", self.file.path().display());
                if !std::mem::replace(&mut mind.failing, true) {
                    tracing::warn!("the journal cannot be written: {why}");
                }
                mind.why.clone_from(&why);
                self.keeping.fail(why);
            }
        }
    }
}

/// A thread of its own, since a disk may take seconds, and what is written must go on being written meanwhile.
fn see_onto_disk(file: File, dirty: &Arc<AtomicBool>, keeping: &Arc<Keeping>) {
    let (of_thread, keeping) = (Arc::downgrade(dirty), keeping.clone());
    let work = move || {
        loop {
            std::thread::sleep(SYNC);
            let Some(dirty) = of_thread.upgrade() else { return };
            if dirty.swap(false, Ordering::AcqRel)
                && let Err(error) = file.sync_data()
                // Some files, such as pipes, know no disk.
                && error.kind() != io::ErrorKind::InvalidInput
            {
                tracing::warn!("the journal's disk fails: {error}; what it took before may be lost");
                keeping.break_down(format!("its disk fails: {error}"));
                return;
            }
        }
    };
    if let Err(error) = Builder::new().name("sync".to_owned()).spawn(work) {
        tracing::warn!("the journal is not synced to its disk: {error}");
    }
}
