//! What is told when something was not done: every reason, as many as there is room for.

use arrayvec::ArrayVec;
use serde::{Deserialize, Serialize};

use super::reason::Reason;

/// Reasons that one refusal carries at most; more are counted in [`Refusal::more`].
pub const REASONS_MAX: usize = 12;

#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Refusal {
    pub reasons: ArrayVec<Reason, REASONS_MAX>,
    /// How many further reasons found no room.
    pub more: u32,
}

impl Refusal {
    pub fn one(reason: Reason) -> Refusal {
        let mut refusal = Refusal::default();
        refusal.push(reason);
        refusal
    }

    pub fn push(&mut self, reason: Reason) {
        if self.reasons.contains(&reason) {
            return;
        }
        if self.reasons.try_push(reason).is_err() {
            self.more += 1;
        }
    }

    /// Before all others, even where that leaves no room for the last.
    pub fn push_first(&mut self, reason: Reason) {
        if self.reasons.contains(&reason) {
            return;
        }
        if self.reasons.is_full() {
            self.reasons.pop();
            self.more += 1;
        }
        self.reasons.insert(0, reason);
    }

    /// Every reason of another.
    pub fn add(&mut self, other: Refusal) {
        other.reasons.into_iter().for_each(|reason| self.push(reason));
        self.more += other.more;
    }

    pub fn is_empty(&self) -> bool {
        self.reasons.is_empty()
    }
}
