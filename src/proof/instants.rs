//! The instants of a cue at which its stops are planned.
//!
//! A brake that begins between two of them is planned as it comes, and how that comes out no table tells. But whoever runs a
//! cue at a steady rate takes none that is worse, in time or in way, than to go on to the next instant and to brake there
//! (`motion::no_worse`). So what is planned at the instants bounds every stop, whatever the search for a brake finds.

use super::plan::CuePlan;

/// Instants a second.
const A_SECOND: f64 = 48.0;
/// Parts into which they cut a cue, at least and at most.
const PARTS: [f64; 2] = [64.0, 480.0];

impl CuePlan {
    /// The parts into which the instants cut the cue.
    pub fn parts(&self) -> usize {
        (self.duration * A_SECOND).ceil().clamp(PARTS[0], PARTS[1]) as usize
    }

    /// s of the cue's own time; the first, 0, is its start, and that after the last part its end. The same to the bit
    /// whoever asks.
    pub fn instant(&self, index: usize) -> f64 {
        self.duration * index as f64 / self.parts() as f64
    }

    /// The next instant on its way at that rate, s of the cue's own time; `None` past the last, and
    /// outside the cue.
    pub fn next_instant(&self, time: f64, rate: f64) -> Option<f64> {
        if self.duration == 0.0 || !(0.0..=self.duration).contains(&time) {
            return None;
        }
        let near = (time / self.duration * self.parts() as f64) as usize;
        let mut around = (near.saturating_sub(1)..=(near + 2).min(self.parts())).map(|index| self.instant(index));
        if rate > 0.0 {
            around.find(|&instant| instant > time)
        } else {
            around.rev().find(|&instant| instant < time)
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_next_instant_lies_on_the_way_and_is_one_of_the_list_to_the_bit() {
        for duration in [0.3, 2.0, 7.7, 300.0] {
            let plan = CuePlan { duration, ..CuePlan::EMPTY };
            let instants: Vec<f64> = (0..=plan.parts()).map(|index| plan.instant(index)).collect();
            assert_eq!((instants[0], instants[plan.parts()]), (0.0, duration));
            for look in -10..1010 {
                let time = duration * f64::from(look) / 1000.0;
                let within = (0.0..=duration).contains(&time);
                let next = instants.iter().copied().find(|&instant| instant > time).filter(|_| within);
                assert_eq!(plan.next_instant(time, 1.0), next, "{time} of {duration}");
                let before = instants.iter().copied().rev().find(|&instant| instant < time).filter(|_| within);
                assert_eq!(plan.next_instant(time, -0.5), before, "{time} of {duration}");
            }
            for pair in instants.windows(2) {
                assert_eq!(plan.next_instant(pair[0], 1.0), Some(pair[1]));
            }
        }
        assert_eq!(CuePlan::EMPTY.next_instant(0.0, 1.0), None);
    }
}
