//! What the tick thread shows to the other threads: single words that it writes and never waits for.

use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};

use super::lateness::Lateness;

#[derive(Debug, Default)]
pub struct Pulse {
    /// Ticks done. Written by the tick thread alone.
    beats: AtomicU64,
    /// True while the rigs' heartbeat is withheld. Written by the watch thread, and once by a tick thread that
    /// panics; read by whatever sends heartbeats.
    cut: AtomicBool,
    /// The tick thread has real-time priority. Written once, at its start.
    real_time: AtomicBool,
    /// The tick thread shall leave. Written by the thread that ends the process.
    end: AtomicBool,
    /// Events that found no room on their way out. Written by the tick thread.
    events_lost: AtomicU64,
    pub lateness: Lateness,
}

impl Pulse {
    pub fn beat(&self) {
        self.beats.fetch_add(1, Ordering::Release);
    }

    pub fn beats(&self) -> u64 {
        self.beats.load(Ordering::Acquire)
    }

    pub fn set_cut(&self, cut: bool) {
        self.cut.store(cut, Ordering::Release);
    }

    pub fn cut(&self) -> bool {
        self.cut.load(Ordering::Acquire)
    }

    pub fn set_real_time(&self) {
        self.real_time.store(true, Ordering::Release);
    }

    pub fn real_time(&self) -> bool {
        self.real_time.load(Ordering::Acquire)
    }

    pub fn ask_to_end(&self) {
        self.end.store(true, Ordering::Release);
    }

    pub fn asked_to_end(&self) -> bool {
        self.end.load(Ordering::Acquire)
    }

    pub fn lose_event(&self) {
        self.events_lost.fetch_add(1, Ordering::Relaxed);
    }

    pub fn events_lost(&self) -> u64 {
        self.events_lost.load(Ordering::Relaxed)
    }
}
