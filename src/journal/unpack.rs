//! Octets back to ticks; the mirror of `pack`.

use super::entry::Entry;
use super::octets::{Octets, unfold};
use super::pack::{self, AS_IT_IS, AXES, Before, DIGEST, LATE, Measured, REQUESTS, RIGS, SIZES, STOP, WORDS};
use super::record::Block;
use crate::engine::{AxisReport, ClientId, RigReport, StickKind, StickSample};
use crate::show::{AxisId, Nanos};

/// A block is not longer than this, so that a damaged length asks for no more memory.
const BLOCK_BYTES_MAX: usize = 64 << 20;
/// As many as ids can tell apart.
const SIZE_MAX: usize = 1 << 16;

/// Reads blocks in their order.
#[derive(Clone, Debug, Default)]
pub struct Unpacker {
    before: Before,
    /// The tick before the next block, if it can be read from there.
    last: Option<u64>,
}

/// Why a block gives no ticks.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum NoTicks {
    /// It goes on from one that is missing.
    NeedsTheBlockBefore,
    /// Its octets do not hold what they should.
    Unreadable,
}

impl Unpacker {
    /// After a place that could not be read: only a block that begins from nothing is read next.
    pub fn lose_track(&mut self) {
        self.last = None;
    }

    /// Gives each tick of the block to `each`, until that says to stop.
    ///
    /// # Errors
    /// The block cannot be read, or not to its end: then `each` has had the ticks before.
    pub fn read(&mut self, block: &Block, mut each: impl FnMut(&Entry)) -> Result<(), NoTicks> {
        if block.fresh {
            self.before = Before::default();
        } else if self.last.and_then(|last| last.checked_add(1)) != Some(block.first) {
            self.last = None;
            return Err(NoTicks::NeedsTheBlockBefore);
        }
        self.last = None;
        let plain = plain(block).ok_or(NoTicks::Unreadable)?;
        let mut octets = Octets(&plain);
        let mut entry = Entry::default();
        let end = block.first.checked_add(u64::from(block.count)).ok_or(NoTicks::Unreadable)?;
        self.show(&mut entry);
        entry.tick = block.first;
        while entry.tick < end {
            let quiet = octets.number().ok_or(NoTicks::Unreadable)?;
            if quiet > end - entry.tick {
                return Err(NoTicks::Unreadable);
            }
            for _ in 0..quiet {
                each(&entry);
                entry.tick += 1;
            }
            if entry.tick == end {
                break;
            }
            self.change(&mut entry, &mut octets).ok_or(NoTicks::Unreadable)?;
            each(&entry);
            entry.tick += 1;
            entry.requests.clear();
            entry.sticks.clear();
            entry.waited.clear();
            entry.answers.clear();
            entry.events.clear();
        }
        if !octets.is_empty() {
            return Err(NoTicks::Unreadable);
        }
        self.last = Some(end - 1);
        Ok(())
    }

    /// The values of the tick before, in an entry.
    fn show(&self, entry: &mut Entry) {
        (entry.stop, entry.late, entry.unrecorded) = (self.before.stop, self.before.late, self.before.unrecorded);
        entry.digest = self.before.digest;
        entry.rigs.clone_from(&self.before.rigs);
        entry.axes.clear();
        entry.axes.extend(self.before.axes.iter().map(report));
    }

