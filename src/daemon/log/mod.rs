//! The log, on standard error.
//!
//! | level | means |
//! | --- | --- |
//! | error | our bug, always |
//! | warn | something abnormal that someone should look at: a fault, a stop, an overdue standstill |
//! | info | the run as it goes; a refusal is an info |
//! | debug, trace | for developers |

mod line;
mod queue;

use std::fs::File;
use std::io;
use std::os::fd::AsFd;
use std::os::unix::fs::MetadataExt;

use tracing::level_filters::LevelFilter;
use tracing::{Event, Subscriber};
use tracing_subscriber::layer::{Context, Layer, SubscriberExt};

pub use line::LogFormat;
use line::{Said, Shape};
use queue::Queue;

/// The least level that is written.
#[derive(Clone, Copy, Debug, PartialEq, Eq, clap::ValueEnum)]
pub enum LogLevel {
    Error,
    Warn,
    Info,
    Debug,
    Trace,
}

/// Keep it as long as lines are to be written.
#[derive(Clone, Debug)]
pub struct Log {
    queue: Queue,
}

impl Log {
    /// Makes this the log of the process.
    pub fn start(format: LogFormat, level: LogLevel) -> Log {
        let shape = Shape { format, journal: is_journal() };
        let queue = Queue::start(shape);
        let lines = Lines { shape, queue: queue.clone() };
        let subscriber = tracing_subscriber::registry().with(lines.with_filter(filter(level)));
        // In a test there may be one already.
        let _ = tracing::subscriber::set_global_default(subscriber);
        Log { queue }
    }

    /// Waits until what was logged so far is written, but not for long.
    pub fn flush(&self) {
        self.queue.flush();
    }
}

fn filter(level: LogLevel) -> LevelFilter {
    match level {
        LogLevel::Error => LevelFilter::ERROR,
        LogLevel::Warn => LevelFilter::WARN,
        LogLevel::Info => LevelFilter::INFO,
        LogLevel::Debug => LevelFilter::DEBUG,
        LogLevel::Trace => LevelFilter::TRACE,
    }
}

/// Turns what is said into lines.
struct Lines {
    shape: Shape,
    queue: Queue,
}

impl<S: Subscriber> Layer<S> for Lines {
    fn on_event(&self, event: &Event<'_>, _: Context<'_, S>) {
        self.queue.put(self.shape.line(&Said::of(event)));
    }
}

/// Whether standard error is the stream that the service manager gave us for its journal, and was not sent elsewhere
/// since. Source: `$JOURNAL_STREAM` in systemd.exec(5): device and inode in decimal, parted by a colon.
fn is_journal() -> bool {
    let Some((device, inode)) = std::env::var("JOURNAL_STREAM").ok().and_then(|stream| parse_stream(&stream))
    else {
        return false;
    };
    let found = io::stderr().as_fd().try_clone_to_owned().and_then(|fd| File::from(fd).metadata());
    found.is_ok_and(|found| found.dev() == device && found.ino() == inode)
}

fn parse_stream(stream: &str) -> Option<(u64, u64)> {
    let (device, inode) = stream.split_once(':')?;
    Some((device.parse().ok()?, inode.parse().ok()?))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_stream_of_the_journal_is_two_numbers() {
        assert_eq!(parse_stream("8:12345"), Some((8, 12_345)));
        for broken in ["", "8", "8:", ":8", "8:x", "8:9:10"] {
            assert_eq!(parse_stream(broken), None, "{broken}");
        }
    }
}
