//! How long a move must last so that it can be aimed, and how slowly it may come to its point.

use super::hunt::{EASE, Hunt};
use super::{Aimed, Untimed, Wrong};
use crate::proof::pace::rounded_up;
use crate::proof::plan::MovePlan;
use crate::proof::timeline::plan_step;
use crate::show::Move;

/// Times that are tried in search of the least, from one to the next; then what lies between two of them is halved.
const LONGER: f64 = 2.0;
const TRIES: usize = 6;
/// s, to which the least is found: half of what it is told to, and where two are to be compared.
const TOLD: f64 = 5e-3;
const COMPARED: f64 = 1e-3;
/// Eases that are tried, and s to which the least is told.
const EASES: f64 = 4.0;
const EASE_STEP: f64 = 0.1;
/// s; no move is tried shorter.
const SHORTEST: f64 = 0.2;

/// What was tried and would do.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Remedies {
    pub ease: Option<f64>,
    pub time: Option<f64>,
    /// With no `ease` written.
    pub time_without_ease: Option<f64>,
}

impl Hunt<'_> {
    /// The move in the least time in which it can be aimed and the other axes can go; `None` where no time would do.
    pub fn least_time(&self, moves: &[MovePlan], ease: Option<f64>) -> Option<MovePlan> {
        let now = moves[self.aimed.index].duration().max(SHORTEST);
        let (mut short, mut long) = (now, now);
        let mut tries = 0;
        while !self.does(moves, long, ease)? {
            tries += 1;
            if tries > TRIES {
                return None;
            }
            (short, long) = (long, long * LONGER);
        }
        let near = match self.aimed.untimed {
            Untimed::AsWritten => TOLD,
            Untimed::Exact => COMPARED,
        };
        while long - short > near {
            let middle = f64::midpoint(short, long);
            if self.does(moves, middle, ease)? { long = middle } else { short = middle }
        }
        let told = match self.aimed.untimed {
            Untimed::AsWritten => rounded_up(long),
            Untimed::Exact => long,
        };
        let time = if told == long || self.does(moves, told, ease)? { told } else { long };
        Some(self.replanned(moves, time)[self.aimed.index].clone())
    }

    /// Whether it can be aimed if it lasts so long; `None` where no time would help.
    fn does(&self, moves: &[MovePlan], time: f64, ease: Option<f64>) -> Option<bool> {
        match self.paths(&self.replanned(moves, time), ease) {
            Ok(_) => Some(true),
            Err(Wrong::Limit { .. }) => Some(false),
            Err(
                Wrong::Axes
                | Wrong::Lost(_)
                | Wrong::Travel { .. }
                | Wrong::Later { .. }
                | Wrong::Unverified { .. },
            ) => None,
        }
    }

    /// The moves of the cue if this one lasts so long.
    pub fn replanned(&self, moves: &[MovePlan], time: f64) -> Vec<MovePlan> {
        let Aimed { show, id, index, written, start, .. } = self.aimed;
        let written = Move { time: Some(time), ..written.clone() };
        let mut moves = moves.to_vec();
        (moves[index], _) = plan_step(show, id, &written, start, &mut Vec::new());
        moves
    }

    pub fn remedies(&self, moves: &[MovePlan]) -> Remedies {
        let ease = self.aimed.aim.ease;
        let time = |ease| self.least_time(moves, ease).map(|step| rounded_up(step.duration()));
        let mut found = Remedies { ease: self.least_ease(moves), time: time(ease), time_without_ease: None };
        if found == Remedies::default() && ease.is_some() {
            found.time_without_ease = time(None);
        }
        found
    }

    /// The least ease, in tenths, that would do within the time that the move has.
    fn least_ease(&self, moves: &[MovePlan]) -> Option<f64> {
        let lasts = moves[self.aimed.index].duration();
        let now = self.aimed.aim.ease.unwrap_or(EASE * lasts);
        let does = |ease: f64| self.paths(moves, Some(ease)).is_ok();
        let stride = (lasts - now) / EASES;
        let mut long = now + stride;
        while !does(long) {
            long += stride;
            if long > lasts * (1.0 + 1e-9) || stride < EASE_STEP {
                return None;
            }
        }
        let mut short = long - stride;
        while long - short > EASE_STEP {
            let middle = f64::midpoint(short, long);
            if does(middle) { long = middle } else { short = middle }
        }
        let told = ((long / EASE_STEP - 1e-6).ceil() * EASE_STEP).min(lasts);
        // Tenths have no end in binary.
        let told = (told * 1e3).round() / 1e3;
        does(told).then_some(told)
    }
}