    fn change(&mut self, entry: &mut Entry, octets: &mut Octets<'_>) -> Option<()> {
        let flags = octets.octet()?;
        if flags & SIZES != 0 {
            let (rigs, axes) = (octets.number()? as usize, octets.number()? as usize);
            if rigs > SIZE_MAX || axes > SIZE_MAX {
                return None;
            }
            self.before.resize(rigs, axes);
        }
        if flags & STOP != 0 {
            for lane in &mut self.before.stop.generations {
                *lane = u32::try_from(octets.number()?).ok()?;
            }
        }
        if flags & LATE != 0 {
            self.before.late = Nanos(octets.signed()?);
            let marks = octets.octet()?;
            self.before.unrecorded = marks & pack::UNRECORDED != 0;
            if marks & pack::STICKS != 0 {
                take_sticks(&mut entry.sticks, octets)?;
            }
        }
        if flags & RIGS != 0 {
            take_rigs(&mut self.before.rigs, octets)?;
        }
        if flags & AXES != 0 {
            take_axes(&mut self.before.axes, octets)?;
        }
        if flags & DIGEST != 0 {
            self.before.digest = u64::from_le_bytes(octets.take(8)?.try_into().ok()?);
        }
        if flags & REQUESTS != 0 {
            for _ in 0..octets.count()? {
                entry.requests.push(octets.item()?);
                let waited = octets.number()?.checked_sub(1).and_then(|waited| i64::try_from(waited).ok());
                entry.waited.push(waited.map(Nanos));
            }
        }
        if flags & WORDS != 0 {
            for _ in 0..octets.count()? {
                entry.answers.push(octets.item()?);
            }
            for _ in 0..octets.count()? {
                entry.events.push(octets.item()?);
            }
        }
        self.show(entry);
        Some(())
    }
}

fn plain(block: &Block) -> Option<Vec<u8>> {
    match block.whole {
        None => Some(block.bytes.clone()),
        Some(length) => {
            let length = usize::try_from(length).ok().filter(|&length| length <= BLOCK_BYTES_MAX)?;
            let plain = lz4_flex::decompress(&block.bytes, length).ok()?;
            (plain.len() == length).then_some(plain)
        }
    }
}

/// The places of the set bits among so many.
fn take_mask<'a>(octets: &mut Octets<'a>, bits: usize) -> Option<impl Iterator<Item = usize> + use<'a>> {
    let mask = octets.take(bits.div_ceil(8))?;
    Some((0..bits).filter(|&bit| mask[bit / 8] >> (bit % 8) & 1 == 1))
}

fn take_sticks(sticks: &mut Vec<StickSample>, octets: &mut Octets<'_>) -> Option<()> {
    for _ in 0..octets.count()? {
        let client = ClientId(u32::try_from(octets.number()?).ok()?);
        let which = octets.number()?;
        let axis = AxisId(u16::try_from((which & !pack::RUN) >> 1).ok()?);
        let kind = match (which & pack::DIAL != 0, which & pack::RUN != 0) {
            (false, false) => StickKind::Stick,
            (true, false) => StickKind::Dial,
            (false, true) => StickKind::Run,
            (true, true) => return None,
        };
        let value = f64::from_bits(u64::from_le_bytes(octets.take(8)?.try_into().ok()?));
        sticks.push(StickSample { client, axis, kind, value });
    }
    Some(())
}

fn take_rigs(rigs: &mut [RigReport], octets: &mut Octets<'_>) -> Option<()> {
    for index in take_mask(octets, rigs.len())? {
        let rig = &mut rigs[index];
        rig.age = Nanos(rig.age.0.wrapping_add(octets.signed()?));
        let bits = octets.octet()?;
        (rig.enabled, rig.fault, rig.simulated) = (bits & 1 != 0, bits & 2 != 0, bits & 4 != 0);
    }
    Some(())
}

fn take_axes(axes: &mut [[Measured; 2]], octets: &mut Octets<'_>) -> Option<()> {
    let values = axes.as_flattened_mut();
    for index in take_mask(octets, values.len())? {
        let value = &mut values[index];
        match octets.number()? {
            0 => match octets.octet()? {
                AS_IT_IS => {
                    value.bits = u64::from_le_bytes(octets.take(8)?.try_into().ok()?);
                    continue;
                }
                size => (value.size, value.steps) = (size, octets.signed()?),
            },
            difference => value.steps = value.steps.checked_add(unfold(difference))?,
        }
        value.bits = pack::value(value.steps, value.size)?;
    }
    Some(())
}

