//! One axis along a curve in time: pieces of constant jerk, so that position, speed and acceleration are continuous and
//! every extreme is exact.
//!
//! A move through marks and a take are such curves, one an axis. A straight move is not: its axes share one
//! [`super::Profile`].

use super::profile::{Ceiling, Sample};
use super::rate::{Extremes, Path, Range};

/// Where a piece begins.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Knot {
    /// s
    pub time: f64,
    /// In the axis's unit; its jerk is that of the piece which begins here.
    pub state: Sample,
}

/// Where an axis changes its way, or comes to stand, or goes again.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Turn {
    /// s
    pub time: f64,
    pub position: f64,
}

/// Of all that an axis covers, a way shorter than this part is none.
const ROUNDING: f64 = 1e-12;

/// From its first knot, at 0 s, to its last; at rest before and after.
#[derive(Clone, Debug, PartialEq)]
pub struct Curve {
    knots: Vec<Knot>,
    turns: Vec<Turn>,
    /// The greatest magnitudes that it reaches.
    peaks: Ceiling,
}

impl Curve {
    /// Of at least two knots in order, the first at 0 s, the last the end, at rest. Whether they fit together is for
    /// [`super::verify_curve`] to say.
    pub fn new(knots: Vec<Knot>) -> Curve {
        let mut curve =
            Curve { knots, turns: Vec::new(), peaks: Ceiling { speed: 0.0, acceleration: 0.0, jerk: 0.0 } };
        curve.turns = curve.find_turns();
        let most = curve.extremes(0.0, curve.duration());
        curve.peaks =
            Ceiling { speed: most.speed.most(), acceleration: most.acceleration.most(), jerk: most.jerk.most() };
        curve
    }

    pub fn knots(&self) -> &[Knot] {
        &self.knots
    }

    /// The highest speed, acceleration and jerk that it reaches, per s, s², s³.
    pub fn peaks(&self) -> Ceiling {
        self.peaks
    }

    /// In order: between two of them, and before the first and after the last, it goes one way or stands.
    pub fn turns(&self) -> &[Turn] {
        &self.turns
    }

    /// The piece that `time` s lies in; the first before the start, the last beyond the end.
    fn piece_at(&self, time: f64) -> usize {
        let begun = self.knots.partition_point(|knot| knot.time <= time);
        begun.clamp(1, self.knots.len() - 1) - 1
    }

    /// The exact extremes of the position from `begin` to `end` s.
    pub fn positions(&self, begin: f64, end: f64) -> Range {
        let ends = Range::of(self.at(begin).position, self.at(end).position);
        let first = self.turns.partition_point(|turn| turn.time <= begin);
        let within = self.turns[first..].iter().take_while(|turn| turn.time < end);
        within.fold(ends, |range, turn| range.with(turn.position))
    }

    /// The same way in `factor` times the time: speed, acceleration and jerk fall by its powers.
    pub fn stretched(&self, factor: f64) -> Curve {
        let slower = |knot: &Knot| Knot {
            time: knot.time * factor,
            state: Sample {
                position: knot.state.position,
                speed: knot.state.speed / factor,
                acceleration: knot.state.acceleration / (factor * factor),
                jerk: knot.state.jerk / (factor * factor * factor),
            },
        };
        Curve::new(self.knots.iter().map(slower).collect())
    }

    /// Of a curve from 0 to 1: the way from one position to another along it.
    pub fn onto(&self, from: f64, to: f64) -> Curve {
        let placed = |knot: &Knot| {
            let state = knot.state.times(to - from);
            let position = if knot.state.position == 1.0 { to } else { from + state.position };
            Knot { time: knot.time, state: Sample { position, ..state } }
        };
        Curve::new(self.knots.iter().map(placed).collect())
    }

