//! The exact verifier: every plan is integrated again, piece by piece, before it is used.
//!
//! It knows nothing of how a plan was found. Over a piece of constant jerk the acceleration is linear, so that its
//! extremes lie at the ends; the speed's lie at the ends or where the acceleration passes zero.

use super::curve::Curve;
use super::passage::{Bounds, Passage, State};
use super::profile::{Ceiling, PIECES, Profile, Sample};
use super::ramp::Ramp;
use super::rate::Range;

/// Rounding allowed in a comparison, as a fraction of what is compared.
const ROUNDING: f64 = 1e-9;

/// What a plan breaks: found against allowed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Violation {
    NotFinite,
    /// A piece of negative length.
    Backwards {
        time: f64,
    },
    Speed {
        found: f64,
        limit: f64,
    },
    Acceleration {
        found: f64,
        limit: f64,
    },
    Jerk {
        found: f64,
        limit: f64,
    },
    /// It does not end where it must: position and speed found.
    End {
        position: f64,
        speed: f64,
    },
    /// Two pieces do not meet in position, speed or acceleration: where the second begins, s, and how far off it is.
    Jump {
        time: f64,
        gap: f64,
    },
    /// It ends at another acceleration.
    EndAcceleration {
        found: f64,
        wanted: f64,
    },
    /// It moves backwards on the way.
    Reverses {
        speed: f64,
    },
}

/// Whether a profile goes from 0 to 1, at rest at both ends, never backwards, within the ceiling.
pub fn verify_profile(profile: &Profile, ceiling: Ceiling) -> Result<(), Violation> {
    if *profile == Profile::NOTHING {
        return Ok(());
    }
    let jerk = profile.peaks().jerk;
    let signs: [f64; PIECES] = [1.0, 0.0, -1.0, 0.0, -1.0, 0.0, 1.0];
    let mut state = Sample::default();
    for (time, sign) in profile.pieces().into_iter().zip(signs) {
        let start = state;
        let (end, slowest) = verify_piece(Sample { jerk: sign * jerk, ..start }, time, ceiling)?;
        if slowest < -1e-9 * (1.0 + start.speed.abs()) {
            return Err(Violation::Reverses { speed: slowest });
        }
        state = end;
    }
    let speed_scale = profile.peaks().speed;
    if (state.position - 1.0).abs() > ROUNDING || state.speed.abs() > ROUNDING * speed_scale {
        return Err(Violation::End { position: state.position, speed: state.speed });
    }
    Ok(())
}

/// Where a piece ends, and the least speed in it.
fn verify_piece(start: Sample, time: f64, ceiling: Ceiling) -> Result<(Sample, f64), Violation> {
    let end = start.after(time);
    let all = [end.position, end.speed, end.acceleration, start.jerk, time];
    if all.iter().any(|value| !value.is_finite()) {
        return Err(Violation::NotFinite);
    }
    if time < -ROUNDING {
        return Err(Violation::Backwards { time });
    }
    if over(start.jerk, ceiling.jerk) {
        return Err(Violation::Jerk { found: start.jerk, limit: ceiling.jerk });
    }
    if over(end.acceleration, ceiling.acceleration) {
        return Err(Violation::Acceleration { found: end.acceleration, limit: ceiling.acceleration });
    }
    let turning = -start.acceleration / start.jerk;
    let between = if turning > 0.0 && turning < time { start.after(turning).speed } else { end.speed };
    for speed in [end.speed, between] {
        if over(speed, ceiling.speed) {
            return Err(Violation::Speed { found: speed, limit: ceiling.speed });
        }
    }
    Ok((end, end.speed.min(between)))
}

/// Whether a curve's pieces meet, whether it is at rest at both ends, and whether it stays within the ceiling.
pub fn verify_curve(curve: &Curve, ceiling: Ceiling) -> Result<(), Violation> {
    let knots = curve.knots();
    for end in [knots[0], knots[knots.len() - 1]] {
        let Sample { position, speed, acceleration, .. } = end.state;
        if speed != 0.0 || acceleration != 0.0 {
            return Err(Violation::End { position, speed });
        }
    }
    let most = |value: fn(&Sample) -> f64| knots.iter().map(|knot| value(&knot.state).abs()).fold(0.0, f64::max);
    let scales = [most(|state| state.position), most(|state| state.speed), most(|state| state.acceleration)];
    for pair in knots.windows(2) {
        let (reached, _) = verify_piece(pair[0].state, pair[1].time - pair[0].time, ceiling)?;
        let next = pair[1].state;
        let gaps = [
            reached.position - next.position,
            reached.speed - next.speed,
            reached.acceleration - next.acceleration,
        ];
        for (gap, scale) in gaps.into_iter().zip(scales) {
            // What rounding leaves, after hundreds of pieces.
            if gap.abs() > ROUNDING * scale {
                return Err(Violation::Jump { time: pair[1].time, gap });
            }
        }
    }
    Ok(())
}

/// Whether a ramp ends at its speed without acceleration, within the limits; an acceleration that it was given
/// above the limit may only fall.
pub fn verify_ramp(ramp: &Ramp, limit: f64, jerk: f64) -> Result<(), Violation> {
    let start = ramp.at(0.0);
    let allowed = limit.max(start.acceleration.abs());
    let mut state = start;
    let mut from = 0.0;
    for time in ramp.times() {
        if !time.is_finite() || time < 0.0 {
            return Err(Violation::Backwards { time });
        }
        let piece = ramp.at(from + time / 2.0).jerk;
        if time > 0.0 && over(piece, jerk) {
            return Err(Violation::Jerk { found: piece, limit: jerk });
        }
        state = Sample { jerk: piece, ..state }.after(time);
        if over(state.acceleration, allowed) {
            return Err(Violation::Acceleration { found: state.acceleration, limit: allowed });
        }
        from += time;
    }
    let scale = 1.0 + start.speed.abs() + ramp.to_speed().abs();
    if (state.speed - ramp.to_speed()).abs() > 1e-7 * scale || state.acceleration.abs() > 1e-7 * (1.0 + allowed) {
        return Err(Violation::End { position: state.position, speed: state.speed });
    }
    Ok(())
}

