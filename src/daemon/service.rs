//! What the service manager is told: sd_notify(3).
//!
//! | told | when |
//! | --- | --- |
//! | READY | every address is bound and the tick loop has turned |
//! | STATUS | whenever the sentence for people changes: the show, armed or not, what runs, why it is stopped |
//! | WATCHDOG | while the tick loop makes progress, and only then |
//! | STOPPING | the process was asked to end, or has to |
//!
//! A show that is taken in anew is one exchange between two ticks: every road answers all the while, so there is no
//! RELOADING to tell, only a new STATUS.
//!
//! It has a thread of its own, since a manager that does not read makes its socket full, and a full socket makes the
//! sender wait. Neither the tick thread nor the one that watches it may.

use std::io;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread::{Builder, JoinHandle};
use std::time::Duration;

use sd_notify::NotifyState;

use super::clock;
use super::house::House;
use crate::engine::Status;
use crate::show::Nanos;
use crate::wire::words::Words;

/// How often to look if there is no watchdog; how fast a change of the status shows.
const LOOK_AT_LEAST: Duration = Duration::from_millis(500);
/// Until the loop turns.
const LOOK_FOR_READY: Duration = Duration::from_millis(5);
/// Pings within one watchdog period, so that some may come late.
const PINGS_A_PERIOD: u32 = 4;
/// For a manager that reads nothing, at the end.
const FAREWELL: Nanos = Nanos(200_000_000);

/// The thread that tells.
pub struct Teller {
    /// Set once, by whoever ends the daemon; read by the thread.
    ending: Arc<AtomicBool>,
    thread: JoinHandle<()>,
}

impl Teller {
    /// None if no service manager wants to be told.
    ///
    /// # Errors
    /// No thread.
    pub fn start(house: &Arc<House>) -> io::Result<Option<Teller>> {
        if std::env::var_os("NOTIFY_SOCKET").is_none() {
            return Ok(None);
        }
        let ending = Arc::new(AtomicBool::new(false));
        let (house, asked) = (house.clone(), ending.clone());
        let thread = Builder::new().name("service".to_owned()).spawn(move || run(&house, &asked))?;
        Ok(Some(Teller { ending, thread }))
    }

    /// Has it said that the end has begun.
    pub fn begin_end(&self) {
        self.ending.store(true, Ordering::Release);
        self.thread.thread().unpark();
    }

    /// Once the loop was asked to end: waits until everything is told, but not for long.
    pub fn finish(&self) {
        let deadline = clock::now().saturating_add(FAREWELL);
        while !self.thread.is_finished() && clock::now() < deadline {
            self.thread.thread().unpark();
            std::thread::sleep(Duration::from_millis(1));
        }
    }
}

/// Tells until the loop is asked to end.
fn run(house: &House, ending: &AtomicBool) {
    let period = sd_notify::watchdog_enabled();
    let interval = period.map_or(LOOK_AT_LEAST, |period| LOOK_AT_LEAST.min(period / PINGS_A_PERIOD));
    let mut told = Told { watchdog: period.is_some(), ..Told::default() };
    let mut deaf = false;
    loop {
        // Looked at first, so that what led to the end is still told.
        let last = house.pulse.asked_to_end();
        let status = house.board.status();
        let line = sentence(&house.words(&house.shelf.of(&status)), &status);
        let news = told.news(house.pulse.beats(), ending.load(Ordering::Acquire), line);
        if !news.is_empty()
            && let Err(error) = sd_notify::notify(&news)
            && !std::mem::replace(&mut deaf, true)
        {
            tracing::warn!("the service manager cannot be told how it goes: {error}; it may end this process");
        }
        if last {
            return;
        }
        std::thread::park_timeout(if told.ready { interval } else { LOOK_FOR_READY });
    }
}

/// What the manager knows so far.
#[derive(Debug, Default)]
struct Told {
    watchdog: bool,
    ready: bool,
    stopping: bool,
    /// Ticks done when the last ping was sent.
    beats: u64,
    line: String,
}

impl Told {
    /// What it does not know yet.
    fn news(&mut self, beats: u64, ending: bool, line: String) -> Vec<NotifyState<'_>> {
        let mut news = Vec::new();
        if beats > 0 && !self.ready {
            self.ready = true;
            news.push(NotifyState::Ready);
        }
        if ending && !self.stopping {
            self.stopping = true;
            news.push(NotifyState::Stopping);
        }
        if beats != self.beats {
            self.beats = beats;
            if self.watchdog {
                news.push(NotifyState::Watchdog);
            }
        }
        if self.ready && self.line != line {
            self.line = line;
            news.push(NotifyState::Status(&self.line));
        }
        news
    }
}

/// How the show stands: `Salt Lantern: armed, cue 12 is running`.
fn sentence(words: &Words<'_>, status: &Status) -> String {
    let show = &words.show().name;
    if let Some(stopped) = &status.stopped {
        let rest = if stopped.standstill { "standing still" } else { "coming to rest" };
        return format!("{show}: STOPPED, {rest}; {}", words.cause(&stopped.by));
    }
    let armed = if status.armed { "armed" } else { "disarmed" };
    let running = status.running.iter().map(|running| {
        let state = running.state.word();
        format!(", {} is {state}", words.cue(running.cue))
    });
    let standby = status.standby.first().map(|standby| {
        let ready = if standby.ready { "ready" } else { "not ready" };
        format!(", {} is on standby, {ready}", words.cue(standby.cue))
    });
    format!("{show}: {armed}{}", running.chain(standby).collect::<String>())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn news(told: &mut Told, beats: u64, ending: bool, line: &str) -> Vec<String> {
        told.news(beats, ending, line.to_owned()).iter().map(ToString::to_string).collect()
    }

    #[test]
    fn it_is_ready_once_and_only_when_the_loop_has_turned() {
        let mut told = Told { watchdog: true, ..Told::default() };
        assert!(news(&mut told, 0, false, "a").is_empty());
        assert_eq!(news(&mut told, 1, false, "a"), ["READY=1", "WATCHDOG=1", "STATUS=a"]);
        assert_eq!(news(&mut told, 2, false, "a"), ["WATCHDOG=1"]);
    }

    #[test]
    fn a_loop_that_makes_no_progress_gets_no_ping_for_it() {
        let mut told = Told { watchdog: true, ..Told::default() };
        news(&mut told, 5, false, "a");
        assert!(news(&mut told, 5, false, "a").is_empty());
        assert_eq!(news(&mut told, 5, false, "b"), ["STATUS=b"], "what it says is no sign of life");
        assert_eq!(news(&mut told, 6, false, "b"), ["WATCHDOG=1"]);
    }

    #[test]
    fn without_a_watchdog_there_are_no_pings() {
        let mut told = Told::default();
        assert_eq!(news(&mut told, 1, false, "a"), ["READY=1", "STATUS=a"]);
        assert!(news(&mut told, 2, false, "a").is_empty());
    }

    #[test]
    fn the_end_is_told_once_and_pings_go_on_while_everything_comes_to_rest() {
        let mut told = Told { watchdog: true, ..Told::default() };
        news(&mut told, 1, false, "a");
        assert_eq!(news(&mut told, 2, true, "a"), ["STOPPING=1", "WATCHDOG=1"]);
        assert_eq!(news(&mut told, 3, true, "a"), ["WATCHDOG=1"]);
    }
}
