//! A run to the bytes of its journal.

use super::entry::Turned;
use super::frame::put_frame;
use super::pack::Packer;
use super::record::{FIRST_LINE, Gap, Header, Record, ShowFiles};
use crate::engine::ClientId;
use crate::show::Nanos;

/// Ticks of one frame at most.
const BLOCK_TICKS: u32 = 250;
/// Every so many frames of ticks one can be read without those before it.
const FRESH_EVERY: u32 = 64;

/// Encodes a run as it goes. Knows neither file nor clock: whoever keeps it takes the bytes away, in order, with
/// [`Recorder::take`].
///
/// ```text
/// new ── client, clock, pressed, turn, gap, show ... ── end
/// ```
/// Each tick comes once, in order; a jump in their numbers must be told before as a [`Recorder::gap`].
#[derive(Clone, Debug)]
pub struct Recorder {
    out: Vec<u8>,
    frames: u32,
    packer: Packer,
    blocks: u32,
    last: u64,
    framed: u64,
}

impl Recorder {
    /// Begins a journal: who, when, and the show itself.
    pub fn new(header: Header, show: ShowFiles) -> Recorder {
        let mut recorder =
            Recorder { out: FIRST_LINE.to_vec(), frames: 0, packer: Packer::new(), blocks: 0, last: 0, framed: 0 };
        recorder.put(&Record::Begun(header));
        recorder.put(&Record::Show(show));
        recorder
    }

    /// One tick.
    pub fn turn(&mut self, turned: &Turned<'_>) {
        self.last = turned.tick;
        self.packer.push(turned);
        if self.packer.count() >= BLOCK_TICKS {
            self.flush();
        }
    }

    /// How people know a client; before the tick in which it first asks something.
    pub fn client(&mut self, client: ClientId, name: &str) {
        self.flush();
        self.put(&Record::Client { client, name: name.to_owned() });
    }

    /// The wall clock, since 1970, as a tick began.
    pub fn clock(&mut self, tick: u64, wall: Nanos) {
        self.flush();
        self.put(&Record::Clock { tick, wall });
    }

    /// Who pressed the stop that was read in a tick.
    pub fn pressed(&mut self, tick: u64, client: ClientId) {
        self.flush();
        self.put(&Record::Pressed { tick, client });
    }

    /// From the next tick on another show runs.
    pub fn show(&mut self, show: ShowFiles) {
        self.flush();
        self.put(&Record::Show(show));
    }

    /// Ticks that are not in this journal: they follow the last that is, and the next that is follows them.
    pub fn gap(&mut self, gap: Gap) {
        self.flush();
        self.packer.refresh();
        self.put(&Record::Gap(gap));
    }

    /// The run ends as it should.
    pub fn end(&mut self) {
        self.flush();
        self.put(&Record::Ended { tick: self.last });
    }

    /// Puts the ticks gathered so far into a frame.
    pub fn flush(&mut self) {
        let Some(block) = self.packer.close() else { return };
        self.put(&Record::Ticks(block));
        self.framed = self.last;
        self.blocks += 1;
        if self.blocks.is_multiple_of(FRESH_EVERY) {
            self.packer.refresh();
        }
    }

    /// The last tick that was given.
    pub fn last(&self) -> u64 {
        self.last
    }

    /// The last tick that lies in a frame.
    pub fn framed(&self) -> u64 {
        self.framed
    }

    /// The whole frames since the last time; ticks that are still gathered are not among them.
    pub fn take(&mut self) -> Vec<u8> {
        std::mem::take(&mut self.out)
    }

    fn put(&mut self, record: &Record) {
        put_frame(&mut self.out, self.frames, record);
        self.frames = self.frames.wrapping_add(1);
    }
}