    fn find_turns(&self) -> Vec<Turn> {
        let position = |knot: &Knot| knot.state.position;
        let (low, high) = self
            .knots
            .iter()
            .map(position)
            .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), at| (low.min(at), high.max(at)));
        let mut turns = Vec::new();
        let mut way = None;
        for pair in self.knots.windows(2) {
            let (state, time) = (pair[0].state, pair[1].time - pair[0].time);
            let mut begin = 0.0;
            for end in rests(state).into_iter().filter(|&at| at > 0.0 && at < time).chain([time]) {
                let goes = sign(state.after((begin + end) / 2.0).speed);
                let way_made = (state.after(end).position - state.after(begin).position).abs();
                if goes != 0 && way_made < ROUNDING * (high - low) {
                    // Beside a rest, where digits are lost.
                    continue;
                }
                if way.is_some_and(|way| way != goes) {
                    turns.push(Turn { time: pair[0].time + begin, position: state.after(begin).position });
                }
                way = Some(goes);
                begin = end;
            }
        }
        turns
    }
}

impl Path for Curve {
    fn duration(&self) -> f64 {
        self.knots[self.knots.len() - 1].time
    }

    fn at(&self, time: f64) -> Sample {
        let [first, .., last] = &self.knots[..] else { return Sample::default() };
        if time < 0.0 {
            return Sample { position: first.state.position, ..Sample::default() };
        }
        if time >= last.time {
            return Sample { position: last.state.position, ..Sample::default() };
        }
        let knot = &self.knots[self.piece_at(time)];
        knot.state.after(time - knot.time)
    }

    fn change_after(&self, time: f64) -> f64 {
        let next = self.knots.partition_point(|knot| knot.time <= time);
        self.knots.get(next).map_or(f64::INFINITY, |knot| knot.time)
    }

    fn change_before(&self, time: f64) -> f64 {
        let next = self.knots.partition_point(|knot| knot.time < time);
        if next == 0 { f64::NEG_INFINITY } else { self.knots[next - 1].time }
    }

    fn extremes(&self, begin: f64, end: f64) -> Extremes {
        let mut found = only(self.at(begin));
        if end > self.duration() {
            found = over(found, Sample::default(), 0.0);
        }
        let (from, to) = (begin.max(0.0), end.min(self.duration()));
        if from > to {
            return found;
        }
        for index in self.piece_at(from)..self.knots.len() - 1 {
            let [knot, next] = [self.knots[index], self.knots[index + 1]];
            if knot.time >= to {
                break;
            }
            let entered = from.max(knot.time);
            found = over(found, knot.state.after(entered - knot.time), to.min(next.time) - entered);
        }
        found
    }
}

fn only(state: Sample) -> Extremes {
    let at = |value: f64| Range::of(value, value);
    Extremes { speed: at(state.speed), acceleration: at(state.acceleration), jerk: at(state.jerk) }
}

/// With a stretch of constant jerk that takes `time` s from `state`.
fn over(found: Extremes, state: Sample, time: f64) -> Extremes {
    let end = state.after(time);
    let mut speed = found.speed.with(state.speed).with(end.speed);
    let turning = -state.acceleration / state.jerk;
    if turning > 0.0 && turning < time {
        speed = speed.with(state.after(turning).speed);
    }
    Extremes {
        speed,
        acceleration: found.acceleration.with(state.acceleration).with(end.acceleration),
        jerk: found.jerk.with(state.jerk),
    }
}

fn sign(speed: f64) -> i8 {
    i8::from(speed > 0.0) - i8::from(speed < 0.0)
}

