//! From any state to any other in the least time: position, speed and acceleration at both ends, jerk-limited.
//!
//! What sticks, faults and take-overs need: the axis may be moving, and may be outside its limits, as the passage
//! begins. Then a run-in brings it within first (`run_in`); from there the passage is time-optimal: at most seven
//! pieces of constant jerk.
//!
//! The problem is that of Kröger, *On-Line Trajectory Generation in Robotic Systems*, 2010, and of Berscheid and Kröger,
//! *Jerk-limited Real-time Trajectory Generation with Arbitrary Target States*, Robotics: Science and Systems 2021, who
//! solve it case by case for the sequences of jerk that can occur. Here it is solved by the shape of what can be
//! covered in a given time: one curve, searched in one dimension (`reach`, `solve`), so that there is always an answer
//! and no case to forget.

mod bounds;
mod reach;
mod run_in;
mod solve;
mod speed;
mod task;
#[cfg(test)]
mod tests;

pub use bounds::{Bounds, Impossible, Limit, State};
use bounds::{check_state, check_target};
use run_in::RUN_IN;
use task::{CRUISE, STROKES, Stroke, Task};

use super::profile::Sample;
use super::verify::{Violation, verify_passage};

/// Pieces of constant jerk in a passage: the run-in, and what follows it.
pub const PASSAGE_PIECES: usize = RUN_IN + STROKES;

/// One way of an axis from a state to another.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Passage {
    pieces: [Piece; PASSAGE_PIECES],
    to: State,
}

/// Where it begins, and how long it lasts.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
struct Piece {
    begin: Sample,
    time: f64,
}

/// A passage that was integrated again and found to keep what it promises.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Verified {
    /// It ends in the state that was asked for.
    Arrives(Passage),
    /// The plan did not hold, which is a defect of ours: this one stops instead.
    Stops(Passage, Violation),
}

impl Passage {
    /// The quickest from one state to another within the bounds; an axis outside them is brought within first.
    ///
    /// The end must be one that an axis within its bounds can be in: an acceleration there may not mean that a speed limit was
    /// passed just before, or will be just after. Only such an end, or numbers that are no state, are refused.
    pub fn quickest(from: State, to: State, bounds: &Bounds) -> Result<Passage, Impossible> {
        check_state(from)?;
        check_target(to, bounds)?;
        let run_in = run_in::run_in(from, bounds);
        let mut passage = Passage { pieces: [Piece::default(); PASSAGE_PIECES], to };
        let arrived = passage.lay(0, from, &run_in.strokes);
        // As it is meant, not as it was summed up: a long run-in would carry its rounding into all that follows.
        let within = State { position: arrived.position, speed: run_in.speed, acceleration: run_in.acceleration };
        let strokes = solve::quickest(&Task::new(within, to, *bounds));
        let (first, last) = strokes.split_at(CRUISE + 1);
        passage.lay(RUN_IN, within, first);
        passage.lay_back(to, last);
        if strokes[CRUISE].time > 0.0 {
            let speed = &mut passage.pieces[RUN_IN + CRUISE].begin.speed;
            *speed = if *speed > 0.0 { bounds.speed().high } else { bounds.speed().low };
        }
        Ok(passage)
    }

    /// The quickest to rest, wherever that is, under the limits on acceleration and jerk. Closed form; only numbers that are no
    /// state are refused.
    pub fn stop(from: State, bounds: &Bounds) -> Result<Passage, Impossible> {
        Passage::to_speed(from, 0.0, bounds)
    }

    /// The quickest to a speed without acceleration, wherever that is, under the limits on acceleration and jerk.
    pub fn to_speed(from: State, speed: f64, bounds: &Bounds) -> Result<Passage, Impossible> {
        check_state(from)?;
        check_target(State { speed, ..State::default() }, bounds)?;
        let mut passage = Passage { pieces: [Piece::default(); PASSAGE_PIECES], to: from };
        let end = passage.lay(0, from, &speed::change(from, speed, bounds));
        let to = State { position: end.position, speed, acceleration: 0.0 };
        passage.to = to;
        passage.lay(RUN_IN, to, &[Stroke::default(); STROKES]);
        Ok(passage)
    }

    /// The quickest, integrated again before it is given out; should it break anything, the stop instead. Behind the stop there is
    /// nothing more: it is used as it is, and tests integrate it again from states of any size.
    pub fn verified(from: State, to: State, bounds: &Bounds) -> Result<Verified, Impossible> {
        Passage::quickest(from, to, bounds)?.or_stop(from, to, bounds)
    }

    /// The same of [`Passage::to_speed`].
    pub fn verified_to_speed(from: State, speed: f64, bounds: &Bounds) -> Result<Verified, Impossible> {
        let change = Passage::to_speed(from, speed, bounds)?;
        change.or_stop(from, change.to, bounds)
    }

    fn or_stop(self, from: State, to: State, bounds: &Bounds) -> Result<Verified, Impossible> {
        match verify_passage(&self, from, Some(to), bounds) {
            Ok(()) => Ok(Verified::Arrives(self)),
            Err(violation) => Ok(Verified::Stops(Passage::stop(from, bounds)?, violation)),
        }
    }

    /// Puts strokes one behind the other from a state on; gives where they end.
    fn lay(&mut self, index: usize, from: State, strokes: &[Stroke]) -> State {
        let mut state = from;
        for (piece, stroke) in self.pieces[index..].iter_mut().zip(strokes) {
            let begin = State { acceleration: stroke.begin, ..state }.with_jerk(stroke.jerk);
            *piece = Piece { begin, time: stroke.time };
            state = State::of(begin.after(stroke.time));
        }
        state
    }

    /// Puts the last strokes one before the other, so that they end in a state exactly.
    fn lay_back(&mut self, to: State, strokes: &[Stroke]) {
        let mut state = to;
        for (piece, stroke) in self.pieces.iter_mut().rev().zip(strokes.iter().rev()) {
            let end = State { acceleration: stroke.end, ..state }.with_jerk(stroke.jerk);
            let begin = Sample { acceleration: stroke.begin, ..end.after(-stroke.time) };
            *piece = Piece { begin, time: stroke.time };
            state = State::of(begin);
        }
    }

    pub fn from(&self) -> State {
        State::of(self.pieces[0].begin)
    }

    pub fn to(&self) -> State {
        self.to
    }

    /// s.
    pub fn duration(&self) -> f64 {
        self.pieces.iter().map(|piece| piece.time).sum()
    }

    /// Its pieces of constant jerk in order: where each begins, and how long it lasts, s. Each ends where the next begins,
    /// but for rounding, and the last in the target.
    pub fn pieces(&self) -> impl Iterator<Item = (Sample, f64)> + use<> {
        self.pieces.into_iter().map(|piece| (piece.begin, piece.time))
    }

    /// At `time` s from its start. From its end on it stands at its target, or goes on from there at the speed that it has;
    /// who ends with an acceleration has planned on before.
    pub fn at(&self, time: f64) -> Sample {
        let mut left = time.max(0.0);
        for piece in &self.pieces {
            if left < piece.time {
                return piece.begin.after(left);
            }
            left -= piece.time;
        }
        let State { position, speed, acceleration } = self.to;
        Sample { position: position + speed * left, speed, acceleration, jerk: 0.0 }
    }
}
