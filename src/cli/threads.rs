//! The proof on every processor of the machine.

use std::num::NonZero;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::thread;

use crate::proof::Crew;

/// Hands the jobs out one by one, so that a long one keeps no other waiting.
pub struct Threads;

impl Crew for Threads {
    fn each(&self, count: usize, job: &(dyn Fn(usize) + Sync)) {
        let workers = thread::available_parallelism().map_or(1, NonZero::get).min(count);
        let next = AtomicUsize::new(0);
        let work = || {
            while let Some(index) = Some(next.fetch_add(1, Ordering::Relaxed)).filter(|&index| index < count) {
                job(index);
            }
        };
        thread::scope(|scope| {
            for _ in 1..workers {
                scope.spawn(work);
            }
            work();
        });
    }
}
