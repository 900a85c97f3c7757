//! One axis in hand: what its stick and its dial say, and whether that counts.

use arrayvec::ArrayVec;

use super::NoStick;
use super::fence::Fence;
use crate::engine::request::ClientId;
use crate::motion::{Bounds, Dial, Follower, Range};
use crate::proof::Near;
use crate::show::{Axis, InterlockId, Nanos};

/// A stick that has said nothing for longer is at zero.
const SILENCE: Nanos = Nanos(150_000_000);
/// What was not believed is told of so many clients and reasons, until the rig is taken anew.
const TOLD_MAX: usize = 4;

/// What a hand asks of its axis now.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Wish {
    Rest,
    /// A share of full speed, -1 to 1 and not 0.
    Speed(f64),
    /// To rest at a position, in the axis's own unit.
    Place(f64),
}

#[derive(Clone, Debug)]
pub struct Lever {
    /// `None` for limits that nothing can be driven within.
    pub drive: Option<Drive>,
    /// As shaped, -1 to 1.
    push: f64,
    /// The tick in which its stick last spoke.
    heard: u64,
    /// In ticks.
    silence: u64,
    /// Its stick counts only after it has been at zero.
    pub waits: bool,
    dial: Dial,
    /// The button of its trial is held.
    run: bool,
    /// The tick in which that button last spoke.
    run_heard: u64,
    /// Where its trial has it go in this tick, in its own unit.
    pub goal: Option<f64>,
    /// Where it has to be for what its focus follows; then its dial is an offset.
    pub followed: Option<f64>,
    /// What forbade the last wish, until the stick has been at zero; or what ends its way.
    pub barred: Option<InterlockId>,
    /// How far interlocks let it go where it is asked to.
    pub fence: Fence,
    /// It is led out of where an interlock did not permit, slowly, until the stick has been at zero.
    pub outward: bool,
    /// What is in its way, as long as it is asked to go there.
    pub near: Option<Near>,
    /// What is asked of it in this tick.
    pub wish: Wish,
    /// No more room is to be had ahead of it.
    pub blocked: bool,
    /// How much more is tried at most, in its own unit, and from which tick on.
    pub step: f64,
    pub retry: u64,
    told: ArrayVec<(ClientId, NoStick), TOLD_MAX>,
}

/// How an axis in hand moves.
#[derive(Clone, Copy, Debug)]
pub struct Drive {
    pub follower: Follower,
    /// The limits of a stop.
    pub stopping: Bounds,
}

impl Lever {
    /// `glide` is the show's factor on the axis's own.
    pub fn new(axis: &Axis, glide: f64, tick: Nanos) -> Lever {
        let follower = Follower::new(axis.run, axis.glide * glide, tick.seconds());
        let drive = follower.and_then(|follower| Ok(Drive { follower, stopping: Bounds::both_ways(axis.stop)? }));
        Lever {
            drive: drive.ok(),
            push: 0.0,
            heard: 0,
            silence: (SILENCE.0 / tick.0.max(1)) as u64,
            waits: true,
            dial: Dial::default(),
            run: false,
            run_heard: 0,
            goal: None,
            followed: None,
            barred: None,
            fence: Fence::NONE,
            outward: false,
            near: None,
            wish: Wish::Rest,
            blocked: false,
            step: f64::INFINITY,
            retry: 0,
            told: ArrayVec::new(),
        }
    }

    /// In other hands: nothing is known of stick and dial.
    pub fn renew(&mut self) {
        self.let_go();
        (self.push, self.run, self.goal, self.followed) = (0.0, false, None, None);
        self.clear();
        self.told.clear();
    }

    /// Whatever was in its way or forbade it to go is seen anew.
    fn clear(&mut self) {
        (self.barred, self.fence, self.outward) = (None, Fence::NONE, false);
        (self.near, self.blocked, self.step, self.retry) = (None, false, f64::INFINITY, 0);
    }

    /// Something else than its stick or dial has it come to rest.
    pub fn let_go(&mut self) {
        self.waits = true;
        self.dial.let_go();
    }

    /// The stick is here, as shaped. From one side to the other it has been at zero.
    pub fn push(&mut self, shaped: f64, tick: u64) {
        if shaped == 0.0 || shaped * self.push < 0.0 {
            self.waits = false;
            self.clear();
        }
        if shaped != 0.0 {
            self.dial.let_go();
        }
        (self.push, self.heard) = (shaped, tick);
    }

    /// The dial is here, 0 to 1, while the axis stands at `position`. A pushed stick goes before it.
    pub fn turn(&mut self, value: f64, position: f64, travel: Range) {
        if self.push == 0.0 && !self.dial.is_picked_up() && self.dial.turn(value, position, travel) {
            self.clear();
        } else if self.push == 0.0 {
            self.dial.turn(value, position, travel);
        }
    }

    /// Its dial drives it no more, until it has been picked up anew.
    pub fn let_dial_go(&mut self) {
        self.dial.let_go();
    }

    /// The button of its trial is held, or not. As a stick it counts only after it was not.
    pub fn run(&mut self, held: bool, tick: u64) {
        if !held {
            self.waits = false;
            self.clear();
        }
        (self.run, self.run_heard) = (held, tick);
    }

    /// Whether the button of its trial is held, and counts.
    pub fn runs(&self) -> bool {
        self.run && !self.waits
    }

    /// A stick or a button that is silent is at zero, and does not count before it has said so.
    pub fn miss(&mut self, tick: u64) {
        if self.run && tick.saturating_sub(self.run_heard) > self.silence {
            (self.run, self.waits) = (false, true);
        }
        if self.push != 0.0 && tick.saturating_sub(self.heard) > self.silence {
            (self.push, self.waits) = (0.0, true);
        }
    }

    pub fn is_pushed(&self) -> bool {
        self.push != 0.0 && !self.waits
    }

    pub fn asks(&self, travel: Range) -> Wish {
        if self.push != 0.0 {
            return if self.waits { Wish::Rest } else { Wish::Speed(self.push) };
        }
        if let Some(goal) = self.goal.filter(|_| self.runs()) {
            return Wish::Place(goal);
        }
        self.followed.or_else(|| self.dial.target(travel)).map_or(Wish::Rest, Wish::Place)
    }

    /// Whether this is told for the first time.
    pub fn tells(&mut self, client: ClientId, why: NoStick) -> bool {
        !self.told.contains(&(client, why)) && self.told.try_push((client, why)).is_ok()
    }
}
