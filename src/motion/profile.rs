//! The jerk-limited profile from 0 to 1, at rest at both ends.
//!
//! Time-optimal double-S: Biagiotti and Melchiorri, *Trajectory Planning for Automatic Machines and Robots*,
//! 2008, section 3.4, for equal limits both ways. It is symmetric in time, so that only its rising half is kept:
//!
//! ```text
//! speed        ____________
//!            /              \            tj  jerk pulse
//!          /                  \          ta  acceleration, two pulses and what lies between
//!    ____/                      \____    tv  constant speed
//!        |tj|  |tj|
//!        |   ta   |    tv    |   ta   |
//! ```

use crate::show::Limits;

/// Limits on the profile itself, per s, s², s³; all above zero. Infinity is no limit, but not for all three.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Ceiling {
    pub speed: f64,
    pub acceleration: f64,
    pub jerk: f64,
}

impl Ceiling {
    pub const NONE: Ceiling = Ceiling { speed: f64::INFINITY, acceleration: f64::INFINITY, jerk: f64::INFINITY };

    /// The limits of an axis in its own unit.
    pub fn of(limits: Limits) -> Ceiling {
        Ceiling { speed: limits.speed, acceleration: limits.acceleration, jerk: limits.jerk }
    }

    /// The limits of an axis in units of its way.
    pub fn over(limits: Limits, way: f64) -> Ceiling {
        let way = way.abs();
        Ceiling { speed: limits.speed / way, acceleration: limits.acceleration / way, jerk: limits.jerk / way }
    }

    /// Each of them so many times.
    pub fn times(self, factor: f64) -> Ceiling {
        Ceiling { speed: self.speed * factor, acceleration: self.acceleration * factor, jerk: self.jerk * factor }
    }

    /// The least of two, limit by limit.
    pub fn least(self, other: Ceiling) -> Ceiling {
        Ceiling {
            speed: self.speed.min(other.speed),
            acceleration: self.acceleration.min(other.acceleration),
            jerk: self.jerk.min(other.jerk),
        }
    }
}

/// Position along the profile and its derivatives by time.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Sample {
    pub position: f64,
    pub speed: f64,
    pub acceleration: f64,
    pub jerk: f64,
}

impl Sample {
    /// Each of them so many times.
    pub fn times(self, factor: f64) -> Sample {
        Sample {
            position: self.position * factor,
            speed: self.speed * factor,
            acceleration: self.acceleration * factor,
            jerk: self.jerk * factor,
        }
    }

    /// Of two motions of one axis together.
    pub fn plus(self, other: Sample) -> Sample {
        Sample {
            position: self.position + other.position,
            speed: self.speed + other.speed,
            acceleration: self.acceleration + other.acceleration,
            jerk: self.jerk + other.jerk,
        }
    }

    /// After `time` of constant jerk.
    pub fn after(self, time: f64) -> Sample {
        let Sample { position, speed, acceleration, jerk } = self;
        Sample {
            position: position + time * (speed + time * (acceleration / 2.0 + time * jerk / 6.0)),
            speed: speed + time * (acceleration + time * jerk / 2.0),
            acceleration: acceleration + time * jerk,
            jerk,
        }
    }
}

/// From 0 to 1, at rest at both ends.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Profile {
    jerk_time: f64,
    rise_time: f64,
    cruise_time: f64,
    jerk: f64,
}

/// Pieces of constant jerk in a profile.
pub const PIECES: usize = 7;

impl Profile {
    /// A profile that is over at once.
    pub const NOTHING: Profile = Profile { jerk_time: 0.0, rise_time: 0.0, cruise_time: 0.0, jerk: 0.0 };

    /// The fastest within the ceiling.
    pub fn fastest(ceiling: Ceiling) -> Profile {
        let Ceiling { speed, acceleration, jerk } = ceiling;
        // The jerk pulse is cut short by whichever limit is met first: acceleration, speed, or half the way.
        let half_way = libm::cbrt(0.5 / jerk);
        let full_pulse = acceleration / jerk;
        let to_speed = (speed / jerk).sqrt();
        let jerk_time = half_way.min(full_pulse).min(to_speed);
        let peak_acceleration = jerk * jerk_time;
        let rise_time = if full_pulse > half_way.min(to_speed) {
            2.0 * jerk_time
        } else {
            // At full acceleration: up to speed, or until half the way is done.
            let to_speed = speed / peak_acceleration + jerk_time;
            let half_way = (jerk_time + (jerk_time * jerk_time + 4.0 / peak_acceleration).sqrt()) / 2.0;
            to_speed.min(half_way).max(2.0 * jerk_time)
        };
        let peak_speed = peak_acceleration * (rise_time - jerk_time);
        let cruise_time = (1.0 / peak_speed - rise_time).max(0.0);
        Profile::shaped(jerk_time, rise_time, cruise_time)
    }

