//! How fast a client may ask.

use std::collections::HashMap;
use std::sync::{Mutex, PoisonError};

use crate::engine::ClientId;
use crate::show::Nanos;

/// Clients whose pace is remembered; past them those who have asked nothing for a while are forgotten.
const REMEMBERED_MAX: usize = 1024;

/// Fills with time and is spent by requests; holds two seconds' worth. Time is handed in.
#[derive(Clone, Copy, Debug, Default)]
pub struct Bucket {
    /// Spent and not filled up again, in requests.
    spent: f64,
    at: Nanos,
}

impl Bucket {
    /// Whether there is one left to spend, at `rate` a second.
    pub fn spend(&mut self, rate: u32, now: Nanos) -> bool {
        let rate = f64::from(rate);
        self.spent = (self.spent - Nanos(now.0 - self.at.0).seconds().max(0.0) * rate).max(0.0);
        self.at = now;
        if self.spent + 1.0 > 2.0 * rate {
            return false;
        }
        self.spent += 1.0;
        true
    }
}

/// A bucket a client.
#[derive(Debug, Default)]
pub struct Paces {
    buckets: Mutex<HashMap<ClientId, Bucket>>,
}

impl Paces {
    pub fn spend(&self, client: ClientId, rate: u32, now: Nanos) -> bool {
        let mut buckets = self.buckets.lock().unwrap_or_else(PoisonError::into_inner);
        if buckets.len() >= REMEMBERED_MAX && !buckets.contains_key(&client) {
            // After two seconds of silence a bucket is full, and a full one is like a new one.
            let silence = Nanos(2_000_000_000);
            buckets.retain(|_, bucket| now.0 - bucket.at.0 < silence.0);
        }
        buckets.entry(client).or_default().spend(rate, now)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const START: Nanos = Nanos(3_600_000_000_000);

    fn after(seconds: f64) -> Nanos {
        START.saturating_add(Nanos::from_seconds(seconds))
    }

    #[test]
    fn a_burst_of_two_seconds_worth_goes_through_and_then_the_rate() {
        let paces = Paces::default();
        let asks = |count: usize, at: Nanos| (0..count).filter(|_| paces.spend(ClientId(1), 50, at)).count();
        assert_eq!(asks(1000, START), 100);
        assert_eq!(asks(1000, after(0.1)), 5);
        assert_eq!(asks(1000, after(1.1)), 50);
        assert_eq!(asks(1000, after(100.0)), 100, "time does not pile up");
    }

    #[test]
    fn a_client_at_its_rate_is_never_refused() {
        let mut bucket = Bucket::default();
        assert!((0..5000).all(|tick| bucket.spend(50, after(f64::from(tick) * 0.02))));
    }

    #[test]
    fn one_that_floods_slows_no_other() {
        let paces = Paces::default();
        assert!((0..1000).any(|_| !paces.spend(ClientId(1), 10, START)));
        assert!(paces.spend(ClientId(2), 10, START));
    }

    #[test]
    fn clients_that_come_and_go_take_no_memory() {
        let paces = Paces::default();
        for client in 0..50_000 {
            paces.spend(ClientId(client), 10, after(f64::from(client) * 0.01));
        }
        assert!(paces.buckets.lock().expect("whole").len() <= REMEMBERED_MAX);
    }
}
