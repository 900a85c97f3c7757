//! Ticks to octets: only what changed since the tick before.
//!
//! A block is a chain of `quiet, flags, parts`: so many ticks in which nothing changed, then one in which something
//! did, the flags saying what. Each part stands in the order of the flags. The chain may end after a `quiet`.
//!
//! Measured values mostly are whole steps of some encoder. Where one is, to the last bit, a multiple of a step of
//! [`STEPS`], it is kept as the difference of whole numbers, else as it is. Nothing is rounded.

use super::entry::Turned;
use super::octets::{fold, put_item, put_number, put_signed};
use super::record::Block;
use crate::engine::{AxisReport, RigReport, StickKind, StickSample, StopCalls, TickInput};
use crate::show::Nanos;

/// How many steps a unit may have, coarse to fine; each value finds the coarsest that does for it.
pub const STEPS: [f64; 8] = [10.0, 100.0, 1_000.0, 10_000.0, 36_000.0, 100_000.0, 360_000.0, 3_600_000.0];
/// Beyond this a whole number of steps is no longer exact.
const STEPS_MAX: f64 = 4_503_599_627_370_496.0;
/// After an escape: the bits follow. Anything less is an index of [`STEPS`], and the number of steps follows.
pub const AS_IT_IS: u8 = 0xff;

pub const SIZES: u8 = 1;
pub const STOP: u8 = 1 << 1;
/// How late the loop was, and an octet of marks: [`UNRECORDED`], [`STICKS`].
pub const LATE: u8 = 1 << 2;
pub const RIGS: u8 = 1 << 3;
pub const AXES: u8 = 1 << 4;
pub const DIGEST: u8 = 1 << 5;
pub const REQUESTS: u8 = 1 << 6;
pub const WORDS: u8 = 1 << 7;

pub const UNRECORDED: u8 = 1;
/// Sticks and dials have spoken; what they said follows.
pub const STICKS: u8 = 1 << 1;

/// Of what spoke: a dial, or a button. An axis takes the sixteen bits between.
pub const DIAL: u64 = 1;
pub const RUN: u64 = 1 << 17;

/// Blocks shorter than this are not worth compressing.
const COMPRESS_FROM: usize = 96;

/// The last tick's values, on both sides.
#[derive(Clone, Debug, Default)]
pub struct Before {
    pub stop: StopCalls,
    pub late: Nanos,
    pub unrecorded: bool,
    pub rigs: Vec<RigReport>,
    pub axes: Vec<[Measured; 2]>,
    pub digest: u64,
}

/// A position or a speed: its bits, and how many steps of which size it last was.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Measured {
    pub bits: u64,
    pub size: u8,
    pub steps: i64,
}

impl Before {
    pub fn resize(&mut self, rigs: usize, axes: usize) {
        self.rigs = vec![RigReport { age: Nanos::ZERO, enabled: false, fault: false, simulated: false }; rigs];
        self.axes = vec![[Measured::default(); 2]; axes];
    }
}

/// Gathers ticks into a block.
#[derive(Clone, Debug, Default)]
pub struct Packer {
    before: Before,
    fresh: bool,
    first: u64,
    count: u32,
    quiet: u64,
    bytes: Vec<u8>,
}

impl Packer {
    pub fn new() -> Packer {
        Packer { fresh: true, ..Packer::default() }
    }

    /// Ticks gathered so far.
    pub fn count(&self) -> u32 {
        self.count
    }

    /// Adds a tick, which must follow the one before.
    pub fn push(&mut self, turned: &Turned<'_>) {
        if self.count == 0 {
            self.first = turned.tick;
        }
        self.count += 1;
        let flags = self.changes(turned);
        if flags == 0 {
            self.quiet += 1;
            return;
        }
        put_number(&mut self.bytes, std::mem::take(&mut self.quiet));
        self.bytes.push(flags);
        let TickInput { stop, requests, sticks, rigs, axes, late, unrecorded } = turned.input;
        if flags & SIZES != 0 {
            put_number(&mut self.bytes, rigs.len() as u64);
            put_number(&mut self.bytes, axes.len() as u64);
            self.before.resize(rigs.len(), axes.len());
        }
        if flags & STOP != 0 {
            stop.generations.iter().for_each(|&lane| put_number(&mut self.bytes, u64::from(lane)));
        }
        if flags & LATE != 0 {
            put_signed(&mut self.bytes, late.0);
            let marks = [(unrecorded, UNRECORDED), (!sticks.is_empty(), STICKS)];
            self.bytes.push(marks.iter().filter(|(is_so, _)| *is_so).fold(0, |all, (_, mark)| all | mark));
            if !sticks.is_empty() {
                put_sticks(&mut self.bytes, sticks);
            }
        }
        if flags & RIGS != 0 {
            self.put_rigs(rigs);
        }
        if flags & AXES != 0 {
            self.put_axes(axes);
        }
        if flags & DIGEST != 0 {
            self.bytes.extend_from_slice(&turned.digest.to_le_bytes());
        }
        if flags & REQUESTS != 0 {
            put_number(&mut self.bytes, requests.len() as u64);
            for (index, request) in requests.iter().enumerate() {
                put_item(&mut self.bytes, request);
                let waited = turned.waited.get(index).and_then(|waited| u64::try_from(waited.0).ok());
                put_number(&mut self.bytes, waited.map_or(0, |waited| waited + 1));
            }
        }
        if flags & WORDS != 0 {
            put_number(&mut self.bytes, turned.answers.len() as u64);
            turned.answers.iter().for_each(|answer| put_item(&mut self.bytes, answer));
            put_number(&mut self.bytes, turned.events.len() as u64);
            turned.events.iter().for_each(|event| put_item(&mut self.bytes, event));
        }
        (self.before.stop, self.before.late, self.before.unrecorded) = (stop, late, unrecorded);
        self.before.digest = turned.digest;
    }

