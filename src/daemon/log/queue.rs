//! The way of a line to standard error, which never makes a thread wait.
//!
//! Whoever reads our standard error may stop reading: a full pipe must not hold up answers. Lines go through a
//! bounded queue to a thread that may wait; when it is full they are dropped, and how many is said later.

use std::io::{self, Write};
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::mpsc::{Receiver, SyncSender, sync_channel};
use std::time::Duration;

use tracing::Level;

use super::line::{Said, Shape};

const LINES_MAX: usize = 1024;
/// How long [`Queue::flush`] waits for a reader that is slow, at most.
const FLUSH_MAX: Duration = Duration::from_millis(500);

/// The entrance of the queue.
#[derive(Clone, Debug)]
pub struct Queue {
    entries: SyncSender<Entry>,
    dropped: Arc<AtomicU64>,
}

#[derive(Debug)]
enum Entry {
    Line(String),
    /// Everything before this is written; answer when it is.
    Flush(SyncSender<()>),
}

impl Queue {
    /// With a thread of its own at the far end. `shape` is that of the line which tells of dropped ones.
    pub fn start(shape: Shape) -> Queue {
        let (entries, taken) = sync_channel(LINES_MAX);
        let queue = Queue { entries, dropped: Arc::default() };
        let dropped = queue.dropped.clone();
        let thread = std::thread::Builder::new().name("log".to_owned());
        if thread.spawn(move || write_lines(&taken, &dropped, shape)).is_err() {
            eprintln!("warning: no thread for the log: nothing will be logged");
        }
        queue
    }

    pub fn put(&self, line: String) {
        if self.entries.try_send(Entry::Line(line)).is_err() {
            self.dropped.fetch_add(1, Ordering::Relaxed);
        }
    }

    /// Waits until what was put in so far is written, but not for long.
    pub fn flush(&self) {
        let (done, written) = sync_channel(1);
        if self.entries.try_send(Entry::Flush(done)).is_ok() {
            let _ = written.recv_timeout(FLUSH_MAX);
        }
    }
}

fn write_lines(entries: &Receiver<Entry>, dropped: &AtomicU64, shape: Shape) {
    for entry in entries {
        let mut error = io::stderr().lock();
        let missing = dropped.swap(0, Ordering::Relaxed);
        if missing > 0 {
            let said = Said::plain(Level::WARN, format!("{missing} lines were dropped: nobody read them in time"));
            let _ = error.write_all(shape.line(&said).as_bytes());
        }
        match entry {
            Entry::Line(line) => drop(error.write_all(line.as_bytes())),
            Entry::Flush(done) => drop(done.try_send(())),
        }
    }
}
