//! A simulated rig (machine), with the ways in which a real one is not ideal and the ways in which it fails.
//!
//! ```text
//! setpoint ─ link ─ interpolation ─ servo ─ play ─ axis ─ encoder ─ link ─ report
//!            4 ms     one tick       lag  backlash  slip   step, noise 4 ms
//! ```
//!
//! **The machine.** A drive interpolates linearly between the setpoints that reach it and follows them as a
//! critically damped second-order system whose two poles lie at `lag / 2`, so that at constant speed it trails by
//! exactly `lag` ([`servo`]). Between drive and axis lies a dead zone, `backlash` wide. The encoder sits on the
//! axis; it counts whole steps, and normal noise is added before the counting. Commands and reports each travel
//! for [`LINK_DELAY`], rounded up to whole ticks, in order. When power comes on the drive takes
//! itself to be where the encoder reads; from then on it counts its own way. A rig without power is held by its brakes; power
//! taken at speed leaves it to the brakes, which slow it at twice the axis's stopping acceleration.
//!
//! **The drive's own watchdog.** With power on and no heartbeat for the rig's `link_timeout`, or on a setpoint that
//! is no number or beyond the drive's range, the drive brakes all its axes to rest at their stopping
//! acceleration, takes the power off and reports a fault. The fault goes and power can come again only after the
//! rig is at rest and has heard a command to be without power.
//!
//! **Faults on request**, through [`SimFaults`]: a link lost both ways, a rig that no longer reports, reports that
//! come late, a drive that reports a fault of its own, a rig that keeps its speed whatever it is told; an axis that is
//! jammed, that runs the wrong way from where it stands, whose motor's cable is crossed with another's, that slips steadily against its drive, that meets a hard end
//! inside its surveyed travel; a brake that lets its axis slide; an encoder that jumps, or that reads no number at all.
//!
//! **Not simulated**: load, torque and its limits, heat, elastic parts, end stops, and anything that one rig does
//! to another. A simulated rig is an easier partner than a real one.

mod encoder;
mod fault;
mod link;
mod noise;
mod servo;

pub use fault::SimFaults;

use crate::engine::{AxisReport, RigCommand, RigReport, Setpoint};
use crate::rig::Driver;
use crate::show::{AxisId, Nanos, RigId, Show, SimSettings};
use encoder::Encoder;
use link::Link;
use servo::Servo;

/// Each way.
pub const LINK_DELAY: Nanos = Nanos(4_000_000);

/// A setpoint beyond this, in the axis's unit, is out of the drive's range.
const RANGE: f64 = 1e9;

/// The brakes slow an axis at its stopping acceleration times this.
const BRAKE: f64 = 2.0;

/// Reports that are on their way at once at most, beyond those of the plain delay. With more the link loses them.
const LATE_MAX: Nanos = Nanos(1_000_000_000);

/// After a longer silence of the loop the machine is at rest anyway, and its time is not gone through step by step.
const CATCH_UP_MAX: Nanos = Nanos(10_000_000_000);

/// ```text
/// off ── enable ── on ── watchdog, bad setpoint ── braking
///  ↑                │                                 │
///  └─── disable ────┴──────────── at rest ────────────┘
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Power {
    /// The brakes hold, or bring to rest.
    Off,
    On,
    /// The drive brakes by itself.
    Braking,
}

pub struct SimRig {
    rig: RigId,
    tick: Nanos,
    link_timeout: Nanos,
    axes: Vec<SimAxis>,
    faults: SimFaults,
    down: Link<Command>,
    up: Link<Report>,
    delay: Nanos,
    /// How far the machine has been taken; `None` before the first read.
    time: Option<Nanos>,
    command: RigCommand,
    heartbeat: Option<Nanos>,
    power: Power,
    /// The rig's own fault, until it has been told to be without power.
    fault: bool,
    heard: Option<Heard>,
}

/// The newest report's own part, as it arrived.
#[derive(Clone, Copy)]
struct Heard {
    stamp: Nanos,
    enabled: bool,
    fault: bool,
}

struct SimAxis {
    id: AxisId,
    servo: Servo,
    encoder: Encoder,
    /// By how much its axis's motor has turned more than its own drive: with crossed cables another drive turns it.
    astray: f64,
    /// In this step by its drive.
    moved: f64,
    target: f64,
    /// By how much its encoder read more than its drive when power came on.
    bias: f64,
    /// As surveyed.
    travel: [f64; 2],
    /// Per s².
    braking: f64,
}

