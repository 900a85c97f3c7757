//! The walk through a packet before anything else reads it: bundles opened without recursion, everything counted.
//!
//! A decoder that follows nested bundles by recursion can be made to run out of stack by one datagram of a few
//! kilobytes; so none of ours ever sees a bundle.

use crate::wire::misheard::Misheard;

/// The longest packet, in bytes.
pub const PACKET_MAX: usize = 16 * 1024;
/// Bundles within bundles.
pub const DEPTH_MAX: usize = 8;
/// Messages in one packet.
pub const MESSAGES_MAX: usize = 64;

const BUNDLE: &[u8] = b"#bundle\0";
/// The time tag that means "immediately".
const IMMEDIATELY: u64 = 1;
/// Seconds from 1900, where time tags begin, to 1970.
const UNIX_OFFSET: i64 = 2_208_988_800;

/// One message, with what the bundles around it say of its time.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Leaf<'a> {
    pub bytes: &'a [u8],
    pub timing: Timing,
}

#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Timing {
    /// In no bundle, or in bundles for "immediately" only.
    Now,
    /// For another time, or with time tags that contradict each other.
    Other(Misheard),
}

/// A bundle that the walk is inside of.
struct Open {
    end: usize,
    tag: u64,
    timing: Timing,
}

/// The messages of a packet, in order.
///
/// # Errors
/// A packet that is too long, too deep or too full, or that is not OSC; then none of its messages counts.
pub fn scan(bytes: &[u8]) -> Result<Vec<Leaf<'_>>, Misheard> {
    if bytes.len() > PACKET_MAX {
        return Err(Misheard::TooLong { bytes: bytes.len(), limit: PACKET_MAX });
    }
    if !bytes.len().is_multiple_of(4) {
        return Err(illegible(bytes.len(), "the packet ends off a multiple of four"));
    }
    if !bytes.starts_with(BUNDLE) {
        return Ok(vec![leaf(bytes, 0, bytes.len(), Timing::Now)?]);
    }
    let mut leaves = Vec::new();
    let mut open = vec![enter(bytes, 0, bytes.len(), None)?];
    let mut at = 16;
    while let Some(bundle) = open.last() {
        if at == bundle.end {
            open.pop();
            continue;
        }
        let end = element_end(bytes, at, bundle.end)?;
        at += 4;
        if bytes[at..end].starts_with(BUNDLE) {
            let inner = enter(bytes, at, end, Some(bundle))?;
            if open.len() == DEPTH_MAX {
                return Err(Misheard::TooDeep { limit: DEPTH_MAX });
            }
            open.push(inner);
            at += 16;
        } else {
            if leaves.len() == MESSAGES_MAX {
                return Err(Misheard::TooMany { limit: MESSAGES_MAX });
            }
            leaves.push(leaf(bytes, at, end, bundle.timing.clone())?);
            at = end;
        }
    }
    Ok(leaves)
}

/// Address and what follows it, type tags and arguments.
///
/// # Errors
/// An address that is not terminated, not padded or not text.
pub fn address(message: &[u8]) -> Result<(&str, &[u8]), Misheard> {
    let length = message.iter().position(|&byte| byte == 0).ok_or(illegible(0, "the address has no end"))?;
    let padded = (length / 4 + 1) * 4;
    let rest = message.get(padded..).ok_or(illegible(length, "the address is not padded"))?;
    let text = str::from_utf8(&message[..length]).map_err(|_| illegible(0, "the address is not text"))?;
    Ok((text, rest))
}

fn leaf(bytes: &[u8], start: usize, end: usize, timing: Timing) -> Result<Leaf<'_>, Misheard> {
    match bytes[start..end].first() {
        Some(b'/') => Ok(Leaf { bytes: &bytes[start..end], timing }),
        Some(_) => Err(illegible(start, "neither an address nor a bundle begins here")),
        None => Err(illegible(start, "there is nothing")),
    }
}

/// Reads the head of a bundle, which begins at `start` and ends at `end`.
fn enter(bytes: &[u8], start: usize, end: usize, around: Option<&Open>) -> Result<Open, Misheard> {
    let tag = bytes[start..end].get(8..16).ok_or(illegible(start, "a bundle without a time tag"))?;
    let tag = tag.iter().fold(0, |tag, &byte| tag << 8 | u64::from(byte));
    let timing = match around {
        Some(around) if tag < around.tag => Timing::Other(Misheard::NestedEarlier),
        Some(Open { timing: timing @ Timing::Other(_), .. }) => timing.clone(),
        Some(Open { timing: Timing::Now, .. }) | None if tag == IMMEDIATELY => Timing::Now,
        Some(Open { timing: Timing::Now, .. }) | None => Timing::Other(Misheard::Timed { time: rfc_3339(tag) }),
    };
    Ok(Open { end, tag, timing })
}

/// Where the element ends whose size stands at `at`, in a bundle that ends at `limit`.
fn element_end(bytes: &[u8], at: usize, limit: usize) -> Result<usize, Misheard> {
    let size = bytes[at..limit].first_chunk::<4>().ok_or(illegible(at, "an element without a size"))?;
    let size = usize::try_from(u32::from_be_bytes(*size)).unwrap_or(usize::MAX);
    if !size.is_multiple_of(4) {
        return Err(illegible(at, "an element's size is no multiple of four"));
    }
    if size > limit - at - 4 {
        return Err(illegible(at, "an element is longer than what is left of its bundle"));
    }
    Ok(at + 4 + size)
}

fn illegible(offset: usize, what: &'static str) -> Misheard {
    Misheard::Illegible { offset, what }
}

/// A time tag for people: 32 bits of seconds since 1900, 32 bits of their fraction.
pub(super) fn rfc_3339(tag: u64) -> String {
    let seconds = (tag >> 32) as i64 - UNIX_OFFSET;
    let nanos = ((tag & 0xFFFF_FFFF) * 1_000_000_000) >> 32;
    // All of 1900 to 2036 is within what a timestamp holds, so that the other arm is never taken.
    match jiff::Timestamp::new(seconds, nanos as i32) {
        Ok(time) => time.to_string(),
        Err(_) => format!("time tag {tag:#018x}"),
    }
}
