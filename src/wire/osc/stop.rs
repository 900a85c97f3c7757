//! The stop, found whatever surrounds it: a stop is never refused for its form.
//!
//! 1. A message whose address is `/bellwire/stop` is a stop, with any arguments, well formed or not, with or
//!    without a type-tag string, with its padding or cut off, or typed by hand with a line end after it.
//! 2. So is such a message in a bundle, at any depth, with any time tag.
//! 3. Where the packet stops making sense as OSC, every place from there on that is a multiple of four from the
//!    start is looked at as if a message began there.
//! 4. The same text as an argument of a well-formed message is no stop; nor are a longer address, or a pattern.
//!
//! The look takes one pass, no recursion and no memory, so that nothing in a packet can slow it.

const ADDRESS: &[u8] = b"/bellwire/stop";
const BUNDLE: &[u8] = b"#bundle\0";
/// `#bundle` and the time tag.
const BUNDLE_HEAD: usize = 16;

/// Whether a packet (one datagram, or one frame) holds a stop.
pub fn is_stop(bytes: &[u8]) -> bool {
    if !bytes.starts_with(BUNDLE) {
        return begins_stop(bytes) || !is_sound(bytes) && looks_like_stop(bytes);
    }
    // Bundles in a row of elements, read flat: a bundle that is an element is entered by stepping over its head,
    // and its end needs no notice, since the next element follows either way.
    let mut at = BUNDLE_HEAD;
    while at < bytes.len() {
        let Some(element) = element(bytes, at) else {
            return looks_like_stop_from(bytes, at);
        };
        if element.starts_with(BUNDLE) {
            at += 4 + BUNDLE_HEAD;
        } else if begins_stop(element) {
            return true;
        } else if is_sound(element) {
            at += 4 + element.len();
        } else {
            return looks_like_stop_from(bytes, at);
        }
    }
    false
}

/// The element whose size stands at `at`, if its size can be true.
fn element(bytes: &[u8], at: usize) -> Option<&[u8]> {
    let (size, rest) = bytes.get(at..)?.split_first_chunk::<4>()?;
    let size = usize::try_from(u32::from_be_bytes(*size)).ok()?;
    if size == 0 || !size.is_multiple_of(4) { None } else { rest.get(..size) }
}

/// The address, and then its end: a NUL, the end of the packet, or what a hand types after it.
fn begins_stop(bytes: &[u8]) -> bool {
    bytes.strip_prefix(ADDRESS).is_some_and(|rest| match rest.first() {
        None => true,
        Some(byte) => matches!(byte, 0 | b' ' | b'\t' | b'\r' | b'\n' | b','),
    })
}

/// Whether an address, ended by a NUL or by the packet, stands on a multiple of four from `start` on.
fn looks_like_stop_from(bytes: &[u8], start: usize) -> bool {
    // Eight bytes back: a bundle may have lost its time tag, and an address have been taken for one.
    let start = start.saturating_sub(8).min(bytes.len());
    bytes[start..].chunks(4).enumerate().any(|(index, _)| {
        let rest = &bytes[start + 4 * index..];
        rest.strip_prefix(ADDRESS).is_some_and(|after| after.first().is_none_or(|&byte| byte == 0))
    })
}

fn looks_like_stop(bytes: &[u8]) -> bool {
    looks_like_stop_from(bytes, 0)
}

/// Whether the bytes are one message whose arguments fill it, as far as its type tags tell.
fn is_sound(bytes: &[u8]) -> bool {
    if bytes.first() != Some(&b'/') {
        return false;
    }
    let Some(rest) = after_string(bytes) else { return false };
    if rest.is_empty() {
        return true;
    }
    if rest[0] != b',' {
        return false;
    }
    let Some(mut arguments) = after_string(rest) else { return false };
    for &tag in rest[1..].iter().take_while(|&&tag| tag != 0) {
        let after = match tag {
            b'i' | b'f' | b'r' | b'c' | b'm' => arguments.get(4..),
            b'h' | b'd' | b't' => arguments.get(8..),
            b's' | b'S' => after_string(arguments),
            b'b' => after_blob(arguments),
            b'T' | b'F' | b'N' | b'I' | b'[' | b']' => Some(arguments),
            // How long an unknown argument is nobody can tell; the rest is taken for it.
            _ => return true,
        };
        match after {
            Some(after) => arguments = after,
            None => return false,
        }
    }
    arguments.is_empty()
}

/// What follows an OSC string: its end, and as many bytes as fill a multiple of four.
fn after_string(bytes: &[u8]) -> Option<&[u8]> {
    let length = bytes.iter().position(|&byte| byte == 0)?;
    bytes.get((length / 4 + 1) * 4..)
}

fn after_blob(bytes: &[u8]) -> Option<&[u8]> {
    let (size, rest) = bytes.split_first_chunk::<4>()?;
    let padded = u32::from_be_bytes(*size).checked_next_multiple_of(4)?;
    rest.get(usize::try_from(padded).ok()?..)
}
