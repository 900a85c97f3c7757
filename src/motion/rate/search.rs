//! The search for the quickest change: plans of growing care, at once, after a wait or in two stages; the best that passes
//! the check.

use super::cells::{felt, keeps_limits};
use super::change::Change;
use super::path::Path;
use super::piece::Maker;
use super::plan::Planner;
use super::{Course, Regime};
use crate::motion::profile::Sample;
use crate::motion::ramp::Ramp;

/// What does not pass the check, or takes long, is tried again more carefully.
const CARES: [Care; 5] = [
    Care { margin: 2e-3, steps: 6.0, rounds: 2, release: 2, short: 1e-3 },
    Care { margin: 1e-2, steps: 9.0, rounds: 3, release: 4, short: 2e-3 },
    Care { margin: 1.5e-2, steps: 11.0, rounds: 3, release: 5, short: 2e-3 },
    Care { margin: 2e-2, steps: 8.0, rounds: 3, release: 3, short: 2e-3 },
    Care { margin: 4e-2, steps: 12.0, rounds: 3, release: 4, short: 1e-3 },
];
/// What sets out is worth fewer pains than what comes to rest: so many of them.
const CARES_OF_A_START: usize = 2;
/// The change of an axis at rest would be over at once; it takes this long, s.
pub(super) const QUICKEST: f64 = 0.02;
/// A change that takes so many times as long as any course would alone is worth a try to wait,
const WORTH: f64 = 1.05;
/// for as many changes of jerk.
const WAITS: usize = 4;
/// Where the path itself needs all that the limits allow, a rate nears the new one by and by. It may then rest at one of these
/// parts of it,
const STAGES: [f64; 2] = [0.99, 0.9];
/// until one of as many changes of jerk leaves room.
const STAGE_CHANGES: usize = 3;
/// Times that the least time of a change to a rate other than 0 is guessed anew.
const GUESSES: usize = 3;

/// How carefully a change is searched for.
#[derive(Clone, Copy)]
struct Care {
    /// As in [`Maker`].
    margin: f64,
    rounds: usize,
    /// Pieces in which the least time would be cut, were all alike,
    steps: f64,
    /// and pieces of a release,
    release: usize,
    /// which may end short of the new rate by this part of the whole change; its last piece is bent to meet it.
    short: f64,
}

/// What is searched for: a change from one state, which tells the rate as its speed, to the rate `to`.
#[derive(Clone, Copy)]
struct Search<'a, P> {
    courses: &'a [Course<P>],
    from: Sample,
    to: f64,
    regime: Regime,
}

/// The least time in which any course by itself could change its rate so, s: a course's own optimum is a change of its speed
/// along the path, whose closed form is a [`Ramp`]. Of a new rate other than 0 it is a guess, since the path's own speed at the
/// end depends on the time.
pub(super) fn least_time<P: Path>(courses: &[Course<P>], from: Sample, to: f64, regime: Regime) -> f64 {
    let least = courses.iter().map(|course| {
        let at = |position: f64| course.path.at(course.time + position);
        let now = at(from.position);
        let (begins, limits) = (felt(now, 0.0, from), course.ceiling(regime));
        let time = |speed: f64| {
            Ramp::new(begins.speed, begins.acceleration, speed * to, limits.acceleration, limits.jerk).duration()
        };
        let guesses = if to == 0.0 { 0 } else { GUESSES };
        (0..guesses)
            .fold(time(now.speed), |least, _| time(at(from.position + least * (from.speed + to) / 2.0).speed))
    });
    least.fold(QUICKEST, f64::max)
}