    /// The ticks gathered so far, if there are any; the next block goes on from them.
    pub fn close(&mut self) -> Option<Block> {
        if self.count == 0 {
            return None;
        }
        if self.quiet > 0 {
            put_number(&mut self.bytes, std::mem::take(&mut self.quiet));
        }
        let mut bytes = std::mem::take(&mut self.bytes);
        let mut whole = None;
        if bytes.len() >= COMPRESS_FROM {
            let compressed = lz4_flex::compress(&bytes);
            if compressed.len() < bytes.len() {
                whole = u32::try_from(bytes.len()).ok();
                bytes = compressed;
            }
        }
        let count = std::mem::take(&mut self.count);
        Some(Block { first: self.first, count, fresh: std::mem::take(&mut self.fresh), whole, bytes })
    }

    /// The next block can be read without those before it.
    pub fn refresh(&mut self) {
        debug_assert_eq!(self.count, 0, "between blocks only");
        self.before = Before::default();
        self.fresh = true;
    }

    fn changes(&self, turned: &Turned<'_>) -> u8 {
        let (before, input) = (&self.before, &turned.input);
        let sizes = before.rigs.len() != input.rigs.len() || before.axes.len() != input.axes.len();
        let axes =
            || before.axes.iter().zip(input.axes).any(|(before, axis)| bits(axis) != before.map(|one| one.bits));
        let late = before.late != input.late || before.unrecorded != input.unrecorded || !input.sticks.is_empty();
        let flag = |changed: bool, flag: u8| if changed { flag } else { 0 };
        flag(sizes, SIZES)
            | flag(before.stop != input.stop, STOP)
            | flag(late, LATE)
            | flag(sizes || before.rigs != input.rigs, RIGS)
            | flag(sizes || axes(), AXES)
            | flag(before.digest != turned.digest, DIGEST)
            | flag(!input.requests.is_empty(), REQUESTS)
            | flag(!turned.answers.is_empty() || !turned.events.is_empty(), WORDS)
    }

    /// A bit for each rig that changed, then those rigs.
    fn put_rigs(&mut self, rigs: &[RigReport]) {
        put_mask(&mut self.bytes, self.before.rigs.iter().zip(rigs).map(|(before, rig)| before != rig));
        for (before, rig) in self.before.rigs.iter_mut().zip(rigs).filter(|(before, rig)| before != rig) {
            put_signed(&mut self.bytes, rig.age.0.wrapping_sub(before.age.0));
            self.bytes.push(u8::from(rig.enabled) | u8::from(rig.fault) << 1 | u8::from(rig.simulated) << 2);
            *before = *rig;
        }
    }

    /// Two bits for each axis, then those values.
    fn put_axes(&mut self, axes: &[AxisReport]) {
        let values = || axes.iter().flat_map(bits);
        let before = self.before.axes.as_flattened_mut();
        put_mask(&mut self.bytes, before.iter().zip(values()).map(|(before, bits)| before.bits != bits));
        for (before, bits) in before.iter_mut().zip(values()).filter(|(before, bits)| before.bits != *bits) {
            put_measured(&mut self.bytes, before, bits);
        }
    }
}

/// So many samples, each as client, axis and kind in one number, and the bits of its value.
fn put_sticks(out: &mut Vec<u8>, sticks: &[StickSample]) {
    put_number(out, sticks.len() as u64);
    for sample in sticks {
        put_number(out, u64::from(sample.client.0));
        let kind = match sample.kind {
            StickKind::Stick => 0,
            StickKind::Dial => DIAL,
            StickKind::Run => RUN,
        };
        put_number(out, u64::from(sample.axis.0) << 1 | kind);
        out.extend_from_slice(&sample.value.to_bits().to_le_bytes());
    }
}

fn bits(axis: &AxisReport) -> [u64; 2] {
    [axis.position.to_bits(), axis.speed.to_bits()]
}

fn put_mask(out: &mut Vec<u8>, bits: impl Iterator<Item = bool>) {
    let (mut octet, mut filled) = (0, 0);
    for bit in bits {
        octet |= u8::from(bit) << filled;
        filled += 1;
        if filled == 8 {
            out.push(octet);
            (octet, filled) = (0, 0);
        }
    }
    if filled > 0 {
        out.push(octet);
    }
}

/// The folded difference of steps of the size that it had before, which is never zero; or a zero as an escape.
fn put_measured(out: &mut Vec<u8>, before: &mut Measured, bits: u64) {
    let finer = (before.size..STEPS.len() as u8).find_map(|size| Some((size, steps(bits, size)?)));
    match finer {
        Some((size, steps)) if size == before.size && steps != before.steps => {
            put_number(out, fold(steps - before.steps));
            before.steps = steps;
        }
        Some((size, steps)) => {
            out.extend_from_slice(&[0, size]);
            put_signed(out, steps);
            (before.size, before.steps) = (size, steps);
        }
        None => {
            out.extend_from_slice(&[0, AS_IT_IS]);
            out.extend_from_slice(&bits.to_le_bytes());
        }
    }
    before.bits = bits;
}

/// How many steps of this size a value is, if it is so to the last bit. Minus zero is none, and what is not a number is
/// none either.
fn steps(bits: u64, size: u8) -> Option<i64> {
    let steps = (f64::from_bits(bits) * STEPS[usize::from(size)]).round();
    (steps.abs() < STEPS_MAX && value(steps as i64, size) == Some(bits)).then_some(steps as i64)
}

/// The bits of so many steps.
pub fn value(steps: i64, size: u8) -> Option<u64> {
    STEPS.get(usize::from(size)).map(|size| (steps as f64 / size).to_bits())
}
