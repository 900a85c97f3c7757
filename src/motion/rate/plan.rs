//! The quickest change of rate along a path, under the third-order limits of every course.
//!
//! The state is (τ, r, r'), the control r''. As in time-optimal path parameterisation with limits of third order (Tarkiainen and
//! Shiller, "Time optimal motions of manipulators with actuator dynamics", 1993; Pham and Pham, "On the structure of the
//! time-optimal path parameterization problem with third-order constraints", 2017), the optimum takes the greatest r'' that any
//! course allows, runs along the bound on r' once an acceleration is at its limit, and is released by the greatest
//! r'' the other way just in time to end at the new rate with r' = 0:
//!
//! ```text
//!        drive          along the bound        release
//!   r'  0 ──╲                                   ╱── 0
//!            ╲_______________________________╱
//! ```
//!
//! It is found forwards, in pieces of linear r''. After each the release from there is tried out: as long as it ends
//! short of the new rate and breaks no limit, driving on does no harm. Where it does, the piece is cut at the last instant that
//! could be released; if the release ends at the new rate it is taken, else something ahead forbids to drive on, and as
//! little release as it allows is mixed into the drive. What cannot come to a new rate other than 0, or has no looks left for it,
//! comes as near to it as it can.

use arrayvec::ArrayVec;

use super::change::{CHANGE_PIECES, Change, Piece, SEARCHED_PIECES};
use super::path::Path;
use super::piece::{Found, Maker, STRAYS};
use crate::motion::profile::Sample;

/// Pieces of a release that has to wait for its moment.
const RELEASE_MOST: usize = 12;
/// How much longer each piece of it may be than the one before, once it should have ended.
const PATIENCE: f64 = 8.0;
/// Tries at the instant at which a piece is cut.
const CUTS: usize = 7;
/// Pieces that something ahead may ask for, before the search is given up.
const OBSTACLES: usize = 6;
/// Parts of the drive that are tried with release.
const MIXTURES: [f64; 3] = [0.75, 0.5, 0.25];
/// The last pieces of a release are stretched by less than this.
const STRETCHED: f64 = 1.25;
/// A release that would end within this part of what is left to the new rate is far from it.
const TRUSTED: f64 = 0.4;

pub(super) type Pieces = ArrayVec<Piece, CHANGE_PIECES>;

/// A plan of the quickest change to one rate.
pub(super) struct Planner<'a, P> {
    pub make: Maker<'a, P>,
    /// The rate to come to.
    pub to: f64,
    /// Which way the rate is driven, 1 or -1.
    pub way: f64,
    /// How long a piece may be, s, before its own jerks have told.
    pub step: f64,
    /// Pieces of a release,
    pub release: usize,
    /// which may end short of the new rate by this part of the whole change; its end is stretched to meet it.
    pub short: f64,
    /// Whether a release that is far from the new rate is taken to be possible unseen.
    pub trusting: bool,
}

