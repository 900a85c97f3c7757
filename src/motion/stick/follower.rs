//! How an axis follows a hand, tick by tick.
//!
//! Two promises make it safe to follow whatever a hand does. After every tick the axis can still be braked to rest, under its
//! running limits, inside the room that it was given: a plan that breaks this is not taken, and the brake, which keeps it (a
//! rest of a brake is a brake), always is an answer. And an axis never turns round without standing for an instant: whichever
//! limits brake it, it comes to rest ahead of where it is, and sooner under greater ones.
//!
//! Towards a speed it goes by the quickest change of speed; where that would not end in the room, by the quickest passage
//! that comes to rest at its end (the rest of such a passage is again the quickest, so that planning anew in each tick
//! changes nothing).

use super::brake::{Step, brake, coast};
use crate::motion::passage::{Bounds, Impossible, Passage, State, Verified};
use crate::motion::profile::Sample;
use crate::motion::rate::Range;
use crate::show::Limits;

/// An axis rests this share of its room short of the room's end, and is let through half of that: more than rounding takes.
const MARGIN: f64 = 2e-10;
/// Rounding of a position, as a share of it.
const ROUNDING: f64 = 32.0 * f64::EPSILON;
/// Of a speed, as a share of the greatest.
const SLOW: f64 = 1e-9;

/// Drives one axis in hand.
#[derive(Clone, Copy, Debug)]
pub struct Follower {
    speed: f64,
    running: Bounds,
    /// What a hand feels: the running limits, or softer ones.
    gliding: Bounds,
    period: f64,
}

impl Follower {
    /// For an axis with these running limits, its share in the speed; `glide` in s, `period` of the tick in s.
    ///
    /// A glide of g lets the axis change its speed within acceleration 2 v / g and jerk 4 v / g², v its full speed: from rest
    /// to full speed in g, as smoothly as that can be done, or later where its own limits say so. A change of a part p of the
    /// full speed takes g √p.
    pub fn new(limits: Limits, glide: f64, period: f64) -> Result<Follower, Impossible> {
        let running = Bounds::both_ways(limits)?;
        let gliding = if glide > 0.0 {
            let change = 2.0 * limits.speed / glide;
            Bounds::both_ways(Limits {
                acceleration: limits.acceleration.min(change),
                jerk: limits.jerk.min(2.0 * change / glide),
                ..limits
            })?
        } else {
            running
        };
        Ok(Follower { speed: limits.speed, running, gliding, period })
    }

    /// The speed that a shaped stick, -1 to 1, asks for under a master, 0 to 1.
    pub fn speed_for(&self, shaped: f64, master: f64) -> f64 {
        shaped * (self.speed * master)
    }

    /// The running limits.
    pub fn bounds(&self) -> &Bounds {
        &self.running
    }

    /// The limits within which a hand is followed: the running ones, or those of a glide.
    pub fn gliding(&self) -> &Bounds {
        &self.gliding
    }

    /// One tick from a state towards a speed, per s. `room` is where the axis may be: its travel, or less. From a state from
    /// which it cannot come to rest in there the axis brakes; one that stands outside is let in, and no further out. Only
    /// numbers that are none are refused.
    pub fn step(&self, from: State, speed: f64, room: Range) -> Result<Step, Impossible> {
        if !speed.is_finite() {
            return Err(Impossible::NoState { found: speed });
        }
        let room = Room::new(room, from.position);
        let speed = room.onward(from, speed.clamp(-self.speed, self.speed));
        if from == State::at_rest(from.position) && speed == 0.0 {
            return self.taken(from, from.with_jerk(0.0));
        }
        for bounds in [&self.gliding, &self.running] {
            if self.is_safe(from, bounds, room.outer) {
                let next = self.planned(from, speed, bounds, &room)?;
                return self.taken(from, next);
            }
        }
        brake(from, &self.running, self.period)
    }

