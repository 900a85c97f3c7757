//! Takes: a recorded performance made a smooth path.
//!
//! Samples become one cubic spline an axis ([`smooth`]). Where the performance begins or ends in motion, a [`lead`] brings
//! the rig into it from standstill, or out of it, along the performed path. What comes out is at rest at both ends, its
//! peaks are exact, and so is the stretch that brings them within the limits.

mod lead;
mod noise;
mod phrase;
mod smooth;
mod spline;
#[cfg(test)]
mod tests;

pub use phrase::{Peak, Phrase};
pub use smooth::{Rough, Trace};

use smooth::{knots, smooth};
use spline::{Deviation, Knots, Rests};

use super::profile::Ceiling;
use crate::show::Limits;

/// An end needs no lead if the path that starts or ends there at once asks for no more than the performance does by
/// itself, but for this.
const LEADLESS: f64 = 1.01;
/// A lead may ask for as much of the limits as the performance, or for this part of the pace that they allow. So a take
/// that could be played faster is not held back by its lead, and a slow one does not creep in for ever.
const PACE_LEAST: f64 = 0.7;
/// Where the performance itself keeps the limits, a lead leaves them this reserve, since its spline follows it only nearly.
const PACE_MOST: f64 = 0.97;

/// An hour, to a nanosecond.
const CLOCK_HALVINGS: usize = 42;

/// One axis of a performance.
#[derive(Clone, Copy, Debug)]
pub struct Part<'a> {
    pub trace: Trace<'a>,
    pub limits: Limits,
}

/// A recorded performance as a path, at rest at both ends.
#[derive(Clone, Debug, PartialEq)]
pub struct Performance {
    pub phrase: Phrase,
    /// s, that the run-in and the run-out add to what was recorded.
    pub added: [f64; 2],
    /// s of the recording, at which it is entered.
    pub entered: f64,
}

impl Performance {
    /// s of the recording that are played `time` s after the start. Along a lead its clock is bent.
    pub fn recorded(&self, time: f64) -> f64 {
        let [run_in, run_out] = self.added;
        let left = self.phrase.duration() - time;
        if time < 2.0 * run_in {
            self.entered + lead::gone(time.max(0.0), 2.0 * run_in)
        } else if left < 2.0 * run_out {
            self.entered + self.phrase.duration() - run_in - run_out - lead::gone(left.max(0.0), 2.0 * run_out)
        } else {
            self.entered + time - run_in
        }
    }

    /// s after the start at which `time` s of the recording are played; an end, of what is not played.
    pub fn played(&self, time: f64) -> f64 {
        let (mut early, mut late) = (0.0, self.phrase.duration());
        for _ in 0..CLOCK_HALVINGS {
            let middle = f64::midpoint(early, late);
            if self.recorded(middle) < time { early = middle } else { late = middle }
        }
        f64::midpoint(early, late)
    }
}

/// Where a limit asks for the most stretch.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Tightest {
    pub axis: usize,
    pub limit: Derivative,
    pub peak: Peak,
    /// The least factor on the time that brings every axis within its limits; below 1 there is room.
    pub stretch: f64,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Derivative {
    Speed,
    Acceleration,
    Jerk,
}

/// The path of a recording from `enter` s after its first sample on. `times` rise; there are at least ten, and the values of
/// each part stand beside them.
///
/// # Errors
/// The first part, by its index, that is no curve, and why.
pub fn perform(times: &[f64], parts: &[Part], enter: f64) -> Result<Performance, (usize, Rough)> {
    let times: Vec<f64> = times.iter().map(|time| time - times[0]).collect();
    let mut noises = Vec::with_capacity(parts.len());
    for (index, part) in parts.iter().enumerate() {
        noises.push(part.trace.noise(&times).map_err(|rough| (index, rough))?);
    }
    let phrase = |rests: Rests| phrase_of(&times, parts, &noises, rests);
    let free = phrase(Rests { start: false, end: false })?;
    let pace = tightest(&free, parts).map_or(0.0, |tightest| tightest.stretch).max(PACE_LEAST);
    let lead_pace = if pace < 1.0 { pace.min(PACE_MOST) } else { pace };
    let ceilings: Vec<Ceiling> = parts.iter().map(|part| ceiling(part.limits, lead_pace)).collect();
    // Where the recording begins or ends at rest a lead would only add time.
    for (start, end) in [(true, true), (true, false), (false, true)] {
        let rests = Rests { start: start && enter == 0.0, end };
        if let Ok(phrase) = phrase(rests) {
            let led = with_leads(&phrase, rests, &ceilings, enter);
            if tightest(&led.phrase, parts).is_none_or(|tightest| tightest.stretch <= pace * LEADLESS) {
                return Ok(led);
            }
        }
    }
    Ok(with_leads(&free, Rests { start: false, end: false }, &ceilings, enter))
}