    /// For a move that goes nowhere but lasts: a soft profile of that duration, s, above zero.
    pub fn idle(duration: f64) -> Profile {
        if duration <= 0.0 {
            return Profile::NOTHING;
        }
        Profile::shaped(duration / 4.0, duration / 2.0, 0.0)
    }

    /// By its times; the jerk follows from the way being 1.
    fn shaped(jerk_time: f64, rise_time: f64, cruise_time: f64) -> Profile {
        let jerk = 1.0 / (jerk_time * (rise_time - jerk_time) * (rise_time + cruise_time));
        Profile { jerk_time, rise_time, cruise_time, jerk }
    }

    /// The same way in `factor` times the time: speed, acceleration and jerk fall by its powers (section 3.4.5).
    pub fn stretched(self, factor: f64) -> Profile {
        if self == Profile::NOTHING {
            return self;
        }
        Profile::shaped(self.jerk_time * factor, self.rise_time * factor, self.cruise_time * factor)
    }

    /// s.
    pub fn duration(&self) -> f64 {
        2.0 * self.rise_time + self.cruise_time
    }

    /// Length of a jerk pulse, s.
    pub fn jerk_time(&self) -> f64 {
        self.jerk_time
    }

    /// Time to full speed, s.
    pub fn rise_time(&self) -> f64 {
        self.rise_time
    }

    /// Time at full speed, s.
    pub fn cruise_time(&self) -> f64 {
        self.cruise_time
    }

    /// The highest speed, acceleration and jerk that it reaches.
    pub fn peaks(&self) -> Ceiling {
        let acceleration = self.jerk * self.jerk_time;
        Ceiling { speed: acceleration * (self.rise_time - self.jerk_time), acceleration, jerk: self.jerk }
    }

    /// At `time` s from the start; at rest before it and after the end. At a change of jerk it tells the jerk
    /// that follows.
    pub fn at(&self, time: f64) -> Sample {
        if time <= 0.0 {
            return Sample { jerk: if time == 0.0 { self.jerk } else { 0.0 }, ..Sample::default() };
        }
        let left = self.duration() - time;
        if left <= 0.0 {
            return Sample { position: 1.0, ..Sample::default() };
        }
        if time < self.rise_time {
            return self.rise(time);
        }
        if left <= self.rise_time {
            // The fall is the rise, mirrored; a mirrored change of jerk tells the one before it.
            let rise = self.rise(left);
            return Sample {
                position: 1.0 - rise.position,
                speed: rise.speed,
                acceleration: -rise.acceleration,
                jerk: rise.jerk,
            };
        }
        let peak_speed = self.jerk * self.jerk_time * (self.rise_time - self.jerk_time);
        Sample {
            position: peak_speed * (time - self.rise_time / 2.0),
            speed: peak_speed,
            acceleration: 0.0,
            jerk: 0.0,
        }
    }

    fn rise(&self, time: f64) -> Sample {
        let pulse = Sample { jerk: self.jerk, ..Sample::default() };
        if time < self.jerk_time {
            return pulse.after(time);
        }
        let steady = Sample { jerk: 0.0, ..pulse.after(self.jerk_time) };
        let steady_time = self.rise_time - 2.0 * self.jerk_time;
        if time < self.jerk_time + steady_time {
            return steady.after(time - self.jerk_time);
        }
        // Counted back from full speed, so that the acceleration ends at exactly zero.
        let left = self.rise_time - time;
        let peak_speed = self.jerk * self.jerk_time * (self.rise_time - self.jerk_time);
        Sample {
            position: peak_speed * (self.rise_time / 2.0 - left) + self.jerk * left * left * left / 6.0,
            speed: peak_speed - self.jerk * left * left / 2.0,
            acceleration: self.jerk * left,
            jerk: -self.jerk,
        }
    }

    /// The lengths of its pieces of constant jerk, s, in order: rise, cruise, fall.
    pub fn pieces(&self) -> [f64; PIECES] {
        let steady = self.rise_time - 2.0 * self.jerk_time;
        [self.jerk_time, steady, self.jerk_time, self.cruise_time, self.jerk_time, steady, self.jerk_time]
    }

    /// The times at which the jerk changes, in order, the end last.
    pub fn breaks(&self) -> [f64; PIECES] {
        let mut time = 0.0;
        self.pieces().map(|piece| {
            time += piece;
            time
        })
    }
}
