//! The lane of sticks and dials: what they say on its way to the tick thread.
//!
//! A board, not a queue: of each axis and client only the newest sample counts, so that a stream which stalls and then bursts
//! is where its stick is now, and no flood makes anything wait. Whoever hears a sample writes the board anew into a triple
//! buffer; the tick thread reads it without a lock, and takes what is newer than what it saw last.

use std::sync::{Mutex, PoisonError};

use arrayvec::ArrayVec;

use crate::engine::{ClientId, STICKS_MAX, StickSample};

/// Axes and controls of one client that find room; a further one takes the place of its own oldest.
const OF_ONE_MAX: usize = STICKS_MAX / 2;

/// Samples with their numbers, which rise as they come.
#[derive(Clone, Debug, Default)]
struct Newest(ArrayVec<(u64, StickSample), STICKS_MAX>);

impl Newest {
    fn put(&mut self, number: u64, sample: StickSample) {
        let same =
            |one: &StickSample| (one.client, one.axis, one.kind) == (sample.client, sample.axis, sample.kind);
        let of_client = |client: ClientId| self.0.iter().filter(move |(_, one)| one.client == client);
        let leaves = if let Some(known) = self.0.iter().position(|(_, one)| same(one)) {
            Some(known)
        } else if of_client(sample.client).count() >= OF_ONE_MAX {
            self.0.iter().position(|(_, one)| one.client == sample.client)
        } else {
            self.0.is_full().then_some(0)
        };
        if let Some(leaves) = leaves {
            self.0.remove(leaves);
        }
        self.0.push((number, sample));
    }
}

struct Writing {
    last: u64,
    newest: Newest,
    out: triple_buffer::Input<Newest>,
}

/// The writing end, for all who hear sticks; the lock is among them alone.
pub struct Sticks {
    writing: Mutex<Writing>,
}

/// The tick thread's end.
pub struct StickReader {
    seen: u64,
    newest: triple_buffer::Output<Newest>,
}

/// Both ends.
pub fn sticks() -> (Sticks, StickReader) {
    let (out, newest) = triple_buffer::triple_buffer(&Newest::default());
    let writing = Writing { last: 0, newest: Newest::default(), out };
    (Sticks { writing: Mutex::new(writing) }, StickReader { seen: 0, newest })
}

impl Sticks {
    pub fn put(&self, sample: StickSample) {
        let mut writing = self.writing.lock().unwrap_or_else(PoisonError::into_inner);
        let Writing { last, newest, out } = &mut *writing;
        *last += 1;
        newest.put(*last, sample);
        out.write(newest.clone());
    }
}

impl StickReader {
    /// What has come since the last time, in order, written over `taken`. Takes no lock and no memory.
    pub fn read(&mut self, taken: &mut ArrayVec<StickSample, STICKS_MAX>) {
        taken.clear();
        let Newest(newest) = self.newest.read();
        taken.extend(newest.iter().filter(|(number, _)| *number > self.seen).map(|(_, sample)| *sample));
        self.seen = newest.last().map_or(self.seen, |(number, _)| *number);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::engine::StickKind;
    use crate::show::AxisId;

    fn sample(client: u32, axis: u16, value: f64) -> StickSample {
        StickSample { client: ClientId(client), axis: AxisId(axis), kind: StickKind::Stick, value }
    }

    #[test]
    fn of_a_burst_the_newest_of_each_axis_and_client_is_left_in_order() {
        let (sticks, mut reader) = sticks();
        let mut taken = ArrayVec::new();
        for step in 0..1000 {
            sticks.put(sample(1, step % 3, f64::from(step)));
        }
        sticks.put(StickSample { kind: StickKind::Dial, ..sample(1, 0, 0.5) });
        sticks.put(sample(2, 0, -1.0));
        reader.read(&mut taken);
        let values: Vec<f64> = taken.iter().map(|sample| sample.value).collect();
        assert_eq!(values, [997.0, 998.0, 999.0, 0.5, -1.0]);
        reader.read(&mut taken);
        assert!(taken.is_empty(), "each once");
        sticks.put(sample(1, 1, 0.25));
        reader.read(&mut taken);
        assert_eq!(taken.as_slice(), [sample(1, 1, 0.25)]);
    }

    #[test]
    fn a_client_that_floods_leaves_room_for_another() {
        let (sticks, mut reader) = sticks();
        sticks.put(sample(2, 7, 0.5));
        for axis in 0..10_000 {
            sticks.put(sample(1, axis, 1.0));
        }
        let mut taken = ArrayVec::new();
        reader.read(&mut taken);
        assert_eq!(taken.len(), OF_ONE_MAX + 1);
        assert_eq!(taken[0], sample(2, 7, 0.5));
        assert_eq!(taken.last(), Some(&sample(1, 9_999, 1.0)));
    }
}
