//! What everyone may know of the journal, and what its scribe is told.

use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::sync::mpsc::{Receiver, SyncSender, sync_channel};
use std::sync::{Mutex, OnceLock, PoisonError};
use std::thread::Thread;
use std::time::Duration;

use super::super::clock;
use crate::engine::{ClientId, RequestId};
use crate::journal::ShowFiles;
use crate::show::Nanos;

/// Notes that wait for the scribe at most. What finds no room is a name or a delay that the report does not have.
const NOTES_MAX: usize = 4096;

/// What only the listeners know.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Note {
    Client {
        client: ClientId,
        name: String,
    },
    /// When a request had come out of its socket, on the monotonic clock.
    Arrived {
        request: RequestId,
        at: Nanos,
    },
}

/// The way of notes to the scribe. Never waits.
#[derive(Clone, Debug)]
pub struct Notes(SyncSender<Note>);

impl Notes {
    pub fn channel() -> (Notes, Receiver<Note>) {
        let (notes, taken) = sync_channel(NOTES_MAX);
        (Notes(notes), taken)
    }

    pub fn send(&self, note: Note) {
        let _ = self.0.try_send(note);
    }
}

/// The state of the journal.
#[derive(Debug, Default)]
pub struct Keeping {
    /// `None`: no journal is kept, as was wished.
    path: Option<PathBuf>,
    /// Every tick up to this one has been handed to the operating system. Written by the scribe.
    written: AtomicU64,
    bytes: AtomicU64,
    /// Ticks that are in no journal.
    lost: AtomicU64,
    /// The file cannot be written. Written by the scribe.
    failing: AtomicBool,
    /// The disk has refused what it had taken before; this does not pass. Written by the sync thread.
    broken: AtomicBool,
    /// The rings were full, and the gap is not recorded yet. Set by the tick thread, cleared by the scribe.
    overflowed: AtomicBool,
    why: Mutex<String>,
    /// The files of the show that comes into force next.
    next_show: Mutex<Option<ShowFiles>>,
    post: OnceLock<Thread>,
}

impl Keeping {
    pub fn of(path: &Path) -> Keeping {
        Keeping { path: Some(path.to_owned()), ..Keeping::default() }
    }

    pub fn path(&self) -> Option<&Path> {
        self.path.as_deref()
    }

    /// A journal is to be kept and at present is not.
    pub fn fails(&self) -> bool {
        self.failing.load(Ordering::Acquire)
            || self.broken.load(Ordering::Acquire)
            || self.overflowed.load(Ordering::Acquire)
    }

    /// Why it fails, for people; empty while it does not.
    pub fn why(&self) -> String {
        if self.fails() { self.why.lock().unwrap_or_else(PoisonError::into_inner).clone() } else { String::new() }
    }

    pub fn lost(&self) -> u64 {
        self.lost.load(Ordering::Relaxed)
    }

    pub fn bytes(&self) -> u64 {
        self.bytes.load(Ordering::Relaxed)
    }

    /// Waits until a tick is written, but not past `latest`, and not at all while nothing can be written. Called by the
    /// post thread alone.
    pub fn await_written(&self, tick: u64, latest: Nanos) {
        while self.path.is_some() && self.written.load(Ordering::Acquire) < tick && !self.fails() {
            let left = latest.0 - clock::now().0;
            if left <= 0 {
                return;
            }
            std::thread::park_timeout(Duration::from_nanos(left.unsigned_abs()));
        }
    }

    /// The thread to wake whenever more is written.
    pub fn set_post(&self, post: Thread) {
        let _ = self.post.set(post);
    }

    /// Before the tick thread is given an edited show: what it was read from.
    pub fn lay_out(&self, show: ShowFiles) {
        *self.next_show.lock().unwrap_or_else(PoisonError::into_inner) = Some(show);
    }

    pub(super) fn take_next_show(&self) -> Option<ShowFiles> {
        self.next_show.lock().unwrap_or_else(PoisonError::into_inner).take()
    }

    pub(super) fn wrote(&self, tick: u64, bytes: u64) {
        self.bytes.store(bytes, Ordering::Relaxed);
        self.written.store(tick, Ordering::Release);
        self.failing.store(false, Ordering::Release);
        self.wake_post();
    }

    pub(super) fn fail(&self, why: String) {
        *self.why.lock().unwrap_or_else(PoisonError::into_inner) = why;
        self.failing.store(true, Ordering::Release);
        self.wake_post();
    }

    pub(super) fn break_down(&self, why: String) {
        *self.why.lock().unwrap_or_else(PoisonError::into_inner) = why;
        self.broken.store(true, Ordering::Release);
        self.wake_post();
    }

    /// By the tick thread: wait-free.
    pub(super) fn overflow(&self) {
        self.overflowed.store(true, Ordering::Release);
    }

    pub(super) fn overflow_recorded(&self) {
        self.overflowed.store(false, Ordering::Release);
    }

    pub(super) fn lose(&self, ticks: u64) {
        self.lost.fetch_add(ticks, Ordering::Relaxed);
    }

    fn wake_post(&self) {
        if let Some(post) = self.post.get() {
            post.unpark();
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn spent(wait: impl FnOnce()) -> Nanos {
        let begin = clock::now();
        wait();
        Nanos(clock::now().0 - begin.0)
    }

    fn in_a_second() -> Nanos {
        clock::now().saturating_add(Nanos(1_000_000_000))
    }

    #[test]
    fn nobody_waits_for_a_journal_that_is_not_kept_or_fails() {
        let second = Nanos(1_000_000_000);
        assert!(spent(|| Keeping::default().await_written(5, in_a_second())) < second);
        let keeping = Keeping::of(Path::new("run.journal"));
        keeping.fail("the disk is full".into());
        assert!(spent(|| keeping.await_written(5, in_a_second())) < second);
        assert_eq!(keeping.why(), "the disk is full");
        keeping.wrote(5, 100);
        assert!(!keeping.fails() && keeping.why().is_empty());
        assert!(spent(|| keeping.await_written(5, in_a_second())) < second);
    }

    #[test]
    fn nobody_waits_for_a_slow_disk_beyond_what_was_agreed() {
        let keeping = Keeping::of(Path::new("run.journal"));
        let waited = spent(|| keeping.await_written(1, clock::now().saturating_add(Nanos(20_000_000))));
        assert!(waited >= Nanos(20_000_000), "{waited}");
    }
}
