//! How often each kind of input was turned away: bad input on any road is a clear error, a counter, nothing else.

use std::collections::BTreeMap;
use std::fmt::Display;
use std::sync::{Mutex, MutexGuard, PoisonError};

use super::clock;
use super::limiter::{Limiter, Line};

/// By kind. The kinds are words of our own, never a stranger's, so there are few.
#[derive(Debug, Default)]
pub struct Counters {
    inner: Mutex<Inner>,
}

#[derive(Debug, Default)]
struct Inner {
    counts: BTreeMap<&'static str, u64>,
    limiter: Limiter,
}

impl Counters {
    /// Counts, and writes a line for people unless there have been many just now.
    pub fn reject(&self, kind: &'static str, from: &str, why: &dyn Display) {
        let line = {
            let mut inner = self.lock();
            *inner.counts.entry(kind).or_default() += 1;
            inner.limiter.line(clock::now())
        };
        match line {
            Line::Write => tracing::info!(kind, client = from, reason = %why, "{from}: not taken: {why}"),
            Line::WriteAfter(silenced) => {
                tracing::info!(
                    kind,
                    client = from,
                    reason = %why,
                    "{from}: not taken: {why} (and {silenced} more before this, only counted)"
                );
            }
            Line::Silence => {}
        }
    }

    /// Every kind that was seen, in the order of the alphabet.
    pub fn read(&self) -> Vec<(&'static str, u64)> {
        self.lock().counts.iter().map(|(&kind, &count)| (kind, count)).collect()
    }

    fn lock(&self) -> MutexGuard<'_, Inner> {
        self.inner.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn kinds_are_counted_apart() {
        let counters = Counters::default();
        counters.reject("pattern", "osc 127.0.0.1", &"a pattern");
        counters.reject("illegible", "osc 127.0.0.1", &"noise");
        counters.reject("pattern", "osc 127.0.0.2", &"a pattern");
        assert_eq!(counters.read(), [("illegible", 1), ("pattern", 2)]);
    }
}