struct Command {
    command: RigCommand,
    positions: Box<[f64]>,
}

struct Report {
    heard: Heard,
    axes: Box<[AxisReport]>,
}

impl SimRig {
    /// At the axes' start positions, without power. `faults` as [`SimFaults::none`] made it for this show.
    pub fn new(show: &Show, rig: RigId, settings: &SimSettings, seed: u64, faults: SimFaults) -> SimRig {
        let tick = show.settings.tick;
        let axes: Vec<SimAxis> =
            show.rig(rig).axis_ids().map(|id| SimAxis::new(show, id, settings, tick, seed)).collect();
        let delay = Nanos((LINK_DELAY.0 + tick.0 - 1) / tick.0 * tick.0);
        let slots = |longest: Nanos| usize::try_from(longest.0 / tick.0).unwrap_or(0) + 2;
        let silent = RigCommand::default();
        let at_start = Heard { stamp: Nanos::ZERO, enabled: false, fault: false };
        let unread = AxisReport { position: 0.0, speed: 0.0 };
        SimRig {
            rig,
            tick,
            link_timeout: show.rig(rig).link_timeout,
            faults,
            down: Link::new(slots(delay), || Command { command: silent, positions: vec![0.0; axes.len()].into() }),
            up: Link::new(slots(delay.saturating_add(LATE_MAX)), || Report {
                heard: at_start,
                axes: vec![unread; axes.len()].into(),
            }),
            axes,
            delay,
            time: None,
            command: silent,
            heartbeat: None,
            power: Power::Off,
            fault: false,
            heard: None,
        }
    }

    /// Takes the machine up to `now` in steps of one tick.
    fn advance(&mut self, now: Nanos) {
        let Some(mut time) = self.time else {
            self.time = Some(now);
            self.report(now);
            return;
        };
        time = time.max(Nanos(now.0.saturating_sub(CATCH_UP_MAX.0)));
        while time.0 + self.tick.0 <= now.0 {
            self.listen(time);
            self.switch(time);
            self.step();
            time = time.saturating_add(self.tick);
            self.report(time);
        }
        self.time = Some(time);
    }

    /// Takes in the commands that have arrived.
    fn listen(&mut self, time: Nanos) {
        while let Some(message) = self.down.receive(time) {
            self.command = message.command;
            if message.command.heartbeat {
                self.heartbeat = Some(time);
            }
            for (axis, &position) in self.axes.iter_mut().zip(&message.positions) {
                axis.target = position;
            }
        }
    }

    /// Power, watchdog and the rig's own fault.
    fn switch(&mut self, time: Nanos) {
        let alive = self.heartbeat.is_some_and(|last| time.0 - last.0 <= self.link_timeout.0);
        match self.power {
            Power::Off if self.fault => {
                self.fault = self.command.enable || !self.at_rest() || self.faults.rig(self.rig).drive();
            }
            Power::Off if self.faults.rig(self.rig).drive() => self.fault = true,
            Power::Off => {
                if self.command.enable && alive && self.axes.iter().all(SimAxis::in_range) {
                    self.power = Power::On;
                    self.axes.iter_mut().for_each(SimAxis::take_hold);
                }
            }
            Power::On | Power::Braking if !self.command.enable => self.power = Power::Off,
            Power::On => {
                let faulty = self.faults.rig(self.rig).drive();
                if faulty || !alive || !self.axes.iter().all(SimAxis::in_range) {
                    self.power = Power::Braking;
                    self.fault = true;
                }
            }
            Power::Braking => {
                if self.at_rest() {
                    self.power = Power::Off;
                }
            }
        }
    }

    fn at_rest(&self) -> bool {
        self.axes.iter().all(|axis| axis.servo.at_rest())
    }

