//! How late the tick loop wakes: a histogram that one thread fills and anyone may read.

use std::sync::atomic::{AtomicU64, Ordering};

use crate::show::Nanos;

/// Four buckets an octave from 1 µs: a bucket is at most a quarter wider than its lower edge.
const STEPS: u32 = 4;
const OCTAVES: u32 = 24;
const BUCKETS: usize = (STEPS * OCTAVES + 1) as usize;
const FINEST: i64 = 1_000;
/// Of the histogram for programs; what lies above has one bucket.
const HISTOGRAM_OCTAVES: u32 = 20;

/// Since the start of the run. Adding is wait-free.
#[derive(Debug)]
pub struct Lateness {
    buckets: [AtomicU64; BUCKETS],
    max: AtomicU64,
    /// ns
    sum: AtomicU64,
    overruns: AtomicU64,
}

/// Everything that was added, for programs.
#[derive(Clone, Debug, PartialEq)]
pub struct LatenessHistogram {
    /// Upper edge in s, and how many lie below it and above the edge before. The last edge is infinite.
    pub buckets: Vec<(f64, u64)>,
    /// s
    pub sum: f64,
    pub ticks: u64,
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
            sum: AtomicU64::new(0),
            overruns: AtomicU64::new(0),
        }
    }
}

impl Lateness {
    pub fn add(&self, late: Nanos) {
        self.buckets[bucket(late)].fetch_add(1, Ordering::Relaxed);
        let late = late.0.max(0) as u64;
        self.max.fetch_max(late, Ordering::Relaxed);
        self.sum.fetch_add(late, Ordering::Relaxed);
    }

    pub fn add_overruns(&self, ticks: u64) {
        self.overruns.fetch_add(ticks, Ordering::Relaxed);
    }

    /// One bucket an octave, from 1 µs to about a second.
    pub fn histogram(&self) -> LatenessHistogram {
        let counts = self.counts();
        let (within, beyond) = counts.split_at((STEPS * HISTOGRAM_OCTAVES + 1) as usize);
        let first = (upper_edge(0).seconds(), within[0]);
        let octaves = within[1..].chunks(STEPS as usize).zip(0u32..);
        let octaves = octaves
            .map(|(steps, octave)| (upper_edge(((octave + 1) * STEPS) as usize).seconds(), steps.iter().sum()));
        let last = (f64::INFINITY, beyond.iter().sum());
        LatenessHistogram {
            buckets: [first].into_iter().chain(octaves).chain([last]).collect(),
            sum: Nanos(self.sum.load(Ordering::Relaxed) as i64).seconds(),
            ticks: counts.iter().sum(),
        }
    }

    fn counts(&self) -> [u64; BUCKETS] {
        std::array::from_fn(|index| self.buckets[index].load(Ordering::Relaxed))
    }

    pub fn figures(&self) -> LatenessFigures {
        let counts = self.counts();
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
    // An edge belongs to the bucket below it.
    let late = late.0.min(FINEST << OCTAVES) - 1;
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
    fn a_histogram_holds_every_tick_once_below_its_edge() {
        let lateness = Lateness::default();
        for late in [0, 1_000, 1_001, 2_000, 3_000, 999_000, 2_000_000_000] {
            lateness.add(Nanos(late));
        }
        let histogram = lateness.histogram();
        assert_eq!(histogram.ticks, 7);
        assert!((histogram.sum - 2.001_006).abs() < 1e-5, "{}", histogram.sum);
        let filled: Vec<_> = histogram.buckets.iter().filter(|(_, count)| *count > 0).copied().collect();
        assert_eq!(filled, [(1e-6, 2), (2e-6, 2), (4e-6, 1), (1.024e-3, 1), (f64::INFINITY, 1)]);
        assert_eq!(histogram.buckets.len(), 22);
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
