//! How late the tick loop wakes: a histogram that one thread fills and anyone may read.

use std::sync::atomic::{AtomicU64, Ordering};

use crate::show::Nanos;

/// Four buckets an octave from 1 µs: a bucket is at most a quarter wider than its lower edge.
const STEPS: u32 = 4;
const OCTAVES: u32 = 24;
const BUCKETS: usize = (STEPS * OCTAVES + 1) as usize;
const FINEST: i64 = 1_000;

/// Since the start of the run. Adding is wait-free.
#[derive(Debug)]
pub struct Lateness {
    buckets: [AtomicU64; BUCKETS],
    max: AtomicU64,
    overruns: AtomicU64,
}

/// Figures for people, each an upper edge.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct LatenessFigures {
    pub ticks: u64,
    pub median: Nanos,
    pub p99: Nanos,
    pub max: Nanos,
    /// Ticks that were left out because the loop came back after the next deadline.
    pub overruns: u64,
}

impl Default for Lateness {
    fn default() -> Lateness {
        Lateness {
            buckets: std::array::from_fn(|_| AtomicU64::new(0)),
            max: AtomicU64::new(0),
            overruns: AtomicU64::new(0),
        }
    }
}

impl Lateness {
    pub fn add(&self, late: Nanos) {
        self.buckets[bucket(late)].fetch_add(1, Ordering::Relaxed);
        self.max.fetch_max(late.0.max(0) as u64, Ordering::Relaxed);
    }

    pub fn add_overruns(&self, ticks: u64) {
        self.overruns.fetch_add(ticks, Ordering::Relaxed);
    }

    pub fn figures(&self) -> LatenessFigures {
        let counts: [u64; BUCKETS] = std::array::from_fn(|index| self.buckets[index].load(Ordering::Relaxed));
        let ticks: u64 = counts.iter().sum();
        let max = Nanos(self.max.load(Ordering::Relaxed) as i64);
        LatenessFigures {
            ticks,
            median: quantile(&counts, ticks.div_ceil(2), max),
            p99: quantile(&counts, ticks - ticks / 100, max),
            max,
            overruns: self.overruns.load(Ordering::Relaxed),
        }
    }
}

/// 0 holds everything up to 1 µs, the last everything from about 14 s.
fn bucket(late: Nanos) -> usize {
    if late.0 <= FINEST {
        return 0;
    }
    let late = late.0.min(FINEST << OCTAVES);
    let octave = (late / FINEST).ilog2();
    let base = FINEST << octave;
    let step = (i64::from(STEPS) * (late - base) / base) as u32;
    ((octave * STEPS + step + 1) as usize).min(BUCKETS - 1)
}

fn upper_edge(bucket: usize) -> Nanos {
    let Some(above) = bucket.checked_sub(1) else { return Nanos(FINEST) };
    let (octave, step) = (above as u32 / STEPS, above as u32 % STEPS);
    let base = FINEST << octave;
    Nanos(base + base * i64::from(step + 1) / i64::from(STEPS))
}

/// The upper edge of the bucket that holds the value of this rank, from 1.
fn quantile(counts: &[u64; BUCKETS], rank: u64, max: Nanos) -> Nanos {
    let mut seen = 0;
    for (index, count) in counts.iter().enumerate() {
        seen += count;
        if seen >= rank {
            return upper_edge(index).min(max);
        }
    }
    max
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_value_lies_below_the_upper_edge_of_its_bucket_and_near_it() {
        for late in (1..4_000_000).step_by(997) {
            let edge = upper_edge(bucket(Nanos(late))).0;
            assert!(late <= edge, "{late} above {edge}");
            assert!(late <= FINEST || edge <= late + late / 4 + FINEST / 4, "{late} far below {edge}");
        }
        assert_eq!(bucket(Nanos(i64::MAX)), BUCKETS - 1);
        assert_eq!(bucket(Nanos(-5)), 0);
    }

    #[test]
    fn figures_of_a_known_run() {
        let lateness = Lateness::default();
        assert_eq!(lateness.figures().ticks, 0);
        assert_eq!(lateness.figures().p99, Nanos::ZERO);
        for _ in 0..990 {
            lateness.add(Nanos(50_000));
        }
        for _ in 0..10 {
            lateness.add(Nanos(3_000_000));
        }
        lateness.add_overruns(2);
        let figures = lateness.figures();
        assert_eq!(figures.ticks, 1000);
        assert!((50_000..65_000).contains(&figures.median.0), "{figures:?}");
        assert!((50_000..65_000).contains(&figures.p99.0), "{figures:?}");
        assert_eq!(figures.max, Nanos(3_000_000));
        assert_eq!(figures.overruns, 2);
        lateness.add(Nanos(3_000_000));
        assert_eq!(lateness.figures().p99, Nanos(3_000_000));
    }
}
