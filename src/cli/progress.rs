//! A bar for work that takes long, on a terminal alone.

use std::io::IsTerminal;
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Mutex, OnceLock, PoisonError};
use std::time::{Duration, Instant};

use indicatif::{ProgressBar, ProgressStyle};

use super::threads::Threads;
use crate::proof::Crew;

/// Work that is over sooner shows no bar.
const PATIENCE: Duration = Duration::from_millis(500);

/// On standard error if that is a terminal which can draw, in this manner; else nowhere. Without colours.
pub fn bar(template: &str) -> ProgressBar {
    let dumb = std::env::var_os("TERM").is_some_and(|term| term == "dumb");
    if dumb || !std::io::stderr().is_terminal() {
        return ProgressBar::hidden();
    }
    let style = ProgressStyle::with_template(template);
    ProgressBar::new(0).with_style(style.unwrap_or_else(|_| ProgressStyle::default_bar()))
}

/// The threads, counted: a bar tells the part of the work that is being done, and how many of its jobs are, once all has
/// gone on for a while.
pub struct Counted {
    begun: Instant,
    bar: OnceLock<ProgressBar>,
    what: Mutex<&'static str>,
    done: AtomicU64,
    of: AtomicU64,
}

impl Counted {
    pub fn new() -> Counted {
        Counted {
            begun: Instant::now(),
            bar: OnceLock::new(),
            what: Mutex::new(""),
            done: AtomicU64::new(0),
            of: AtomicU64::new(0),
        }
    }

    /// Takes the bar away; what is printed next begins on a clean line.
    pub fn finish(&self) {
        if let Some(bar) = self.bar.get() {
            bar.finish_and_clear();
        }
    }

    fn what(&self) -> &'static str {
        *self.what.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn show(&self) {
        if self.begun.elapsed() < PATIENCE {
            return;
        }
        let bar = self.bar.get_or_init(|| {
            let bar = bar("proving {bar:30} {pos} of {len} {msg}").with_message(self.what());
            bar.set_length(self.of.load(Ordering::Relaxed));
            bar
        });
        bar.set_position(self.done.load(Ordering::Relaxed));
    }
}

impl Crew for Counted {
    fn each(&self, count: usize, job: &(dyn Fn(usize) + Sync)) {
        self.done.store(0, Ordering::Relaxed);
        self.of.store(count as u64, Ordering::Relaxed);
        if let Some(bar) = self.bar.get() {
            bar.reset();
            bar.set_length(count as u64);
            bar.set_message(self.what());
        }
        Threads.each(count, &|index| {
            job(index);
            self.done.fetch_add(1, Ordering::Relaxed);
            self.show();
        });
    }

    fn begin(&self, what: &'static str) {
        *self.what.lock().unwrap_or_else(PoisonError::into_inner) = what;
    }
}
