//! A journal read back, record by record.

use super::entry::Entry;
use super::frame::{Frames, Step, Trouble};
use super::record::{Gap, Header, Record, ShowFiles};
use super::unpack::{NoTicks, Unpacker};
use crate::engine::ClientId;
use crate::show::Nanos;

/// What a journal says, one thing after the other.
#[derive(Clone, Debug)]
pub enum Told<'a> {
    Begun(&'a Header),
    /// The show that runs from the next tick on.
    Show(&'a ShowFiles),
    Client {
        client: ClientId,
        name: &'a str,
    },
    /// The wall clock, since 1970, as a tick began.
    Clock {
        tick: u64,
        wall: Nanos,
    },
    /// Who pressed the stop that was read in a tick.
    Pressed {
        tick: u64,
        client: ClientId,
    },
    Tick(&'a Entry),
    /// Ticks that were not kept.
    Gap(&'a Gap),
    /// Ticks that are in the file, but go on from others that are not.
    Unread {
        first: u64,
        last: u64,
    },
    Trouble(Trouble),
    Ended,
}

/// The bytes are no journal, or one of a format that this version does not read.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct NotAJournal;

/// Tells everything that is in a journal, in order; what cannot be read is told as well. Never panics, whatever the
/// bytes hold.
///
/// # Errors
/// The bytes do not begin as a journal does.
pub fn read(bytes: &[u8], mut tell: impl FnMut(Told<'_>)) -> Result<(), NotAJournal> {
    let frames = Frames::new(bytes).ok_or(NotAJournal)?;
    let mut unpacker = Unpacker::default();
    for (at, step) in frames {
        match step {
            Step::Trouble(trouble) => {
                unpacker.lose_track();
                tell(Told::Trouble(trouble));
            }
            Step::Record(Record::Begun(header)) => tell(Told::Begun(&header)),
            Step::Record(Record::Show(show)) => tell(Told::Show(&show)),
            Step::Record(Record::Client { client, name }) => tell(Told::Client { client, name: &name }),
            Step::Record(Record::Clock { tick, wall }) => tell(Told::Clock { tick, wall }),
            Step::Record(Record::Pressed { tick, client }) => tell(Told::Pressed { tick, client }),
            Step::Record(Record::Ticks(block)) => match unpacker.read(&block, |entry| tell(Told::Tick(entry))) {
                Ok(()) => {}
                Err(NoTicks::NeedsTheBlockBefore) => {
                    let last = block.first.saturating_add(u64::from(block.count)).saturating_sub(1);
                    tell(Told::Unread { first: block.first, last });
                }
                Err(NoTicks::Unreadable) => tell(Told::Trouble(Trouble::Strange { at })),
            },
            Step::Record(Record::Gap(gap)) => tell(Told::Gap(&gap)),
            Step::Record(Record::Ended { .. }) => tell(Told::Ended),
        }
    }
    Ok(())
}
