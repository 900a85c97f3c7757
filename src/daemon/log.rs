//! The log, on standard error, which never makes a thread wait.
//!
//! Whoever reads our standard error may stop reading: a full pipe must not hold up answers. Lines go through a
//! bounded queue to a thread that may wait; when it is full they are dropped, and how many is said later.

use std::io::{self, Write};
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::mpsc::{Receiver, SyncSender, sync_channel};
use std::time::Duration;

use tracing_subscriber::filter::LevelFilter;
use tracing_subscriber::fmt::MakeWriter;

const LINES_MAX: usize = 1024;
/// How long [`Log::flush`] waits for a reader that is slow, at most.
const FLUSH_MAX: Duration = Duration::from_millis(500);

/// Keep it as long as lines are to be written.
#[derive(Clone, Debug)]
pub struct Log {
    lines: SyncSender<Line>,
    dropped: Arc<AtomicU64>,
}

enum Line {
    Text(Vec<u8>),
    /// Everything before this is written; answer when it is.
    Flush(SyncSender<()>),
}

impl Log {
    /// Makes this the log of the process.
    pub fn start() -> Log {
        let (lines, taken) = sync_channel(LINES_MAX);
        let log = Log { lines, dropped: Arc::default() };
        let dropped = log.dropped.clone();
        let thread = std::thread::Builder::new().name("log".to_owned());
        if thread.spawn(move || write_lines(&taken, &dropped)).is_err() {
            eprintln!("warning: no thread for the log: nothing will be logged");
        }
        let subscriber = tracing_subscriber::fmt()
            .with_writer(log.clone())
            .with_max_level(LevelFilter::INFO)
            .with_target(false)
            .with_ansi(false)
            .finish();
        // In a test there may be one already.
        let _ = tracing::subscriber::set_global_default(subscriber);
        log
    }

    /// Waits until what was logged so far is written, but not for long.
    pub fn flush(&self) {
        let (done, written) = sync_channel(1);
        if self.lines.try_send(Line::Flush(done)).is_ok() {
            let _ = written.recv_timeout(FLUSH_MAX);
        }
    }
}

fn write_lines(lines: &Receiver<Line>, dropped: &AtomicU64) {
    for line in lines {
        let mut error = io::stderr().lock();
        let missing = dropped.swap(0, Ordering::Relaxed);
        if missing > 0 {
            let _ = writeln!(error, "(log: {missing} lines were dropped, since nobody read them in time)");
        }
        match line {
            Line::Text(text) => drop(error.write_all(&text)),
            Line::Flush(done) => drop(done.try_send(())),
        }
    }
}

impl Write for &Log {
    fn write(&mut self, text: &[u8]) -> io::Result<usize> {
        if self.lines.try_send(Line::Text(text.to_vec())).is_err() {
            self.dropped.fetch_add(1, Ordering::Relaxed);
        }
        Ok(text.len())
    }

    fn flush(&mut self) -> io::Result<()> {
        Ok(())
    }
}

impl<'a> MakeWriter<'a> for Log {
    type Writer = &'a Log;

    fn make_writer(&'a self) -> &'a Log {
        self
    }
}
