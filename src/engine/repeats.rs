//! Requests that carry a key: a repeat from the same client gets the first answer and does nothing.

use arrayvec::ArrayVec;

use super::reason::Reason;
use super::refusal::Refusal;
use super::request::{Accepted, ClientId, Key};

/// Keys remembered; the oldest gives way.
const KEYS_MAX: usize = 256;

#[derive(Clone, Debug)]
struct Remembered {
    client: ClientId,
    key: Key,
    outcome: Result<Accepted, Refusal>,
}

#[derive(Clone, Debug)]
pub struct Repeats {
    remembered: Box<ArrayVec<Remembered, KEYS_MAX>>,
    oldest: usize,
}

impl Repeats {
    pub fn new() -> Repeats {
        Repeats { remembered: Box::new(ArrayVec::new()), oldest: 0 }
    }

    /// Remembers what another remembered. What it answered spoke of a show that is replaced: a repeat now learns only
    /// that.
    pub fn follow(&mut self, before: &Repeats) {
        self.remembered.clear();
        self.oldest = before.oldest;
        for entry in before.remembered.iter() {
            let outcome = match entry.outcome {
                Ok(_) => Ok(Accepted::Done),
                Err(_) => Err(Refusal::one(Reason::ShowReplaced)),
            };
            self.remembered.push(Remembered { client: entry.client, key: entry.key, outcome });
        }
    }

    pub fn first_answer(&self, client: ClientId, key: Key) -> Option<&Result<Accepted, Refusal>> {
        let found = self.remembered.iter().find(|entry| entry.client == client && entry.key == key);
        found.map(|entry| &entry.outcome)
    }

    pub fn remember(&mut self, client: ClientId, key: Key, outcome: &Result<Accepted, Refusal>) {
        let entry = Remembered { client, key, outcome: outcome.clone() };
        if let Err(full) = self.remembered.try_push(entry) {
            self.remembered[self.oldest] = full.element();
            self.oldest = (self.oldest + 1) % KEYS_MAX;
        }
    }
}
