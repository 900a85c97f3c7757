//! A change of the rate of running cues, in pieces in which its second derivative is linear.
//!
//! What the limits leave of the second derivative varies all along a path. Pieces in which it is constant would have to be
//! many, or to waste what varies within each.

use arrayvec::ArrayVec;

use crate::motion::profile::Sample;
use crate::motion::ramp::Ramp;

/// Pieces of a change that was searched for; the first may be a wait.
pub const SEARCHED_PIECES: usize = 64;
/// Room for those of one such change, a wait, and another.
pub const CHANGE_PIECES: usize = 2 * SEARCHED_PIECES + 1;

/// For `time` s the second derivative of the rate goes on from `bend`, per s², by `twist`, per s³.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Piece {
    pub time: f64,
    pub bend: f64,
    pub twist: f64,
}

impl Piece {
    /// How a rate that begins the piece as `from` has gone on after `time` s of it. Of a rate, `position` is how far the cues'
    /// own time went, `speed` the rate itself, and so on.
    pub fn after(&self, from: Sample, time: f64) -> Sample {
        flow(Sample { jerk: self.bend, ..from }, self.twist, time)
    }

    /// The same at its end.
    pub fn end(&self, from: Sample) -> Sample {
        self.after(from, self.time)
    }
}

/// After `time` s of a jerk that grows by `twist` a second.
pub(super) fn flow(from: Sample, twist: f64, time: f64) -> Sample {
    let Sample { position, speed, acceleration, jerk } = from;
    Sample {
        position: position
            + time * (speed + time * (acceleration / 2.0 + time * (jerk / 6.0 + time * twist / 24.0))),
        speed: speed + time * (acceleration + time * (jerk / 2.0 + time * twist / 6.0)),
        acceleration: acceleration + time * (jerk + time * twist / 2.0),
        jerk: jerk + time * twist,
    }
}

/// From a rate and its derivative to another rate that stays. It takes no memory but its own, and gives the same to the
/// bit whenever it is asked.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Change {
    rate: f64,
    drift: f64,
    to: f64,
    count: usize,
    pieces: [Piece; CHANGE_PIECES],
}

impl Change {
    /// No change at all.
    pub fn steady(rate: f64) -> Change {
        Change { rate, drift: 0.0, to: rate, count: 0, pieces: [Piece::default(); CHANGE_PIECES] }
    }

    /// From `rate` and its derivative, per s, through pieces that end at the rate `to` without a derivative.
    pub fn through(rate: f64, drift: f64, to: f64, list: &ArrayVec<Piece, CHANGE_PIECES>) -> Change {
        let mut pieces = [Piece::default(); CHANGE_PIECES];
        pieces[..list.len()].copy_from_slice(list);
        Change { rate, drift, to, count: list.len(), pieces }
    }

    /// The change that a ramp makes.
    pub fn along(ramp: &Ramp) -> Change {
        let from = ramp.at(0.0);
        let mut list = ArrayVec::new();
        let mut begin = 0.0;
        for time in ramp.times() {
            if time > 0.0 {
                list.push(Piece { time, bend: ramp.at(begin + time / 2.0).jerk, twist: 0.0 });
            }
            begin += time;
        }
        Change::through(from.speed, from.acceleration, ramp.to_speed(), &list)
    }

    pub fn pieces(&self) -> &[Piece] {
        &self.pieces[..self.count]
    }

    /// s.
    pub fn duration(&self) -> f64 {
        self.pieces().iter().map(|piece| piece.time).sum()
    }

    /// The rate that stays.
    pub fn to_rate(&self) -> f64 {
        self.to
    }

    /// At `time` s from its start: how far the cues' own time went since then (`position`, s), the rate (`speed`) and its
    /// derivatives; afterwards at the new rate.
    pub fn at(&self, time: f64) -> Sample {
        let mut left = time.max(0.0);
        let mut state = self.begins();
        for piece in self.pieces() {
            if left < piece.time {
                return piece.after(state, left);
            }
            state = piece.end(state);
            left -= piece.time;
        }
        Sample { position: state.position + self.to * left, speed: self.to, ..Sample::default() }
    }

    /// s of the cues' own time, until the new rate is reached.
    pub fn distance(&self) -> f64 {
        self.pieces().iter().fold(self.begins(), |state, piece| piece.end(state)).position
    }

    /// Begins `time` s into this change; what is left of it.
    pub fn rest_from(&self, time: f64) -> Change {
        let now = self.at(time);
        let mut left = time.max(0.0);
        let mut list = ArrayVec::<Piece, CHANGE_PIECES>::new();
        for piece in self.pieces() {
            let passed = piece.time.min(left);
            left -= passed;
            if passed < piece.time {
                list.push(Piece { time: piece.time - passed, bend: piece.bend + passed * piece.twist, ..*piece });
            }
        }
        Change::through(now.speed, now.acceleration, self.to, &list)
    }

    /// The same, once its first rate, which must be steady, has gone on for `wait` s. `None` if its pieces are too many.
    pub fn after(&self, wait: f64) -> Option<Change> {
        let mut list: ArrayVec<Piece, CHANGE_PIECES> = ArrayVec::new();
        list.push(Piece { time: wait, ..Piece::default() });
        list.try_extend_from_slice(self.pieces()).ok()?;
        Some(Change::through(self.rate, self.drift, self.to, &list))
    }

    /// The same, then its new rate for `wait` s, then another change. `None` if the pieces are too many.
    pub fn then(&self, wait: f64, next: &Change) -> Option<Change> {
        let mut list: ArrayVec<Piece, CHANGE_PIECES> = ArrayVec::new();
        list.try_extend_from_slice(self.pieces()).ok()?;
        if wait > 0.0 {
            list.try_push(Piece { time: wait, ..Piece::default() }).ok()?;
        }
        list.try_extend_from_slice(next.pieces()).ok()?;
        Some(Change::through(self.rate, self.drift, next.to, &list))
    }

    /// The same along the cues' own time from so many times its first rate. From a lower one it keeps the limits that it keeps:
    /// an acceleration counts by the square of the rate, a jerk by its cube.
    pub fn slower(&self, rate: f64) -> Change {
        let (square, cube) = (rate * rate, rate * rate * rate);
        let mut slower = Change { rate: self.rate * rate, drift: self.drift * square, to: self.to * rate, ..*self };
        for piece in &mut slower.pieces[..self.count] {
            *piece =
                Piece { time: piece.time / rate, bend: piece.bend * cube, twist: piece.twist * square * square };
        }
        slower
    }

    /// How it begins.
    pub(super) fn begins(&self) -> Sample {
        Sample { speed: self.rate, acceleration: self.drift, ..Sample::default() }
    }
}
