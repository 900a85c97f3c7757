//! A token and what is kept of it.
//!
//! A token is 32 random bytes, so nobody guesses it: of 2^256 even a billion tries a second find none. What a slow hash
//! is for, making guesses at a human's password dear, does not arise; a plain SHA-256 (FIPS 180-4) keeps the token out
//! of the file, and is quick enough to be taken at every request.

use std::fmt;

use sha2::{Digest, Sha256};
use subtle::ConstantTimeEq;

pub const SECRET_BYTES: usize = 32;

/// A token itself. Shown once to the one who makes it; neither kept nor logged.
#[derive(Clone)]
pub struct Secret([u8; SECRET_BYTES]);

/// The SHA-256 of a token, as written in access.toml: `sha256:` and 64 hexadecimal digits.
#[derive(Clone, Copy, PartialEq, Eq)]
pub struct TokenHash([u8; SECRET_BYTES]);

/// What a text is instead of a token.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct SecretError {
    pub characters: usize,
}

impl Secret {
    /// From the system's own source of randomness.
    pub fn new(random: [u8; SECRET_BYTES]) -> Secret {
        Secret(random)
    }

    /// Reads a token as it was printed; case and blanks around it do not matter, since hands type it.
    ///
    /// # Errors
    /// Anything but 64 hexadecimal digits.
    pub fn parse(text: &str) -> Result<Secret, SecretError> {
        let text = text.trim();
        from_hex(text).map(Secret).ok_or(SecretError { characters: text.chars().count() })
    }

    /// 64 hexadecimal digits.
    pub fn text(&self) -> String {
        hex(&self.0)
    }

    pub fn hash(&self) -> TokenHash {
        TokenHash(Sha256::digest(self.0).into())
    }
}

impl fmt::Debug for Secret {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("Secret(not shown)")
    }
}

impl TokenHash {
    const SCHEME: &str = "sha256:";

    /// `None` if it is not written as it should be.
    pub fn parse(text: &str) -> Option<TokenHash> {
        from_hex(text.strip_prefix(TokenHash::SCHEME)?).map(TokenHash)
    }

    /// Whether both are the same, in a time that does not depend on where they differ.
    pub fn fits(&self, other: &TokenHash) -> bool {
        self.0.ct_eq(&other.0).into()
    }
}

impl fmt::Display for TokenHash {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}{}", TokenHash::SCHEME, hex(&self.0))
    }
}

impl fmt::Debug for TokenHash {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "TokenHash({self})")
    }
}

impl fmt::Display for SecretError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let SecretError { characters } = self;
        write!(f, "expected a token of 64 hexadecimal digits, as `bellwire access` prints it; found ")?;
        match characters {
            64 => f.write_str("64 characters of which some are none"),
            _ => write!(f, "{characters} characters"),
        }
    }
}

impl std::error::Error for SecretError {}

fn hex(bytes: &[u8]) -> String {
    bytes.iter().map(|byte| format!("{byte:02x}")).collect()
}

fn from_hex(text: &str) -> Option<[u8; SECRET_BYTES]> {
    let text = text.as_bytes();
    if text.len() != 2 * SECRET_BYTES {
        return None;
    }
    let mut bytes = [0; SECRET_BYTES];
    for (byte, pair) in bytes.iter_mut().zip(text.chunks_exact(2)) {
        let digit = |digit: u8| char::from(digit).to_digit(16);
        *byte = (digit(pair[0])? * 16 + digit(pair[1])?) as u8;
    }
    Some(bytes)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// FIPS 180-4: SHA-256 of 32 zero bytes, as `head -c32 /dev/zero | sha256sum` gives it.
    const OF_ZEROS: &str = "sha256:66687aadf862bd776c8fc18b8e9f8e20089714856ee233b3902a591d0d5f2925";

    #[test]
    fn a_token_is_kept_as_the_sha_256_of_its_bytes() {
        let secret = Secret::parse(&"0".repeat(64)).expect("a token");
        assert_eq!(secret.hash().to_string(), OF_ZEROS);
        assert!(TokenHash::parse(OF_ZEROS).expect("a hash").fits(&secret.hash()));
    }

    #[test]
    fn a_token_is_read_as_hands_and_clipboards_give_it() {
        let secret = Secret::new(std::array::from_fn(|index| 7 * index as u8));
        for text in [secret.text(), secret.text().to_uppercase(), format!(" {}\n", secret.text())] {
            assert!(Secret::parse(&text).expect("a token").hash().fits(&secret.hash()), "{text}");
        }
        for text in ["", "0", &"g".repeat(64), &"0".repeat(63), &"0".repeat(65), &"é".repeat(32)] {
            assert!(Secret::parse(text).is_err(), "{text}");
        }
    }

    #[test]
    fn one_bit_is_another_token() {
        let bytes = [0x5a; SECRET_BYTES];
        let hash = Secret::new(bytes).hash();
        for bit in 0..8 * SECRET_BYTES {
            let mut other = bytes;
            other[bit / 8] ^= 1 << (bit % 8);
            assert!(!hash.fits(&Secret::new(other).hash()), "bit {bit}");
        }
    }

    #[test]
    fn no_token_is_shown_by_a_debugger() {
        let secret = Secret::new([0xab; SECRET_BYTES]);
        assert!(!format!("{secret:?}").contains("ab"));
    }
}