impl<P: Path> Planner<'_, P> {
    /// A change that waits for so many s and ends at the new rate, or short of one other than 0; `None` if the search finds none.
    pub fn plan(mut self, from: Sample, wait: f64) -> Option<Change> {
        let whole = (self.to - from.speed).abs().max(1e-6);
        let parked = self.release(from, None)?;
        let short = self.short;
        let near = |left: f64| left.abs() <= short * whole;
        self.way = if self.to >= parked { 1.0 } else { -1.0 };
        let mut pieces = Pieces::new();
        let (mut state, mut parks, mut step) = (from, parked, self.step);
        let (mut obstacles, mut kept) = (0, None);
        if wait > 0.0 {
            let piece = Piece { time: wait, ..Piece::default() };
            pieces.push(piece);
            state = piece.end(state);
        }
        while pieces.len() + RELEASE_MOST < SEARCHED_PIECES && (self.to == 0.0 || !self.make.effort.is_scarce()) {
            if near(self.to - parks) {
                let released = self.released(from, state, pieces.clone());
                // Where the path itself needs nearly all, a rate nears the new one by and by, and meets it farther on.
                if released.is_some() || self.to == 0.0 {
                    return released;
                }
            }
            let driven = self.make.glance(state, step).and_then(|glance| self.make.piece(&glance, step, self.way));
            if let Some(Found { piece, strays }) = driven {
                let end = piece.end(state);
                if let Some(parked) = self.viable(end) {
                    pieces.push(piece);
                    (state, parks) = (end, parked);
                    kept = Some((pieces.len(), state));
                    step = longer(piece.time, step, strays);
                    continue;
                }
                if let Some((piece, parked)) = self.cut(state, parks, piece, whole) {
                    pieces.push(piece);
                    (state, parks) = (piece.end(state), parked);
                    kept = Some((pieces.len(), state));
                    if near(self.to - parks) {
                        continue;
                    }
                }
            }
            if obstacles == OBSTACLES {
                break;
            }
            obstacles += 1;
            let Some(piece) = self.past(state, driven.map(|found| found.piece), step) else { break };
            let end = piece.end(state);
            let Some(parked) = self.release(end, None) else { break };
            pieces.push(piece);
            (state, parks) = (end, parked);
        }
        let (count, state) = kept?;
        pieces.truncate(count);
        self.partly(from, state, pieces)
    }

    /// Where the new rate is not met: as near to it as the drive went.
    fn partly(&self, from: Sample, state: Sample, mut pieces: Pieces) -> Option<Change> {
        if self.to == 0.0 {
            return None;
        }
        let mut release = Pieces::new();
        let parks = self.release(state, Some(&mut release))?;
        pieces.try_extend_from_slice(&release).ok()?;
        let nearer = (parks - from.speed) * self.way > 0.0 && (self.to - parks) * self.way > 0.0;
        nearer.then(|| Change::through(from.speed, from.acceleration, parks, &pieces))
    }

    /// Where something ahead forbids to drive on: as much of the drive, mixed with release, as it allows.
    fn past(&self, state: Sample, driven: Option<Piece>, step: f64) -> Option<Piece> {
        let mut release = Pieces::new();
        self.release(state, Some(&mut release))?;
        let steady = Piece { time: step, bend: 0.0, twist: 0.0 };
        let release = release.first().copied().unwrap_or(steady);
        let mixed = |driven: Piece, part: f64| Piece {
            time: driven.time.min(release.time),
            bend: part * driven.bend + (1.0 - part) * release.bend,
            twist: part * driven.twist + (1.0 - part) * release.twist,
        };
        let mixtures = driven.into_iter().flat_map(|driven| MIXTURES.map(|part| mixed(driven, part)));
        Some(mixtures.into_iter().find(|piece| self.viable(piece.end(state)).is_some()).unwrap_or(release))
    }

    /// Where the release from there ends, if that is no farther than the new rate.
    fn viable(&self, state: Sample) -> Option<f64> {
        let parked = self.release(state, None)?;
        ((self.to - parked) * self.way >= -1e-12).then_some(parked)
    }

    /// The longest part of a piece from whose end there is a way to the new rate, and the rate at which its release ends.
    fn cut(&self, state: Sample, parks: f64, piece: Piece, whole: f64) -> Option<(Piece, f64)> {
        let (mut short, mut long) = (0.0, 1.0);
        let mut best = None;
        let mut left_short = (self.to - parks) * self.way;
        let mut left_long = f64::NAN;
        for _ in 0..CUTS {
            let secant =
                short + (long - short) * (left_short - 0.4 * self.short * whole) / (left_short - left_long);
            let part = if secant > short && secant < long { secant } else { (short + long) / 2.0 };
            let tried = Piece { time: part * piece.time, ..piece };
            let parked = self.release(tried.end(state), None);
            let left = parked.map_or(f64::NAN, |parked| (self.to - parked) * self.way);
            if left >= -1e-12 {
                (short, left_short) = (part, left);
                best = parked.map(|parked| (tried, parked));
                if left <= self.short * whole {
                    break;
                }
            } else {
                (long, left_long) = (part, left);
            }
        }
        best
    }

    /// The whole change, with the release from `state` stretched so that it meets the new rate.
    fn released(&self, from: Sample, state: Sample, mut pieces: Pieces) -> Option<Change> {
        let mut release = Pieces::new();
        self.release(state, Some(&mut release))?;
        if release.is_empty() && state.speed != self.to {
            return None;
        }
        if !release.is_empty() {
            meet(&mut release, state, self.to)?;
        }
        pieces.try_extend_from_slice(&release).ok()?;
        Some(Change::through(from.speed, from.acceleration, self.to, &pieces))
    }

    /// Takes r' away as fast as it may; the rate at which that ends, or a rate beyond the new one. `None` where it cannot be
    /// taken away.
    fn release(&self, from: Sample, mut into: Option<&mut Pieces>) -> Option<f64> {
        let mut state = from;
        if state.acceleration == 0.0 {
            return Some(state.speed);
        }
        let (way, mut patience) = (-state.acceleration.signum(), 1.0);
        for index in 0..RELEASE_MOST {
            let glance = self.make.glance(state, self.step)?;
            let now = self.make.greatest(&glance, way)? * way;
            let at_once = state.acceleration.abs() / now;
            if index == 0 && self.trusting && into.is_none() && now > 0.0 {
                let goes_on = at_once * state.acceleration / 2.0;
                let left = self.to - state.speed;
                if goes_on * left >= 0.0 && goes_on.abs() < TRUSTED * left.abs() {
                    return Some(state.speed + goes_on);
                }
            }
            // Where r'' must wait the jerks tell how long it all takes.
            let by_jerk = self.make.eased_in(&glance, self.to).max(self.step / 100.0) * patience;
            let whole = if now > 0.0 { at_once.min(by_jerk) } else { by_jerk };
            let last = index + 1 >= self.release && now > 0.0;
            let time = whole / self.release.saturating_sub(index).max(1) as f64;
            let piece = self.make.piece(&glance, time, way)?.piece;
            let whole = last && piece.time >= time * (1.0 - 1e-6);
            let ending = if whole { self.make.ending(&glance, piece, way) } else { None };
            let (gone, piece) = (ending.is_some(), ending.unwrap_or(piece));
            patience *= if last { PATIENCE } else { 1.0 };
            let end = piece.end(state);
            if let Some(pieces) = into.as_deref_mut() {
                pieces.push(piece);
            }
            let beyond = (end.speed - self.to) * self.way > 0.0 && end.acceleration * self.way > 0.0;
            if gone || beyond && into.is_none() {
                return Some(end.speed);
            }
            state = end;
        }
        None
    }
}

/// Stretches the end of a release from `state` so that it meets the rate `to`: as few pieces of it as need not be stretched much.
/// Their r' stays what it is, only later.
fn meet(release: &mut [Piece], state: Sample, to: f64) -> Option<()> {
    let end = release.iter().fold(state, |state, piece| piece.end(state));
    for first in (0..release.len()).rev() {
        let begin = release[..first].iter().fold(state, |state, piece| piece.end(state));
        let longer = (to - begin.speed) / (end.speed - begin.speed);
        // It only just falls short, or what is found here is nothing.
        if longer > 0.0 && longer < STRETCHED {
            for piece in &mut release[first..] {
                *piece = Piece {
                    time: piece.time * longer,
                    bend: piece.bend / longer,
                    twist: piece.twist / (longer * longer),
                };
            }
            return Some(());
        }
    }
    None
}

/// The length of the next piece: longer where the last one was nearly straight.
fn longer(time: f64, step: f64, strays: f64) -> f64 {
    let factor = if strays < STRAYS / 8.0 {
        1.6
    } else if strays < STRAYS {
        1.0
    } else {
        0.7
    };
    time.max(step * 0.5) * factor
}
