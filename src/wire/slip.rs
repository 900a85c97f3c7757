//! Frames in a stream of bytes: SLIP, RFC 1055, with END at both ends as OSC 1.1 asks (NIME 2009 paper).

/// Ends a frame.
pub const END: u8 = 0xC0;
/// Begins one of two escapes.
pub const ESC: u8 = 0xDB;
/// After ESC: an END inside a frame.
pub const ESC_END: u8 = 0xDC;
/// After ESC: an ESC inside a frame.
pub const ESC_ESC: u8 = 0xDD;

/// Why a frame was dropped.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Broken {
    /// It passed the decoder's limit.
    TooLong,
    /// ESC was followed by something that is no escape.
    Escape,
}

impl Broken {
    /// The counter in the status that it adds to.
    pub fn counter(self) -> &'static str {
        match self {
            Broken::TooLong => "frame too long",
            Broken::Escape => "frame escape",
        }
    }
}

/// What lay between two ENDs.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Frame<'a> {
    /// Whole, or as far as it was read before it broke: enough to look for a stop, not for anything else.
    pub bytes: &'a [u8],
    pub broken: Option<Broken>,
}

/// Takes bytes as they arrive, and gives each frame as it ends. Holds at most its limit.
#[derive(Clone, Debug)]
pub struct Decoder {
    frame: Vec<u8>,
    limit: usize,
    escaped: bool,
    broken: Option<Broken>,
}

impl Decoder {
    /// `limit`: the longest frame, in bytes after unescaping.
    pub fn new(limit: usize) -> Decoder {
        Decoder { frame: Vec::new(), limit, escaped: false, broken: None }
    }

    /// Calls `each` for every frame that ends within `bytes`. Empty ones are ignored (RFC 1055).
    pub fn push(&mut self, bytes: &[u8], mut each: impl FnMut(Frame<'_>)) {
        for &byte in bytes {
            match byte {
                END => self.end(&mut each),
                _ if self.broken.is_some() => {}
                ESC if !self.escaped => self.escaped = true,
                ESC_END if self.escaped => self.take(END),
                ESC_ESC if self.escaped => self.take(ESC),
                _ if self.escaped => self.broken = Some(Broken::Escape),
                plain => self.take(plain),
            }
        }
    }

    /// The frame that has not ended yet, for a last look when the stream closes.
    pub fn pending(&self) -> &[u8] {
        &self.frame
    }

    fn take(&mut self, byte: u8) {
        self.escaped = false;
        if self.frame.len() == self.limit {
            self.broken = Some(Broken::TooLong);
        } else {
            self.frame.push(byte);
        }
    }

    fn end(&mut self, each: &mut impl FnMut(Frame<'_>)) {
        // An END cuts an escape short.
        let broken = self.broken.or(self.escaped.then_some(Broken::Escape));
        if broken.is_some() || !self.frame.is_empty() {
            each(Frame { bytes: &self.frame, broken });
        }
        self.frame.clear();
        self.escaped = false;
        self.broken = None;
    }
}

/// One frame, END at both ends.
pub fn encode(bytes: &[u8]) -> Vec<u8> {
    let mut frame = Vec::with_capacity(bytes.len() + 8);
    frame.push(END);
    for &byte in bytes {
        match byte {
            END => frame.extend([ESC, ESC_END]),
            ESC => frame.extend([ESC, ESC_ESC]),
            plain => frame.push(plain),
        }
    }
    frame.push(END);
    frame
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    type Seen = Vec<(Vec<u8>, Option<Broken>)>;

    fn decode(limit: usize, pieces: &[&[u8]]) -> Seen {
        let mut decoder = Decoder::new(limit);
        let mut seen = Vec::new();
        for piece in pieces {
            decoder.push(piece, |frame| seen.push((frame.bytes.to_vec(), frame.broken)));
        }
        seen
    }

    // RFC 1055: END C0, ESC DB, C0 as DB DC, DB as DB DD.
    const PLAIN: &[u8] = &[0x01, 0xC0, 0x02, 0xDB, 0x03];
    const FRAMED: &[u8] = &[0xC0, 0x01, 0xDB, 0xDC, 0x02, 0xDB, 0xDD, 0x03, 0xC0];

    #[test]
    fn escapes_as_rfc_1055() {
        assert_eq!(encode(PLAIN), FRAMED);
        assert_eq!(decode(64, &[FRAMED]), [(PLAIN.to_vec(), None)]);
    }

    #[test]
    fn empty_frames_are_ignored() {
        assert_eq!(decode(64, &[&[END, END, END, 1, END, END]]), [(vec![1], None)]);
    }

    #[test]
    fn a_wrong_escape_drops_its_frame_alone() {
        let seen = decode(64, &[&[END, 1, ESC, 7, 2, END, 5, END, 6, ESC, END, 8, END]]);
        let expected =
            [(vec![1], Some(Broken::Escape)), (vec![5], None), (vec![6], Some(Broken::Escape)), (vec![8], None)];
        assert_eq!(seen, expected);
    }

    #[test]
    fn a_frame_past_the_limit_is_dropped_and_held_no_further() {
        let mut decoder = Decoder::new(4);
        let mut seen = Vec::new();
        decoder.push(&[9; 10_000], |frame| seen.push(frame.bytes.len()));
        assert_eq!(decoder.pending().len(), 4);
        decoder.push(&[END, 1, 2, 3, 4, END], |frame| {
            seen.push(frame.bytes.len());
            assert_eq!(frame.broken.is_some(), frame.bytes == [9; 4]);
        });
        assert_eq!(seen, [4, 4]);
    }

    proptest! {
        #[test]
        fn frames_come_back_however_the_stream_is_cut(
            frames in prop::collection::vec(prop::collection::vec(any::<u8>(), 1..40), 1..8),
            cut in 1usize..20,
        ) {
            let stream: Vec<u8> = frames.iter().flat_map(|frame| encode(frame)).collect();
            let pieces: Vec<&[u8]> = stream.chunks(cut).collect();
            let seen: Vec<Vec<u8>> = decode(64, &pieces).into_iter().map(|(bytes, _)| bytes).collect();
            prop_assert_eq!(seen, frames);
        }

        #[test]
        fn any_bytes_are_taken(bytes in prop::collection::vec(any::<u8>(), 0..400)) {
            for (frame, _) in decode(16, &[&bytes]) {
                prop_assert!(frame.len() <= 16);
            }
        }
    }
}
