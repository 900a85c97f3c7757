//! The way from standstill into a recorded motion, and out of it.
//!
//! A performance that begins in motion is played as if its clock came up to speed: q(s(τ)), with s' from 0 to 1. So the rig
//! never leaves the performed path, begins in its first pose, and its axes keep together. s' is the polynomial of least
//! jerk from rest to rest (Flash and Hogan, Journal of Neuroscience 5, 1985), so that the curve starts and is joined without
//! a jump of the acceleration. It takes `length` s, in which the performance goes on by half of that: the other half is
//! what it adds.

use super::phrase::Phrase;
use crate::motion::clamped::spline_through;
use crate::motion::profile::{Ceiling, Sample};

/// s; lengths that are tried, and from one to the next.
const SHORTEST: f64 = 0.02;
const LADDER: f64 = 1.15;
const REFINEMENTS: usize = 12;
/// Instants of a lead at which it is looked at: its pieces are as short, and told exactly once it stands.
const LOOKS: usize = 64;

/// Of a lead, so that its spline keeps to it.
const PIECES_LEAST: usize = 12;

/// The clock of the performance after a part `x` of a lead, in lengths of it, and its derivatives by that part.
fn clock(x: f64) -> Sample {
    let square = x * x;
    Sample {
        position: square * square * (2.5 - 3.0 * x + square),
        speed: square * x * (10.0 - 15.0 * x + 6.0 * square),
        acceleration: 30.0 * square * (1.0 - x) * (1.0 - x),
        jerk: 60.0 * x * (1.0 - 3.0 * x + 2.0 * square),
    }
}

/// s of the performance that have gone `time` s into a lead of `length` s.
pub fn gone(time: f64, length: f64) -> f64 {
    length * clock(time / length).position
}

/// The state after a part `x` of a lead of `length` s into a curve, by the rule of the chain.
fn warped(phrase: &Phrase, axis: usize, length: f64, x: f64) -> Sample {
    let clock = clock(x);
    let [rate, gain, change] = [clock.speed, clock.acceleration / length, clock.jerk / (length * length)];
    let q = phrase.at(axis, length * clock.position);
    Sample {
        position: q.position,
        speed: q.speed * rate,
        acceleration: q.acceleration * rate * rate + q.speed * gain,
        jerk: q.jerk * rate * rate * rate + 3.0 * q.acceleration * rate * gain + q.speed * change,
    }
}

/// The least length of a lead into a phrase that keeps `ceilings`, one an axis; `longest`, if none does. Of the speed there is
/// nothing to ask: it is never above that of the performance.
pub fn least(phrase: &Phrase, ceilings: &[Ceiling], longest: f64) -> f64 {
    let keeps = |length: f64| {
        ceilings.iter().enumerate().all(|(axis, ceiling)| {
            (0..=LOOKS).all(|look| {
                let there = warped(phrase, axis, length, look as f64 / LOOKS as f64);
                there.acceleration.abs() <= ceiling.acceleration && there.jerk.abs() <= ceiling.jerk
            })
        })
    };
    let mut long = SHORTEST.min(longest);
    while !keeps(long) && long < longest {
        long = (long * LADDER).min(longest);
    }
    let mut short = long / LADDER;
    for _ in 0..REFINEMENTS {
        let middle = f64::midpoint(short, long);
        if keeps(middle) { long = middle } else { short = middle }
    }
    long
}

/// The curve with a lead of `length` s before what is left of it, in pieces of about `spacing` s.
pub fn led(phrase: &Phrase, length: f64, spacing: f64) -> Phrase {
    let pieces = ((length / spacing).ceil() as usize).max(PIECES_LEAST);
    let step = length / pieces as f64;
    let mut lead = Phrase { times: (0..=pieces).map(|k| k as f64 * step).collect(), states: Vec::new() };
    for axis in 0..phrase.states.len() {
        let wanted = (0..=pieces).map(|k| warped(phrase, axis, length, k as f64 / pieces as f64));
        lead.states.push(spline_through(&wanted.collect::<Vec<_>>(), step));
    }
    lead.then(&phrase.from(length / 2.0))
}