fn report([position, speed]: &[Measured; 2]) -> AxisReport {
    AxisReport { position: f64::from_bits(position.bits), speed: f64::from_bits(speed.bits) }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::engine::{Request, RequestId, Role, StopCalls, TickInput, Verb};
    use crate::journal::entry::Turned;
    use crate::journal::pack::Packer;

    const POSITIONS: [f64; 12] = [
        0.0,
        -0.0,
        1.234_56,
        -719.999,
        std::f64::consts::PI,
        f64::NAN,
        f64::INFINITY,
        f64::MIN_POSITIVE / 4.0,
        1e300,
        4.0e9,
        0.000_01,
        730.0,
    ];

    fn spoken(tick: u64, stick: u64) -> StickSample {
        let kind = [StickKind::Stick, StickKind::Dial, StickKind::Run][stick as usize % 3];
        let value = POSITIONS[(tick + stick) as usize % POSITIONS.len()];
        StickSample { client: ClientId(tick as u32), axis: AxisId(u16::MAX - stick as u16), kind, value }
    }

    /// What one tick gives, whatever came before.
    fn entry(tick: u64) -> Entry {
        let at = |step: usize| POSITIONS[(tick as usize / 3 + step) % POSITIONS.len()];
        let request = Request {
            id: RequestId(tick),
            client: ClientId(3),
            role: Role::Caller,
            edition: 1,
            key: None,
            age: Some(Nanos(-5)),
            verb: Verb::Master { value: at(1) },
        };
        let asked = tick.is_multiple_of(7);
        Entry {
            tick,
            stop: StopCalls { generations: [tick as u32 / 40, 0, 0, u32::MAX, 0, 0] },
            requests: if asked { vec![request] } else { vec![] },
            waited: if asked { vec![Some(Nanos(1_000_000))] } else { vec![] },
            sticks: (0..tick % 4).map(|stick| spoken(tick, stick)).collect(),
            rigs: vec![
                RigReport {
                    age: if tick < 20 { Nanos::NEVER } else { Nanos(4) },
                    enabled: tick > 9,
                    fault: false,
                    simulated: tick % 8 == 1,
                };
                3
            ],
            axes: (0..9).map(|axis| AxisReport { position: at(axis), speed: at(axis + 4) }).collect(),
            late: Nanos(if tick == 11 { i64::MIN } else { 0 }),
            unrecorded: tick == 30,
            answers: vec![],
            events: vec![],
            digest: tick / 5,
        }
    }

    fn blocks(ticks: std::ops::Range<u64>) -> Vec<Block> {
        let mut packer = Packer::new();
        let mut blocks = Vec::new();
        for entry in ticks.map(entry) {
            let waited: Vec<Nanos> = entry.waited.iter().flatten().copied().collect();
            let input: TickInput<'_> = entry.input();
            let Entry { tick, digest, .. } = entry;
            packer.push(&Turned { tick, input, waited: &waited, answers: &[], events: &[], digest });
            if packer.count() == 17 {
                blocks.extend(packer.close());
            }
        }
        blocks.extend(packer.close());
        blocks
    }

    #[test]
    fn every_bit_comes_back() {
        let mut unpacker = Unpacker::default();
        let mut tick = 1;
        for block in blocks(1..200) {
            let read = unpacker.read(&block, |found| {
                // Not a number is compared by its bits, as the text shows them.
                assert_eq!(format!("{found:?}"), format!("{:?}", entry(tick)));
                tick += 1;
            });
            assert_eq!(read, Ok(()));
        }
        assert_eq!(tick, 200);
    }

    #[test]
    fn a_block_without_the_one_before_is_not_read() {
        let blocks = blocks(1..200);
        let mut unpacker = Unpacker::default();
        assert_eq!(unpacker.read(&blocks[0], |_| {}), Ok(()));
        assert_eq!(unpacker.read(&blocks[2], |_| {}), Err(NoTicks::NeedsTheBlockBefore));
        assert_eq!(unpacker.read(&blocks[3], |_| {}), Err(NoTicks::NeedsTheBlockBefore));
    }

    #[test]
    fn whatever_the_octets_hold_nothing_panics() {
        for block in blocks(1..60) {
            let plain = plain(&block).expect("it was packed here");
            for at in 0..plain.len() {
                for bit in 0..8 {
                    let mut bytes = plain.clone();
                    bytes[at] ^= 1 << bit;
                    let _ = Unpacker::default()
                        .read(&Block { bytes, whole: None, fresh: true, ..block.clone() }, |_| {});
                }
                let bytes = plain[..at].to_vec();
                let _ =
                    Unpacker::default().read(&Block { bytes, whole: None, fresh: true, ..block.clone() }, |_| {});
            }
        }
    }
}
