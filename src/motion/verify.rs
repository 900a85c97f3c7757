//! The exact verifier: every plan is integrated again, piece by piece, before it is used.
//!
//! It knows nothing of how a plan was found. Over a piece of constant jerk the acceleration is linear, so that its
//! extremes lie at the ends; the speed's lie at the ends or where the acceleration passes zero.

use super::profile::{Ceiling, PIECES, Profile, Sample};
use super::ramp::Ramp;

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
        state = verify_piece(Sample { jerk: sign * jerk, ..state }, time, ceiling)?;
    }
    let speed_scale = profile.peaks().speed;
    if (state.position - 1.0).abs() > ROUNDING || state.speed.abs() > ROUNDING * speed_scale {
        return Err(Violation::End { position: state.position, speed: state.speed });
    }
    Ok(())
}

fn verify_piece(start: Sample, time: f64, ceiling: Ceiling) -> Result<Sample, Violation> {
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
        if speed < -1e-9 * (1.0 + start.speed.abs()) {
            return Err(Violation::Reverses { speed });
        }
    }
    Ok(end)
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

fn over(value: f64, limit: f64) -> bool {
    value.abs() > limit * (1.0 + ROUNDING)
}