    fn step(&mut self) {
        let deaf = self.faults.rig(self.rig).ignores_stop();
        for axis in &mut self.axes {
            let faults = self.faults.axis(axis.id);
            let before = axis.servo.position();
            if faults.stuck() {
                axis.servo.jam();
            } else {
                match self.power {
                    Power::Off => {
                        axis.servo.brake(BRAKE * axis.braking);
                        axis.servo.slide(faults.brake_slip() * self.tick.seconds());
                    }
                    Power::On if deaf => axis.servo.run_on(),
                    Power::On => axis.servo.follow(axis.target - axis.bias),
                    Power::Braking => axis.servo.brake(axis.braking),
                }
            }
            if faults.wrong_end() > 0.0 {
                axis.servo.stay_within(axis.hard_ends(faults.wrong_end()), before);
            }
            axis.moved = axis.servo.position() - before;
        }
        for index in 0..self.axes.len() {
            let (turned_by, faults) = (self.turned_by(index), self.faults.axis(self.axes[index].id));
            let SimAxis { moved, ref servo, .. } = self.axes[turned_by];
            let speed = servo.speed();
            let axis = &mut self.axes[index];
            if turned_by != index {
                axis.astray += moved - axis.moved;
            }
            axis.encoder.carry(axis.servo.position() + axis.astray, speed, faults, self.tick.seconds());
        }
    }

    /// Whose drive turns the motor of an axis.
    fn turned_by(&self, index: usize) -> usize {
        let (count, crossed) = (self.axes.len(), |index: usize| self.faults.axis(self.axes[index].id).crossed());
        let before = (index + count - 1) % count;
        if crossed(index) {
            (index + 1) % count
        } else if crossed(before) {
            before
        } else {
            index
        }
    }

    /// Measures, and sends what was measured.
    fn report(&mut self, time: Nanos) {
        let faults = self.faults.rig(self.rig);
        let due = time.saturating_add(self.delay).saturating_add(faults.lateness());
        if faults.link_lost() || faults.mute() {
            return;
        }
        let Some(slot) = self.up.send(due) else { return };
        let enabled = self.power != Power::Off;
        slot.heard = Heard { stamp: time, enabled, fault: self.fault };
        for (axis, report) in self.axes.iter_mut().zip(&mut slot.axes) {
            *report = axis.encoder.measure(self.faults.axis(axis.id));
        }
    }
}

impl Driver for SimRig {
    fn simulated(&self) -> bool {
        true
    }

    fn read(&mut self, now: Nanos, axes: &mut [AxisReport]) -> RigReport {
        self.advance(now);
        while let Some(report) = self.up.receive(now) {
            self.heard = Some(report.heard);
            axes.copy_from_slice(&report.axes);
        }
        let simulated = self.simulated();
        match self.heard {
            Some(Heard { stamp, enabled, fault }) => {
                RigReport { age: Nanos(now.0 - stamp.0), enabled, fault, simulated }
            }
            None => RigReport { age: Nanos::NEVER, enabled: false, fault: false, simulated },
        }
    }

    fn write(&mut self, now: Nanos, command: RigCommand, setpoints: &[Setpoint]) {
        if self.faults.rig(self.rig).link_lost() {
            return;
        }
        let Some(slot) = self.down.send(now.saturating_add(self.delay)) else { return };
        slot.command = command;
        for (position, setpoint) in slot.positions.iter_mut().zip(setpoints) {
            *position = setpoint.position;
        }
    }
}

impl SimAxis {
    fn new(show: &Show, id: AxisId, settings: &SimSettings, tick: Nanos, seed: u64) -> SimAxis {
        let axis = show.axis(id);
        SimAxis {
            id,
            servo: Servo::new(axis.start, settings.lag, tick),
            encoder: Encoder::new(axis.start, axis.unit, settings, seed, id),
            astray: 0.0,
            moved: 0.0,
            target: axis.start,
            bias: 0.0,
            travel: axis.travel,
            braking: axis.stop.acceleration,
        }
    }

    /// Power comes on: what the encoder reads now is where the drive takes itself to be.
    fn take_hold(&mut self) {
        self.servo.take_hold();
        self.bias = self.encoder.reading() - self.servo.position();
    }

    /// So far inside the travel, but never past its middle.
    fn hard_ends(&self, inside: f64) -> [f64; 2] {
        let [low, high] = self.travel;
        let inside = inside.min((high - low) / 2.0);
        [low + inside, high - inside]
    }

    fn in_range(&self) -> bool {
        // False also for a target that is not a number.
        self.target.abs() <= RANGE
    }
}

#[cfg(test)]
mod tests;