/// The quickest change to the rate `to` that is found; it has passed the check. `from` tells the rate as its speed.
pub(super) fn quickest<P: Path>(
    courses: &[Course<P>],
    from: Sample,
    to: f64,
    regime: Regime,
    least: f64,
) -> Option<Change> {
    let search = Search { courses, from, to, regime };
    let best = search.at_once(least);
    if best.is_some_and(|best| best.duration() < WORTH * least) {
        return best;
    }
    if to != 0.0 {
        return search.in_stages(least, best);
    }
    // One that brakes already, or stands, has nothing to wait for.
    if from.acceleration != 0.0 || from.speed == 0.0 { best } else { search.after_a_wait(least, best) }
}

impl<P: Path> Search<'_, P> {
    fn planner(&self, care: Care, least: f64, to: f64) -> Planner<'_, P> {
        Planner {
            make: Maker { courses: self.courses, regime: self.regime, margin: care.margin, rounds: care.rounds },
            to,
            way: 1.0,
            step: least / care.steps,
            release: care.release,
            short: care.short,
            trusting: false,
        }
    }

    fn passing(&self, change: Option<Change>) -> Option<Change> {
        change.filter(|change| keeps_limits(self.courses, change, self.regime))
    }

    fn at_once(&self, least: f64) -> Option<Change> {
        let stops = self.to == 0.0;
        let mut best = None;
        for (tried, care) in CARES.into_iter().take(if stops { CARES.len() } else { CARES_OF_A_START }).enumerate()
        {
            let trusting = tried == 0 && self.regime == Regime::Stopping;
            let planner = Planner { trusting, ..self.planner(care, least, self.to) };
            best = shorter(best, self.passing(planner.plan(self.from, 0.0)));
            if duration(&best) < if stops && tried == 0 { WORTH * least } else { f64::INFINITY } {
                break;
            }
        }
        best
    }

    /// Where several courses are near their limits, one that begins at once may have to wind its way between them. So where it
    /// takes much longer than each course would alone, it is also tried to wait, at the rate as it is, until a path's jerk
    /// changes.
    fn after_a_wait(&self, least: f64, mut best: Option<Change>) -> Option<Change> {
        let rate = self.from.speed;
        let mut wait = 0.0;
        for _ in 0..WAITS {
            let state = Sample { position: wait * rate, ..self.from };
            wait += self.planner(CARES[1], least, self.to).make.glance(state, 0.0).ahead / rate;
            let there = Sample { position: wait * rate, ..self.from };
            let left = least_time(self.courses, there, self.to, self.regime);
            if !(wait.is_finite() && wait + left < duration(&best)) {
                break;
            }
            let trusting = self.regime == Regime::Stopping;
            let planner = Planner { trusting, ..self.planner(CARES[1], left, self.to) };
            best = shorter(best, self.passing(planner.plan(self.from, wait)));
        }
        best
    }

    /// First to a part of the new rate, and from there to the whole at once or where a path's jerk has changed.
    fn in_stages(&self, least: f64, mut best: Option<Change>) -> Option<Change> {
        for rate in STAGES.map(|part| part * self.to) {
            let Some(first) = self.planner(CARES[1], least, rate).plan(self.from, 0.0) else { continue };
            let mut wait = 0.0;
            for _ in 0..=STAGE_CHANGES {
                if first.duration() + wait >= duration(&best) {
                    break;
                }
                let position = self.from.position + first.distance() + wait * rate;
                let there = Sample { position, speed: rate, ..Sample::default() };
                let left = least_time(self.courses, there, self.to, self.regime);
                let ahead = self.planner(CARES[1], left, self.to).make.glance(there, 0.0).ahead;
                let second = self.planner(CARES[1], left, self.to).plan(there, 0.0);
                let whole = second.and_then(|second| first.then(wait, &second));
                best = shorter(best, self.passing(whole));
                wait += ahead / rate;
            }
        }
        best
    }
}

fn duration(change: &Option<Change>) -> f64 {
    change.map_or(f64::INFINITY, |change| change.duration())
}

fn shorter(one: Option<Change>, other: Option<Change>) -> Option<Change> {
    if duration(&other) < duration(&one) { other } else { one }
}