    /// One tick from a state towards rest at a position, at no more than a speed, above zero, per s. As [`Follower::step`].
    pub fn approach(&self, from: State, target: f64, speed: f64, room: Range) -> Result<Step, Impossible> {
        if !target.is_finite() {
            return Err(Impossible::NoState { found: target });
        }
        let near = Room::new(room, from.position).margin;
        let way = target - from.position;
        if way.abs() <= near {
            return self.step(from, 0.0, room);
        }
        // Where the way ends is the end of the room; an axis that would pass it brakes, and comes back from there.
        let (speed, room) = if way > 0.0 {
            (speed, Range { high: room.high.min(target + near), ..room })
        } else {
            (-speed, Range { low: room.low.max(target - near), ..room })
        };
        self.step(from, speed, room)
    }

    /// The brake under the running limits.
    pub fn brake(&self, from: State) -> Result<Step, Impossible> {
        brake(from, &self.running, self.period)
    }

    /// The next tick from a state that is safe under these bounds, to one that is.
    fn planned(&self, from: State, speed: f64, bounds: &Bounds, room: &Room) -> Result<Sample, Impossible> {
        let change = match Passage::verified_to_speed(from, speed, bounds)? {
            Verified::Arrives(change) => change.at(self.period),
            Verified::Stops(stop, _) => return Ok(stop.at(self.period)),
        };
        if speed == 0.0 || self.is_safe(State::of(change), bounds, room.inner) {
            return Ok(change);
        }
        let most = speed.abs().max(from.speed.abs()).max(bounds.coasts_at(from.speed, from.acceleration).abs());
        let slower = Bounds::new(Range { low: -most, high: most }, bounds.acceleration(), bounds.jerk());
        let end = State::at_rest(if speed > 0.0 { room.inner.high } else { room.inner.low });
        if let Ok(Verified::Arrives(passage)) = slower.and_then(|slower| Passage::verified(from, end, &slower)) {
            let landing = passage.at(self.period);
            if self.is_safe(State::of(landing), bounds, room.outer) {
                return Ok(landing);
            }
        }
        Ok(Passage::stop(from, bounds)?.at(self.period))
    }

    /// Whether an axis that brakes from here under these bounds comes to rest in the room, does not turn round before, and does
    /// not pass its greatest speed.
    fn is_safe(&self, state: State, bounds: &Bounds, room: Range) -> bool {
        let State { speed, acceleration, .. } = state;
        let settles = bounds.coasts_at(speed, acceleration);
        let slow = SLOW * self.speed;
        let turns = speed * settles < 0.0 && settles.abs() > slow;
        let fast = settles.abs() > self.speed + slow || speed.abs() > self.speed + slow;
        let inside = |coast: Range| room.low <= coast.low && coast.high <= room.high;
        !turns && !fast && coast(state, bounds).is_ok_and(inside)
    }

    fn taken(&self, from: State, next: Sample) -> Result<Step, Impossible> {
        Ok(Step { setpoint: next, passes: coast(State::of(next), &self.running)?.with(from.position) })
    }
}

/// Where an axis may be, and how near to its ends it comes. Within both ranges is also where it stands now.
struct Room {
    /// Where it goes to rest.
    inner: Range,
    /// Where rounding may take it, so that one that is about to rest at the end is not taken for lost.
    outer: Range,
    /// From the ends of the room to the inner range.
    margin: f64,
}

impl Room {
    fn new(room: Range, position: f64) -> Room {
        let margin = MARGIN * (room.high - room.low) + ROUNDING * room.most();
        let inset = |by: f64| Range { low: room.low + by, high: room.high - by };
        Room { inner: inset(margin).with(position), outer: inset(margin / 2.0).with(position), margin }
    }

    /// What of a wanted speed the axis may go for now: none that points out of the room, and none but zero against its motion.
    fn onward(&self, from: State, speed: f64) -> f64 {
        // An axis that rests at the end but for rounding is not sent after the rest of it.
        let near = self.margin / 4.0;
        let out = if speed > 0.0 {
            from.position >= self.inner.high - near
        } else {
            from.position <= self.inner.low + near
        };
        let way = if from.speed == 0.0 { from.acceleration } else { from.speed };
        if out || speed * way < 0.0 { 0.0 } else { speed }
    }
}
