//! The quickest change by force: every state that can be reached, instant by instant, one kept of those that are nearly alike.
//! It shares no formula with what it judges but the path itself.

use std::collections::BTreeMap;

use super::super::{Course, Regime};

/// Instants into which the guess is cut, and cells in which states count as alike.
const INSTANTS: usize = 28;
const CELLS: f64 = 30.0;
/// Values of r'' tried at each.
const LEVELS: usize = 10;

/// The time of a cue, its rate and the derivative of that.
#[derive(Clone, Copy)]
struct State {
    time: f64,
    rate: f64,
    drift: f64,
}

impl State {
    fn after(self, bend: f64, time: f64) -> State {
        State {
            time: self.time + time * (self.rate + time * (self.drift / 2.0 + time * bend / 6.0)),
            rate: self.rate + time * (self.drift + time * bend / 2.0),
            drift: self.drift + time * bend,
        }
    }
}

/// A change from one steady rate to another.
struct Case<'a> {
    courses: &'a [Course],
    to: f64,
    /// Which way the rate changes, 1 or -1.
    way: f64,
    regime: Regime,
}

/// s, the least that a change between two rates takes, or twice the guess; a little too small rather than too great.
pub fn least(courses: &[Course], [from, to]: [f64; 2], regime: Regime, guess: f64) -> f64 {
    let case = Case { courses, to, way: (to - from).signum(), regime };
    let step = guess / INSTANTS as f64;
    let steepest = 24.0 / guess;
    let mut states = vec![State { time: 0.0, rate: from, drift: 0.0 }];
    let mut best = 2.0 * guess;
    for instant in 0..INSTANTS {
        let now = step * instant as f64;
        let mut next: BTreeMap<[i32; 3], State> = BTreeMap::new();
        for state in states {
            best = best.min(now + case.ends(state));
            for bend in case.bends(state, step) {
                let end = state.after(bend, step);
                if !(from.min(to) - 1e-9..=from.max(to) + 1e-9).contains(&end.rate)
                    || end.drift.abs() > steepest
                    || !case.keeps(state, bend, step)
                {
                    continue;
                }
                // Cut within the step, too.
                for part in [0.25, 0.5, 0.75] {
                    best = best.min(now + part * step + case.ends(state.after(bend, part * step)));
                }
                let cell = [end.rate, end.drift * 4.0 / steepest, end.time / guess / 2.0]
                    .map(|value| (value * CELLS) as i32);
                let kept = next.entry(cell).or_insert(end);
                if (end.rate - kept.rate) * case.way > 0.0 {
                    *kept = end;
                }
            }
        }
        states = next.into_values().collect();
    }
    best
}

impl Case<'_> {
    /// s, until it is at the new rate by one value of r'' from here on; infinity if that breaks a limit.
    fn ends(&self, state: State) -> f64 {
        let time = 2.0 * (self.to - state.rate) / state.drift;
        let keeps = time > 0.0 && time.is_finite() && self.keeps(state, -state.drift / time, time);
        if keeps { time } else { f64::INFINITY }
    }

    /// Values of r'' between the least and the greatest that the jerks allow now, and those that come to an acceleration's
    /// limit.
    fn bends(&self, state: State, step: f64) -> Vec<f64> {
        let (mut low, mut high) = (-1e4_f64, 1e4_f64);
        let mut bends = vec![0.0];
        for course in self.courses {
            let limits = course.ceiling(self.regime);
            let [_, jerk, slope] = felt(course, state, 0.0, 1e-6);
            if slope.abs() > 1e-9 {
                low = low.max((-limits.jerk - jerk) / slope);
                high = high.min((limits.jerk - jerk) / slope);
            }
            let mut bend = 0.0;
            for _ in 0..4 {
                let end = state.after(bend, step);
                let path = course.path.at(course.time + end.time);
                let steady = path.acceleration * end.rate * end.rate;
                let wanted = (self.way * limits.acceleration - steady) / path.speed.max(1e-9);
                bend = (wanted - state.drift) / step;
            }
            bends.push(bend);
        }
        bends.retain(|bend| (low..=high).contains(bend));
        if low <= high {
            bends.extend((0..=LEVELS).map(|level| low + (high - low) * level as f64 / LEVELS as f64));
        }
        bends
    }

    /// Whether five instants of a piece keep the limits, but for a five-hundredth.
    fn keeps(&self, state: State, bend: f64, time: f64) -> bool {
        (0..=4).all(|part| {
            let there = state.after(bend, time * f64::from(part) / 4.0);
            let beside = if part == 0 { 1e-6 } else { -1e-6 };
            self.courses.iter().all(|course| {
                let ([acceleration, jerk, _], limits) =
                    (felt(course, there, bend, beside), course.ceiling(self.regime));
                acceleration.abs() <= limits.acceleration * 1.002 && jerk.abs() <= limits.jerk * 1.002
            })
        })
    }
}

/// Acceleration and jerk of a course, and its speed along the path.
fn felt(course: &Course, state: State, bend: f64, beside: f64) -> [f64; 3] {
    let path = course.path.at(course.time + state.time + beside);
    let (rate, drift) = (state.rate, state.drift);
    let acceleration = path.acceleration * rate.powi(2) + path.speed * drift;
    let jerk = path.jerk * rate.powi(3) + 3.0 * path.acceleration * rate * drift + path.speed * bend;
    [acceleration, jerk, path.speed]
}