fn phrase_of(times: &[f64], parts: &[Part], noises: &[f64], rests: Rests) -> Result<Phrase, (usize, Rough)> {
    let mut failed = None;
    for knots in knots(times) {
        match on_knots(times, parts, noises, knots, rests) {
            Ok(phrase) => return Ok(phrase),
            Err(found) => failed = Some(found),
        }
    }
    let (index, Deviation { most, sample, .. }) = failed.expect("some knots are tried");
    // Of normal scatter one in three hundred is off by more than three times its deviation.
    let noisy = 3.0 * noises[index] > parts[index].trace.tolerance;
    let rough = match noisy {
        true => Rough::Noise { sample, deviation: noises[index] },
        false => Rough::Beyond { sample, off: most },
    };
    Err((index, rough))
}

/// All axes on the same knots, or the first that does not fit.
fn on_knots(
    times: &[f64],
    parts: &[Part],
    noises: &[f64],
    knots: Knots,
    rests: Rests,
) -> Result<Phrase, (usize, Deviation)> {
    let mut states = Vec::with_capacity(parts.len());
    for (index, (part, &noise)) in parts.iter().zip(noises).enumerate() {
        let spline = smooth(times, part.trace, noise, knots, rests).map_err(|off| (index, off))?;
        states.push((0..=knots.pieces).map(|knot| spline.at_knot(knot)).collect());
    }
    Ok(Phrase { times: (0..=knots.pieces).map(|knot| knot as f64 * knots.spacing).collect(), states })
}

/// What a lead may ask for at a pace.
fn ceiling(limits: Limits, pace: f64) -> Ceiling {
    Ceiling {
        speed: limits.speed * pace,
        acceleration: limits.acceleration * pace * pace,
        jerk: limits.jerk * pace * pace * pace,
    }
}

fn with_leads(whole: &Phrase, rests: Rests, ceilings: &[Ceiling], enter: f64) -> Performance {
    let spacing = whole.times[1];
    let mut phrase = if enter > 0.0 { whole.from(enter) } else { whole.clone() };
    let mut added = [0.0; 2];
    // In its length each lead goes through half as much of the performance; something is left between them.
    let room = 0.95 * phrase.duration();
    if !rests.end {
        let back = phrase.reversed();
        let length = lead::least(&back, ceilings, room);
        phrase = lead::led(&back, length, spacing).reversed();
        added[1] = length / 2.0;
    }
    if !rests.start {
        let length = lead::least(&phrase, ceilings, room);
        phrase = lead::led(&phrase, length, spacing);
        added[0] = length / 2.0;
    }
    Performance { phrase, added, entered: enter }
}

/// The axis, the limit and the instant that ask for the most stretch: the ratio of a peak speed to its limit, the square
/// root of that of an acceleration, the cube root of that of a jerk (Biagiotti and Melchiorri, *Trajectory Planning for
/// Automatic Machines and Robots*, 2008, section 3.4.5). `None` if all stand still.
pub fn tightest(phrase: &Phrase, parts: &[Part]) -> Option<Tightest> {
    let mut worst: Option<Tightest> = None;
    for (axis, part) in parts.iter().enumerate() {
        let [speed, acceleration, jerk] = phrase.peaks(axis);
        let asked = [
            (Derivative::Speed, speed, speed.value / part.limits.speed),
            (Derivative::Acceleration, acceleration, (acceleration.value / part.limits.acceleration).sqrt()),
            (Derivative::Jerk, jerk, libm::cbrt(jerk.value / part.limits.jerk)),
        ];
        for (limit, peak, stretch) in asked {
            if stretch > worst.map_or(0.0, |worst| worst.stretch) {
                worst = Some(Tightest { axis, limit, peak, stretch });
            }
        }
    }
    worst
}
