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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::daemon::journal::keeping::Notes;
    use crate::daemon::journal::pen::pen;
    use crate::engine::{Engine, Request, Role, StopCalls, Verb};
    use crate::journal::{Header, Lost, ShowFiles, replay};
    use crate::proof::Plan;
    use crate::rig::{Cycle, open};
    use crate::stage::fixture::empty_show;
    use std::path::Path;

    /// Ticks that the rings hold.
    const ROOM: u64 = 2048;

    struct Desk {
        cycle: Cycle,
        pen: crate::daemon::journal::Pen,
        scribe: Scribe,
        folder: tempfile::TempDir,
    }

    fn desk() -> Desk {
        let show = Arc::new(empty_show());
        let engine = Engine::new(show.clone(), Arc::new(Plan::default()));
        let (drivers, faults) = open(&show, 1);
        let cycle = Cycle::new(&show, engine, drivers, faults);
        let folder = tempfile::tempdir().expect("a folder");
        let header = Header {
            run: "1".into(),
            started: Nanos::ZERO,
            offset: 0,
            program: String::new(),
            seed: 1,
            rehearsal: false,
        };
        let mut recorder = Recorder::new(header, ShowFiles::new("Empty", &show.hash, &[]));
        let file = JournalFile::create(folder.path(), "a.journal", &recorder.take()).expect("a file");
        let keeping = Arc::new(Keeping::of(Path::new("a.journal")));
        let (pen, pages) = pen(&show, keeping.clone());
        let (_, notes) = Notes::channel();
        let scribe = Scribe { recorder, file, pages, notes, keeping, stop: Arc::default() };
        Desk { cycle, pen, scribe, folder }
    }

    impl Desk {
        fn tick(&mut self, requests: &[Request]) {
            let exchange = self.cycle.exchange(StopCalls::default(), requests, Nanos::ZERO);
            self.pen.write(Nanos::ZERO, &exchange);
        }

        /// Lets the scribe write to the end, and gives the file.
        fn end(self) -> Vec<u8> {
            drop(self.pen);
            self.scribe.run();
            std::fs::read(self.folder.path().join("a.journal")).expect("the journal")
        }
    }

    #[test]
    fn what_found_no_room_in_the_rings_is_a_gap() {
        let mut desk = desk();
        let keeping = desk.scribe.keeping.clone();
        (0..ROOM + 100).for_each(|_| desk.tick(&[]));
        assert!(keeping.fails(), "the alarm is raised by the tick thread itself");
        let mut mind = Mind::default();
        while desk.scribe.pages.next(&mut mind.page) {
            desk.scribe.take(&mut mind);
        }
        (0..10).for_each(|_| desk.tick(&[]));
        let bytes = desk.end();
        assert!(!keeping.fails(), "it is written again");
        assert_eq!(keeping.lost(), 100);
        let verdict = replay(&bytes, |_| {}).expect("a journal");
        assert_eq!(verdict.gaps.len(), 1);
        assert_eq!((verdict.gaps[0].first, verdict.gaps[0].last), (ROOM + 1, ROOM + 100));
        assert_eq!(verdict.ticks, ROOM + 10);
        // The empty show has no files, so nothing of it is replayed; what was kept is read all the same.
        assert!(matches!(verdict.lost, Some((_, Lost::Show))));
    }

    #[test]
    fn a_tick_is_written_once_it_was_taken_out_and_flushed() {
        let mut desk = desk();
        let verb = Verb::Master { value: 0.5 };
        let request = Request {
            id: RequestId(1),
            client: crate::engine::ClientId(1),
            role: Role::Operator,
            edition: 0,
            key: None,
            age: None,
            verb,
        };
        desk.tick(&[]);
        desk.tick(&[request]);
        let keeping = desk.scribe.keeping.clone();
        let before = keeping.bytes();
        let bytes = desk.end();
        assert!(keeping.bytes() > before && keeping.bytes() == bytes.len() as u64);
        let late = crate::daemon::clock::now().saturating_add(Nanos(1_000_000_000));
        keeping.await_written(2, late);
        assert!(crate::daemon::clock::now() < late, "nobody waits for what is written");
    }
}
