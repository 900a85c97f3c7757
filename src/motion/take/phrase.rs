//! Several axes over time, in common pieces of constant jerk.

use crate::motion::curve::{Curve, Knot};
use crate::motion::profile::{Profile, Sample};

/// Of the duration: knots nearer than this are one.
const ROUNDING: f64 = 1e-12;

#[derive(Clone, Debug, PartialEq)]
pub struct Phrase {
    /// s, where pieces begin, from 0; the last is the end.
    pub times: Vec<f64>,
    /// By axis, at each of the times; the jerk is that of the piece that begins there.
    pub states: Vec<Vec<Sample>>,
}

/// The greatest magnitude of a derivative, and when, s.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Peak {
    pub value: f64,
    pub time: f64,
}

impl Phrase {
    /// s
    pub fn duration(&self) -> f64 {
        self.times[self.times.len() - 1]
    }

    fn piece_at(&self, time: f64) -> usize {
        self.times.partition_point(|&begin| begin <= time).clamp(1, self.times.len() - 1) - 1
    }

    pub fn at(&self, axis: usize, time: f64) -> Sample {
        let piece = self.piece_at(time);
        self.states[axis][piece].after(time - self.times[piece])
    }

    /// From a time of it on.
    pub fn from(&self, time: f64) -> Phrase {
        // A piece of which rounding leaves nothing is left out.
        let least = ROUNDING * self.duration();
        let next = self.times.partition_point(|&begin| begin <= time + least).min(self.times.len() - 1);
        let times = std::iter::once(0.0).chain(self.times[next..].iter().map(|end| end - time));
        let states = self.states.iter().map(|states| {
            let first = states[next - 1].after(time - self.times[next - 1]);
            std::iter::once(first).chain(states[next..].iter().copied()).collect()
        });
        Phrase { times: times.collect(), states: states.collect() }
    }

    /// The first so many axes of it.
    pub fn of_first(mut self, axes: usize) -> Phrase {
        self.states.truncate(axes);
        self
    }

    /// And then another, which begins in the state in which this one ends.
    pub fn then(mut self, next: &Phrase) -> Phrase {
        let begin = self.duration();
        self.times.pop();
        self.times.extend(next.times.iter().map(|time| begin + time));
        for (states, more) in self.states.iter_mut().zip(&next.states) {
            states.pop();
            states.extend(more);
        }
        self
    }

    /// Backwards in time.
    pub fn reversed(&self) -> Phrase {
        let duration = self.duration();
        let times = self.times.iter().rev().map(|time| duration - time).collect();
        let back = |states: &Vec<Sample>| {
            // What went on after a knot goes on before it now.
            let before = |k: usize| states[k.saturating_sub(1)].jerk;
            let turned = |k: usize| Sample { speed: -states[k].speed, jerk: -before(k), ..states[k] };
            (0..states.len()).rev().map(turned).collect()
        };
        Phrase { times, states: self.states.iter().map(back).collect() }
    }

    /// With every axis moved by so much at the start, and by nothing after `lasts` s.
    pub fn beginning_off(&self, off: &[f64], lasts: f64) -> Phrase {
        if off.iter().all(|&off| off == 0.0) {
            return self.clone();
        }
        let fade = Profile::idle(lasts);
        let mut times: Vec<f64> = self.times.iter().copied().chain(fade.breaks()).collect();
        times.retain(|&time| time <= self.duration());
        times.sort_by(f64::total_cmp);
        times.dedup_by(|later, kept| *later - *kept < ROUNDING * self.duration());
        let last = times.len() - 1;
        times[last] = self.duration();
        let moved = |axis: usize, time: f64| {
            let faded = fade.at(time).times(-off[axis]);
            self.at(axis, time).plus(Sample { position: off[axis] + faded.position, ..faded })
        };
        // What the jerk is after a knot that rounding has moved is told well after it.
        let after = |k: usize| if k == last { times[k] } else { f64::midpoint(times[k], times[k + 1]) };
        let state = |axis: usize, k: usize| Sample { jerk: moved(axis, after(k)).jerk, ..moved(axis, times[k]) };
        let states = (0..self.states.len()).map(|axis| (0..=last).map(|k| state(axis, k)).collect());
        Phrase { states: states.collect(), times }
    }

    /// The highest speed, acceleration and jerk of an axis: a speed is highest at the end of a piece or where the
    /// acceleration passes zero, an acceleration at the end of one.
    pub fn peaks(&self, axis: usize) -> [Peak; 3] {
        let mut peaks = [Peak::default(); 3];
        for (state, times) in self.states[axis].iter().zip(self.times.windows(2)) {
            let length = times[1] - times[0];
            let turning =
                Some(-state.acceleration / state.jerk).filter(|&turning| turning > 0.0 && turning < length);
            for after in [0.0, length].into_iter().chain(turning) {
                let there = state.after(after);
                for (peak, value) in peaks.iter_mut().zip([there.speed, there.acceleration, state.jerk]) {
                    if value.abs() > peak.value {
                        *peak = Peak { value: value.abs(), time: times[0] + after };
                    }
                }
            }
        }
        peaks
    }

    /// Each axis for itself, at rest at both ends.
    pub fn curves(&self) -> impl Iterator<Item = Curve> {
        let last = self.times.len() - 1;
        self.states.iter().map(move |states| {
            let knot = |k: usize| {
                let still = Sample { position: states[k].position, ..Sample::default() };
                let state = match k {
                    0 => Sample { jerk: states[0].jerk, ..still },
                    k if k == last => still,
                    k => states[k],
                };
                Knot { time: self.times[k], state }
            };
            Curve::new((0..=last).map(knot).collect())
        })
    }
}
