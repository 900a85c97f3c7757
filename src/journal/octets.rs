//! Numbers as octets: small ones short (LEB128, as in DWARF 5, section 7.6), signed ones folded so that small means
//! near zero.

use serde::Serialize;
use serde::de::DeserializeOwned;

pub fn put_number(out: &mut Vec<u8>, mut value: u64) {
    while value >= 0x80 {
        out.push(value as u8 | 0x80);
        value >>= 7;
    }
    out.push(value as u8);
}

pub fn put_signed(out: &mut Vec<u8>, value: i64) {
    put_number(out, fold(value));
}

/// With its length before it.
pub fn put_item(out: &mut Vec<u8>, item: &impl Serialize) {
    // What the engine says has a fixed size and no part that could fail to be written into memory.
    let octets = postcard::to_stdvec(item).unwrap_or_default();
    put_number(out, octets.len() as u64);
    out.extend_from_slice(&octets);
}

/// 0, -1, 1, -2... to 0, 1, 2, 3...
pub fn fold(value: i64) -> u64 {
    ((value << 1) ^ (value >> 63)) as u64
}

pub fn unfold(value: u64) -> i64 {
    (value >> 1) as i64 ^ -((value & 1) as i64)
}

/// What is left to read. Every method gives `None` where the octets do not hold what is asked for, and never panics.
#[derive(Clone, Copy, Debug)]
pub struct Octets<'a>(pub &'a [u8]);

impl<'a> Octets<'a> {
    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    pub fn take(&mut self, count: usize) -> Option<&'a [u8]> {
        let (taken, rest) = self.0.split_at_checked(count)?;
        self.0 = rest;
        Some(taken)
    }

    pub fn octet(&mut self) -> Option<u8> {
        self.take(1).map(|taken| taken[0])
    }

    pub fn number(&mut self) -> Option<u64> {
        let mut value = 0_u64;
        for shift in (0..64).step_by(7) {
            let octet = self.octet()?;
            value |= u64::from(octet & 0x7f).checked_shl(shift)?;
            if octet & 0x80 == 0 {
                return Some(value);
            }
        }
        None
    }

    pub fn signed(&mut self) -> Option<i64> {
        self.number().map(unfold)
    }

    /// A count of things of which each takes an octet at least.
    pub fn count(&mut self) -> Option<usize> {
        let count = usize::try_from(self.number()?).ok()?;
        (count <= self.0.len()).then_some(count)
    }

    pub fn item<T: DeserializeOwned>(&mut self) -> Option<T> {
        let length = self.count()?;
        postcard::from_bytes(self.take(length)?).ok()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_come_back() {
        let values = [0, 1, 127, 128, 300, u64::from(u32::MAX), 1 << 62, u64::MAX];
        let mut out = Vec::new();
        values.iter().for_each(|&value| put_number(&mut out, value));
        let mut octets = Octets(&out);
        values.iter().for_each(|&value| assert_eq!(octets.number(), Some(value)));
        assert!(octets.is_empty());
        for value in [0, 1, -1, 63, -64, i64::MAX, i64::MIN] {
            assert_eq!(unfold(fold(value)), value);
        }
        assert_eq!([0, -1, 1, -2].map(fold), [0, 1, 2, 3]);
    }

    #[test]
    fn what_is_cut_short_or_runs_on_is_no_number() {
        assert_eq!(Octets(&[]).number(), None);
        assert_eq!(Octets(&[0x80, 0x80]).number(), None);
        assert_eq!(Octets(&[0xff; 12]).number(), None);
        assert_eq!(Octets(&[5, 1, 2]).count(), None);
        assert_eq!(Octets(&[2, 1]).item::<u64>(), None);
    }
}
