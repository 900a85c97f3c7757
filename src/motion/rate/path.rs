//! What rate control has to know of a path: how it moves over its own time.

use super::range::Range;
use crate::motion::profile::{Profile, Sample};

/// A path over its own time, continuous in position, speed and acceleration, in pieces of constant jerk. It is at rest
/// before it begins, at 0 s, and after it has ended.
pub trait Path {
    /// s.
    fn duration(&self) -> f64;

    /// At `time` s from its start; at a change of jerk it tells the jerk that follows.
    fn at(&self, time: f64) -> Sample;

    /// The first change of jerk later than `time`, s, its beginning and its end counted; infinity if none is left.
    fn change_after(&self, time: f64) -> f64;

    /// The last change of jerk earlier than `time`, s; minus infinity if there is none.
    fn change_before(&self, time: f64) -> f64;

    /// The exact extremes of its derivatives from `begin` to `end` s. Between changes of jerk the acceleration is
    /// linear; the speed turns where it passes zero.
    fn extremes(&self, begin: f64, end: f64) -> Extremes {
        let mut from = self.at(begin);
        let mut extremes = Extremes::only(from);
        let mut at = begin;
        while at < end {
            let next = self.change_after(at).min(end);
            let jerk = self.at((at + next) / 2.0).jerk;
            let to = self.at(next);
            let turning = -from.acceleration / jerk;
            if turning > 0.0 && turning < next - at {
                extremes.speed = extremes.speed.with(Sample { jerk, ..from }.after(turning).speed);
            }
            extremes = extremes.with(Sample { jerk, ..to });
            (at, from) = (next, to);
        }
        extremes
    }
}

/// Bounds on the derivatives of a path over a stretch of its time.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Extremes {
    pub speed: Range,
    pub acceleration: Range,
    pub jerk: Range,
}

impl Extremes {
    fn only(sample: Sample) -> Extremes {
        Extremes {
            speed: Range::of(sample.speed, sample.speed),
            acceleration: Range::of(sample.acceleration, sample.acceleration),
            jerk: Range::of(sample.jerk, sample.jerk),
        }
    }

    fn with(self, sample: Sample) -> Extremes {
        Extremes {
            speed: self.speed.with(sample.speed),
            acceleration: self.acceleration.with(sample.acceleration),
            jerk: self.jerk.with(sample.jerk),
        }
    }
}

impl Path for Profile {
    fn duration(&self) -> f64 {
        Profile::duration(self)
    }

    fn at(&self, time: f64) -> Sample {
        Profile::at(self, time)
    }

    fn change_after(&self, time: f64) -> f64 {
        if time < 0.0 {
            return 0.0;
        }
        self.breaks().into_iter().find(|&at| at > time).unwrap_or(f64::INFINITY)
    }

    fn change_before(&self, time: f64) -> f64 {
        let before = self.breaks().into_iter().rev().find(|&at| at < time);
        before.unwrap_or(if time > 0.0 { 0.0 } else { f64::NEG_INFINITY })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::motion::Ceiling;

    #[test]
    fn the_extremes_of_a_stretch_are_those_of_its_samples() {
        for speed in [0.1, 0.3] {
            let path = Profile::fastest(Ceiling { speed, acceleration: 0.05, jerk: 0.1 });
            let duration = Path::duration(&path);
            for (i, j) in (0..24).flat_map(|i| (i + 1..=24).map(move |j| (i, j))) {
                let [begin, end] = [i, j].map(|k| duration * (f64::from(k) / 20.0 - 0.1));
                let found = path.extremes(begin, end);
                let mut seen = Extremes::only(path.at((begin + end) / 2.0));
                for k in 1..2000 {
                    seen = seen.with(path.at(begin + (end - begin) * f64::from(k) / 2000.0));
                }
                for (found, seen) in
                    [(found.speed, seen.speed), (found.acceleration, seen.acceleration), (found.jerk, seen.jerk)]
                {
                    assert!(found.low <= seen.low + 1e-12 && found.high >= seen.high - 1e-12, "{begin} to {end}");
                    let slack = 2e-3 * (1.0 + seen.most());
                    assert!(found.low >= seen.low - slack && found.high <= seen.high + slack, "{begin} to {end}");
                }
            }
        }
    }

    #[test]
    fn the_changes_of_jerk_are_passed_one_by_one_both_ways() {
        let path = Profile::fastest(Ceiling { speed: 0.1, acceleration: 0.05, jerk: 0.1 });
        let (mut forth, mut back) = (Vec::new(), Vec::new());
        let mut at = f64::NEG_INFINITY;
        while path.change_after(at) < f64::INFINITY {
            at = path.change_after(at);
            forth.push(at);
        }
        while at > f64::NEG_INFINITY {
            back.push(at);
            at = path.change_before(at);
        }
        back.reverse();
        assert_eq!(forth, back);
        assert_eq!((forth[0], forth.len(), forth[forth.len() - 1]), (0.0, 8, Path::duration(&path)));
    }
}
