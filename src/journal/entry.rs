//! One tick of a run, as it is kept and as it is read back.

use crate::engine::{Answer, AxisReport, Event, Request, RigReport, StickSample, StopCalls, TickInput, TickOutput};
use crate::show::Nanos;

/// One tick on its way into a journal: everything that came in, and everything that went out.
#[derive(Clone, Copy, Debug)]
pub struct Turned<'a> {
    /// From 1, and one more each tick.
    pub tick: u64,
    pub input: TickInput<'a>,
    /// Beside each request, how long ago it had come out of its socket when the tick began; shorter, or negative, where
    /// that is not known.
    pub waited: &'a [Nanos],
    pub answers: &'a [Answer],
    pub events: &'a [Event],
    /// Of the setpoints and commands, see [`digest`].
    pub digest: u64,
}

impl<'a> Turned<'a> {
    /// A tick in virtual time, where nothing waits.
    pub fn new(input: TickInput<'a>, output: &TickOutput<'a>) -> Turned<'a> {
        let digest = digest(output);
        let TickOutput { answers, events, status, .. } = *output;
        Turned { tick: status.tick, input, waited: &[], answers, events, digest }
    }
}

/// One tick as a journal has it.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Entry {
    pub tick: u64,
    pub stop: StopCalls,
    pub requests: Vec<Request>,
    pub sticks: Vec<StickSample>,
    /// By index of `requests`: from the socket to the tick, where it is known.
    pub waited: Vec<Option<Nanos>>,
    /// By `RigId`.
    pub rigs: Vec<RigReport>,
    /// By `AxisId`.
    pub axes: Vec<AxisReport>,
    pub late: Nanos,
    pub unrecorded: bool,
    pub answers: Vec<Answer>,
    pub events: Vec<Event>,
    pub digest: u64,
}

impl Entry {
    /// What the engine was given.
    pub fn input(&self) -> TickInput<'_> {
        TickInput {
            stop: self.stop,
            requests: &self.requests,
            sticks: &self.sticks,
            rigs: &self.rigs,
            axes: &self.axes,
            late: self.late,
            unrecorded: self.unrecorded,
        }
    }
}

/// FNV-1a over every bit of the setpoints and commands: what reaches the rigs.
pub fn digest(output: &TickOutput<'_>) -> u64 {
    let mut hash = 0xcbf2_9ce4_8422_2325_u64;
    let mut add = |word: u64| hash = (hash ^ word).wrapping_mul(0x0100_0000_01b3);
    for setpoint in output.setpoints {
        for value in [setpoint.position, setpoint.speed, setpoint.acceleration, setpoint.jerk] {
            add(value.to_bits());
        }
    }
    for rig in output.rigs {
        add(u64::from(rig.enable) * 2 + u64::from(rig.heartbeat));
    }
    hash
}