/// When, under constant jerk, the speed is zero, s, in order; not a number where it never is.
fn rests(state: Sample) -> [f64; 2] {
    let (half_jerk, root) =
        (state.jerk / 2.0, state.acceleration * state.acceleration - 2.0 * state.jerk * state.speed);
    // The sum that loses no digits; the other root follows from the product of the two.
    let sum = -0.5 * (state.acceleration + root.sqrt().copysign(state.acceleration));
    let (one, other) = (sum / half_jerk, state.speed / sum);
    if one <= other { [one, other] } else { [other, one] }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::motion::{Profile, Violation, verify_curve};

    const LIMITS: Ceiling = Ceiling { speed: 0.5, acceleration: 0.5, jerk: 1.0 };

    /// From one position to the next, at rest at each; at the second it stands for a second.
    fn visits(positions: [f64; 4]) -> Curve {
        let mut knots: Vec<Knot> = Vec::new();
        let mut time = 0.0;
        for pair in positions.windows(2) {
            let way = pair[1] - pair[0];
            let profile = Profile::fastest(LIMITS.times(1.0 / way.abs()));
            let mut begin = 0.0;
            for piece in profile.pieces().into_iter().filter(|&piece| piece > 1e-9) {
                let state = profile.at(begin).times(way);
                let (position, jerk) = (pair[0] + state.position, way * profile.at(begin + piece / 2.0).jerk);
                knots.push(Knot { time: time + begin, state: Sample { position, jerk, ..state } });
                begin += piece;
            }
            time += begin;
            if pair[0] == positions[0] {
                knots.push(Knot { time, state: Sample { position: pair[1], ..Sample::default() } });
                time += 1.0;
            }
        }
        knots.push(Knot { time, state: Sample { position: positions[3], ..Sample::default() } });
        Curve::new(knots)
    }

    #[test]
    fn a_curve_keeps_what_it_is_made_of() {
        let curve = visits([0.2, 1.7, -0.4, 0.1]);
        assert_eq!(verify_curve(&curve, LIMITS), Ok(()));
        let slow = curve.stretched(2.0);
        assert_eq!(verify_curve(&slow, Ceiling { speed: 0.25, acceleration: 0.125, jerk: 0.125 }), Ok(()));
        assert_eq!(slow.at(3.0).position, curve.at(1.5).position);
        let tight = Ceiling { jerk: 0.999, ..LIMITS };
        assert!(matches!(verify_curve(&curve, tight), Err(Violation::Jerk { .. })));
        let mut torn = curve.knots().to_vec();
        torn[4].state.position += 1e-6;
        assert!(matches!(verify_curve(&Curve::new(torn), LIMITS), Err(Violation::Jump { .. })));
    }

    /// It stands at 1.7, turns at -0.4 and ends at 0.1.
    #[test]
    fn turns_part_it_into_stretches_that_go_one_way() {
        let curve = visits([0.2, 1.7, -0.4, 0.1]);
        let turns: Vec<f64> = curve.turns().iter().map(|turn| turn.position).collect();
        assert_eq!(turns.len(), 3, "{turns:?}");
        for (found, expected) in turns.iter().zip([1.7, 1.7, -0.4]) {
            assert!((found - expected).abs() < 1e-12, "{turns:?}");
        }
        assert!((curve.turns()[1].time - curve.turns()[0].time - 1.0).abs() < 1e-9);
    }

    #[test]
    fn extremes_are_those_of_dense_samples_and_no_wider() {
        let curve = visits([0.2, 1.7, -0.4, 0.1]);
        let (steps, duration) = (3000, curve.duration());
        let time = |index: usize| duration * (1.1 * index as f64 / steps as f64 - 0.05);
        for (from, to) in (0..steps).step_by(97).flat_map(|from| [1, 5, 60, 700].map(|more| (from, from + more))) {
            let (positions, found) = (curve.positions(time(from), time(to)), curve.extremes(time(from), time(to)));
            let samples =
                (0..=200).map(|part| curve.at(time(from) + (time(to) - time(from)) * f64::from(part) / 200.0));
            let mut seen = [Range { low: f64::INFINITY, high: f64::NEG_INFINITY }; 3];
            for (index, value) in
                samples.flat_map(|at| [at.position, at.speed, at.acceleration].into_iter().enumerate())
            {
                seen[index] = Range { low: seen[index].low.min(value), high: seen[index].high.max(value) };
            }
            for (found, seen) in [positions, found.speed, found.acceleration].into_iter().zip(seen) {
                let fine = 2e-2 * (time(to) - time(from)).min(1.0);
                assert!(found.low <= seen.low + 1e-12 && found.high >= seen.high - 1e-12, "{found:?}, {seen:?}");
                assert!(found.low >= seen.low - fine && found.high <= seen.high + fine, "{found:?}, {seen:?}");
            }
        }
    }
}
