//! How often each of a few things has happened, since the start.

use std::collections::BTreeMap;
use std::sync::{Mutex, MutexGuard, PoisonError};

/// By kind. The kinds are words of our own, never a stranger's, so there are few.
#[derive(Debug)]
pub struct Tally<Kind> {
    counts: Mutex<BTreeMap<Kind, u64>>,
}

impl<Kind> Default for Tally<Kind> {
    fn default() -> Tally<Kind> {
        Tally { counts: Mutex::default() }
    }
}

impl<Kind: Ord + Clone> Tally<Kind> {
    pub fn add(&self, kind: Kind) {
        *self.lock().entry(kind).or_default() += 1;
    }

    /// Every kind that was seen, in its order.
    pub fn read(&self) -> Vec<(Kind, u64)> {
        self.lock().iter().map(|(kind, &count)| (kind.clone(), count)).collect()
    }

    fn lock(&self) -> MutexGuard<'_, BTreeMap<Kind, u64>> {
        self.counts.lock().unwrap_or_else(PoisonError::into_inner)
    }
}