/// Whether a passage begins at `from`, ends at `to` (or, without one, at rest), and keeps the bounds; what lies outside
/// them as it begins may only come nearer, and pass no more than it is bound to.
pub fn verify_passage(passage: &Passage, from: State, to: Option<State>, bounds: &Bounds) -> Result<(), Violation> {
    let size = Size::of(passage, from)?;
    let mut acceleration = bounds.acceleration().with(from.acceleration);
    let mut speed = bounds.speed().with(from.speed).with(settles_at(from, bounds));
    let mut now = from;
    let mut at = 0.0;
    for (begin, time) in passage.pieces() {
        if let Some(gap) = size.gap(now, State::of(begin)) {
            return Err(Violation::Jump { time: at, gap });
        }
        if time < 0.0 {
            return Err(Violation::Backwards { time });
        }
        now = verify_stretch(begin, time, [speed, acceleration, bounds.jerk()], &size)?;
        at += time;
        // What has come within stays there.
        acceleration = shrunk(acceleration, bounds.acceleration(), Range::of(now.acceleration, now.acceleration));
        speed = shrunk(speed, bounds.speed(), Range::of(now.speed, settles_at(now, bounds)));
    }
    let to = to.unwrap_or(State { position: now.position, ..State::default() });
    if size.gap(now, State { acceleration: now.acceleration, ..to }).is_some() {
        return Err(Violation::End { position: now.position, speed: now.speed });
    }
    match size.gap(now, to) {
        Some(_) => Err(Violation::EndAcceleration { found: now.acceleration, wanted: to.acceleration }),
        None => Ok(()),
    }
}

/// Where a piece of a passage ends, which keeps these limits on speed, acceleration and jerk.
fn verify_stretch(begin: Sample, time: f64, limits: [Range; 3], size: &Size) -> Result<State, Violation> {
    let [speed, acceleration, jerk] = limits;
    if time > 0.0 {
        within(begin.jerk, jerk, 0.0).map_err(|limit| Violation::Jerk { found: begin.jerk, limit })?;
    }
    let end = begin.after(time);
    within(end.acceleration, acceleration, size.pull)
        .map_err(|limit| Violation::Acceleration { found: end.acceleration, limit })?;
    let turning = -begin.acceleration / begin.jerk;
    let between = if turning > 0.0 && turning < time { begin.after(turning).speed } else { end.speed };
    for found in [between, end.speed] {
        within(found, speed, size.haste).map_err(|limit| Violation::Speed { found, limit })?;
    }
    Ok(State::of(end))
}

/// How much there is of position, speed and acceleration on the whole way, without regard to signs: rounding is a share of
/// that.
struct Size {
    way: f64,
    haste: f64,
    pull: f64,
}

impl Size {
    fn of(passage: &Passage, from: State) -> Result<Size, Violation> {
        let mut size = Size { way: 0.0, haste: from.speed.abs(), pull: from.acceleration.abs() };
        let mut farthest = from.position.abs();
        for (begin, time) in passage.pieces() {
            let pull = begin.acceleration.abs() + begin.jerk.abs() * time.abs();
            size.pull += begin.jerk.abs() * time.abs();
            size.haste += pull * time.abs();
            size.way += (begin.speed.abs() + pull * time.abs()) * time.abs();
            farthest = farthest.max(begin.position.abs());
        }
        size.way += farthest;
        let all = [size.way, size.haste, size.pull];
        if all.iter().all(|value| value.is_finite()) { Ok(size) } else { Err(Violation::NotFinite) }
    }

    /// How far apart two states are, if they are.
    fn gap(&self, a: State, b: State) -> Option<f64> {
        let gaps = [
            (a.position - b.position, self.way),
            (a.speed - b.speed, self.haste),
            (a.acceleration - b.acceleration, self.pull),
        ];
        gaps.into_iter().find(|(gap, size)| gap.abs() > ROUNDING * size).map(|(gap, _)| gap)
    }
}

/// The speed, were the acceleration taken away at once.
fn settles_at(state: State, bounds: &Bounds) -> f64 {
    let jerk = if state.acceleration > 0.0 { bounds.jerk().low } else { bounds.jerk().high };
    state.speed - state.acceleration * state.acceleration / (2.0 * jerk)
}

/// What is allowed of a value that has come to `now`: the bounds, and what of `allowed` reaches out to it.
fn shrunk(allowed: Range, bounds: Range, now: Range) -> Range {
    Range { low: bounds.low.min(allowed.low.max(now.low)), high: bounds.high.max(allowed.high.min(now.high)) }
}

/// The limit that is broken, if one is.
fn within(value: f64, allowed: Range, size: f64) -> Result<(), f64> {
    if value > allowed.high + ROUNDING * (allowed.high.abs() + size) {
        Err(allowed.high)
    } else if value < allowed.low - ROUNDING * (allowed.low.abs() + size) {
        Err(allowed.low)
    } else {
        Ok(())
    }
}

fn over(value: f64, limit: f64) -> bool {
    value.abs() > limit * (1.0 + ROUNDING)
}
