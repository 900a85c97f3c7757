//! Frames: what is written at once and read back whole, or not at all.
//!
//! ```text
//! length of the payload | number of the frame | CRC-32 of both and the payload | payload
//!          u32          |         u32         |              u32               |  postcard
//! ```
//! All little-endian. Frames are numbered from 0 without gaps, so that a missing one is seen.

use super::record::{FIRST_LINE, Record};

pub const HEAD: usize = 12;
/// No frame is longer.
const PAYLOAD_MAX: usize = 80 << 20;
/// After damage, a frame that is further ahead than this is not believed.
const AHEAD_MAX: u32 = 1 << 24;

/// A frame with its record.
pub fn put_frame(out: &mut Vec<u8>, number: u32, record: &Record) {
    // Writing plain values into memory does not fail.
    let payload = postcard::to_stdvec(record).unwrap_or_default();
    let [length, number] = [payload.len() as u32, number].map(u32::to_le_bytes);
    out.extend_from_slice(&length);
    out.extend_from_slice(&number);
    out.extend_from_slice(&checksum(length, number, &payload).to_le_bytes());
    out.extend_from_slice(&payload);
}

fn checksum(length: [u8; 4], number: [u8; 4], payload: &[u8]) -> u32 {
    let mut hasher = crc32fast::Hasher::new();
    hasher.update(&length);
    hasher.update(&number);
    hasher.update(payload);
    hasher.finalize()
}

/// A place in a journal that does not read as it should.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Trouble {
    /// The file ends within its last record: what a crash leaves. From this byte on.
    Torn { at: usize },
    /// These bytes are no frame, or a frame whose checksum is wrong.
    Damaged { at: usize, until: usize },
    /// Frames are missing before this byte.
    Missing { at: usize, frames: u32 },
    /// A sound frame whose content this version cannot read.
    Strange { at: usize },
}

/// The frames of a journal in their order, each with the byte at which it begins.
#[derive(Clone, Debug)]
pub struct Frames<'a> {
    bytes: &'a [u8],
    at: usize,
    number: u32,
}

/// One step of reading.
#[derive(Clone, Debug)]
pub enum Step {
    Record(Record),
    Trouble(Trouble),
}

impl<'a> Frames<'a> {
    /// `None` if it is no journal of this format.
    pub fn new(bytes: &'a [u8]) -> Option<Frames<'a>> {
        bytes.starts_with(FIRST_LINE).then_some(Frames { bytes, at: FIRST_LINE.len(), number: 0 })
    }

    /// The payload of a sound frame that begins here, with its number.
    fn sound(&self, at: usize) -> Option<(u32, &'a [u8])> {
        let word = |from: usize| -> Option<[u8; 4]> { self.bytes.get(from..from + 4)?.try_into().ok() };
        let (length, number) = (word(at)?, word(at + 4)?);
        let plausible = |value: u32| value >= self.number && value - self.number <= AHEAD_MAX;
        let size = u32::from_le_bytes(length) as usize;
        if size > PAYLOAD_MAX || !plausible(u32::from_le_bytes(number)) {
            return None;
        }
        let payload = self.bytes.get(at + HEAD..at + HEAD + size)?;
        let told = u32::from_le_bytes(word(at + 8)?);
        (told == checksum(length, number, payload)).then_some((u32::from_le_bytes(number), payload))
    }

    /// What stands where a frame should begin and none does.
    fn trouble(&mut self) -> Trouble {
        let at = self.at;
        let next = (at + 1..self.bytes.len()).find(|&at| self.sound(at).is_some());
        self.at = next.unwrap_or(self.bytes.len());
        let rest = &self.bytes[at..];
        let claimed = rest.get(..4).and_then(|length| length.try_into().ok()).map(u32::from_le_bytes);
        let cut_short = claimed.is_none_or(|length| at + HEAD + length as usize > self.bytes.len());
        // A machine that lost its power may leave zeros where it meant to write.
        let torn = next.is_none() && (cut_short || rest.iter().all(|&byte| byte == 0));
        if torn { Trouble::Torn { at } } else { Trouble::Damaged { at, until: self.at } }
    }
}

impl Iterator for Frames<'_> {
    type Item = (usize, Step);

    fn next(&mut self) -> Option<(usize, Step)> {
        let at = self.at;
        if at >= self.bytes.len() {
            return None;
        }
        let Some((number, payload)) = self.sound(at) else { return Some((at, Step::Trouble(self.trouble()))) };
        if number != self.number {
            let frames = number - self.number;
            self.number = number;
            return Some((at, Step::Trouble(Trouble::Missing { at, frames })));
        }
        self.number = number.wrapping_add(1);
        self.at = at + HEAD + payload.len();
        let step = match postcard::from_bytes(payload) {
            Ok(record) => Step::Record(record),
            Err(_) => Step::Trouble(Trouble::Strange { at }),
        };
        Some((at, step))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn journal() -> Vec<u8> {
        let mut bytes = FIRST_LINE.to_vec();
        (0..6).for_each(|number| put_frame(&mut bytes, number, &Record::Ended { tick: u64::from(number) * 1000 }));
        bytes
    }

    fn read(bytes: &[u8]) -> (usize, Vec<Trouble>) {
        let (mut records, mut troubles) = (0, Vec::new());
        for (_, step) in Frames::new(bytes).expect("a journal") {
            match step {
                Step::Record(_) => records += 1,
                Step::Trouble(trouble) => troubles.push(trouble),
            }
        }
        (records, troubles)
    }

    #[test]
    fn what_was_written_is_read() {
        assert_eq!(read(&journal()), (6, vec![]));
        assert!(Frames::new(b"bellwire journal 2\n").is_none());
        assert!(Frames::new(b"").is_none());
    }

    #[test]
    fn cut_anywhere_only_the_last_record_is_lost() {
        let bytes = journal();
        let mut last = 0;
        for end in FIRST_LINE.len()..bytes.len() {
            let (records, troubles) = read(&bytes[..end]);
            assert!(records == last || records == last + 1);
            last = records;
            assert!(matches!(troubles[..], [] | [Trouble::Torn { .. }]), "{end}: {troubles:?}");
        }
        let zeros = [&bytes[..], &[0; 500]].concat();
        assert_eq!(read(&zeros), (6, vec![Trouble::Torn { at: bytes.len() }]));
    }

    #[test]
    fn a_flipped_bit_costs_one_frame_and_is_told_with_its_place() {
        let bytes = journal();
        let begins: Vec<usize> = Frames::new(&bytes).expect("a journal").map(|(at, _)| at).collect();
        for at in FIRST_LINE.len()..begins[5] {
            let mut spoilt = bytes.clone();
            spoilt[at] ^= 0x10;
            let (records, troubles) = read(&spoilt);
            let frame = begins.iter().rposition(|&begin| begin <= at).expect("in a frame");
            assert_eq!(records, 5, "{at}");
            let expected = Trouble::Damaged { at: begins[frame], until: begins[frame + 1] };
            assert_eq!(troubles[0], expected, "{at}");
        }
    }

    #[test]
    fn a_frame_that_was_taken_out_is_missed() {
        let bytes = journal();
        let begins: Vec<usize> = Frames::new(&bytes).expect("a journal").map(|(at, _)| at).collect();
        let without = [&bytes[..begins[2]], &bytes[begins[4]..]].concat();
        assert_eq!(read(&without), (4, vec![Trouble::Missing { at: begins[2], frames: 2 }]));
    }
}
