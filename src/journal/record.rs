//! What the frames of a journal hold.

use serde::{Deserialize, Serialize};

use crate::engine::ClientId;
use crate::show::{Nanos, Source};

/// The first line of every journal; a file that begins otherwise is none, or of another format.
pub const FIRST_LINE: &[u8] = b"bellwire journal 1\n";

/// One frame's content. The order of the variants is part of the format.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub enum Record {
    /// The first frame.
    Begun(Header),
    /// The show that runs from the next tick on: at the beginning, and wherever it was replaced.
    Show(ShowFiles),
    /// How people know a client; before the first tick in which it asks something.
    Client {
        client: ClientId,
        name: String,
    },
    /// The wall clock as a tick began.
    Clock {
        tick: u64,
        /// Since 1970.
        wall: Nanos,
    },
    /// Who pressed a stop, by the tick in which it was read.
    Pressed {
        tick: u64,
        client: ClientId,
    },
    Ticks(Block),
    Gap(Gap),
    /// The last frame of a run that ended as it should.
    Ended {
        tick: u64,
    },
}

/// What is known when a run begins.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Header {
    /// Of this run alone: 32 hexadecimal digits.
    pub run: String,
    /// Wall clock at the start, since 1970.
    pub started: Nanos,
    /// s east of Greenwich, where the run took place.
    pub offset: i32,
    /// The version of bellwire.
    pub program: String,
    /// Of the simulated rigs' noise.
    pub seed: u64,
    /// In virtual time: a rehearsal.
    pub rehearsal: bool,
}

/// A show, whole: the journal replays without the folder.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct ShowFiles {
    pub name: String,
    /// As [`crate::show::Show::hash`].
    pub hash: String,
    /// Paths and texts, compressed.
    packed: Vec<u8>,
}

/// Ticks in a row.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Block {
    pub first: u64,
    pub count: u32,
    /// Begins from nothing: it can be read without the blocks before it.
    pub fresh: bool,
    /// As `pack` writes them, compressed if `whole` says how long they were.
    pub whole: Option<u32>,
    pub bytes: Vec<u8>,
}

/// Ticks that were not kept. The show ran on.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Gap {
    pub first: u64,
    pub last: u64,
    /// For people: why not.
    pub why: String,
}

/// The files of one show are not longer than this together, so that a damaged length asks for no more memory.
const FILES_BYTES_MAX: usize = 64 << 20;

impl ShowFiles {
    pub fn new(name: &str, hash: &str, files: &[Source]) -> ShowFiles {
        let files: Vec<(&str, &str)> = files.iter().map(|file| (file.path.as_str(), file.text.as_str())).collect();
        // Text of which each part has a length cannot fail to be written into memory.
        let plain = postcard::to_stdvec(&files).unwrap_or_default();
        let packed = lz4_flex::compress_prepend_size(&plain);
        ShowFiles { name: name.to_owned(), hash: hash.to_owned(), packed }
    }

    /// The files as they were; `None` if they cannot be unpacked.
    pub fn files(&self) -> Option<Vec<Source>> {
        let (length, _) = lz4_flex::block::uncompressed_size(&self.packed).ok()?;
        if length > FILES_BYTES_MAX {
            return None;
        }
        let plain = lz4_flex::decompress_size_prepended(&self.packed).ok()?;
        let files: Vec<(String, String)> = postcard::from_bytes(&plain).ok()?;
        Some(files.into_iter().map(|(path, text)| Source { path, text }).collect())
    }
}
