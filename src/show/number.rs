//! Cue numbers, as the stage manager calls them.

use std::fmt;

use serde::{Deserialize, Serialize};

/// Dotted decimals, compared part by part: 12.5 between 12 and 13, 12.10 after 12.9. Never a float.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub struct CueNumber(Vec<u32>);

/// Why a text is not a cue number.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum CueNumberError {
    Empty,
    /// A part that is empty or holds something other than digits.
    Part,
    LeadingZero,
    /// More than eight parts, or a part over nine digits.
    TooLong,
}

impl CueNumber {
    pub const PARTS_MAX: usize = 8;
    pub const DIGITS_MAX: usize = 9;
}

impl std::str::FromStr for CueNumber {
    type Err = CueNumberError;

    fn from_str(text: &str) -> Result<CueNumber, CueNumberError> {
        if text.is_empty() {
            return Err(CueNumberError::Empty);
        }
        let mut parts = Vec::new();
        for part in text.split('.') {
            if part.is_empty() || !part.bytes().all(|byte| byte.is_ascii_digit()) {
                return Err(CueNumberError::Part);
            }
            if part.len() > 1 && part.starts_with('0') {
                return Err(CueNumberError::LeadingZero);
            }
            if part.len() > CueNumber::DIGITS_MAX || parts.len() == CueNumber::PARTS_MAX {
                return Err(CueNumberError::TooLong);
            }
            parts.push(part.parse().map_err(|_| CueNumberError::Part)?);
        }
        Ok(CueNumber(parts))
    }
}

impl TryFrom<String> for CueNumber {
    type Error = CueNumberError;

    fn try_from(text: String) -> Result<CueNumber, CueNumberError> {
        text.parse()
    }
}

impl From<CueNumber> for String {
    fn from(number: CueNumber) -> String {
        number.to_string()
    }
}

impl fmt::Display for CueNumber {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (index, part) in self.0.iter().enumerate() {
            if index > 0 {
                f.write_str(".")?;
            }
            write!(f, "{part}")?;
        }
        Ok(())
    }
}

impl fmt::Display for CueNumberError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            CueNumberError::Empty => "it is empty",
            CueNumberError::Part => "only digits may stand between its dots",
            CueNumberError::LeadingZero => "a part may not have a leading zero",
            CueNumberError::TooLong => "it has more than 8 parts or a part of more than 9 digits",
        })
    }
}

impl std::error::Error for CueNumberError {}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn parts_are_compared_as_numbers_one_by_one() {
        let numbers = ["9", "12", "12.5", "12.9", "12.10", "12.10.1", "13"];
        let parsed: Vec<CueNumber> = numbers.map(|text| text.parse().unwrap()).to_vec();
        assert!(parsed.is_sorted());
        assert_eq!(parsed.iter().map(ToString::to_string).collect::<Vec<_>>(), numbers);
    }

    #[test]
    fn what_is_no_number_is_told_apart() {
        let error = |text: &str| text.parse::<CueNumber>().unwrap_err();
        assert_eq!(error(""), CueNumberError::Empty);
        assert_eq!(error("12."), CueNumberError::Part);
        assert_eq!(error("12a"), CueNumberError::Part);
        assert_eq!(error("-1"), CueNumberError::Part);
        assert_eq!(error("012"), CueNumberError::LeadingZero);
        assert_eq!(error("12.05"), CueNumberError::LeadingZero);
        assert_eq!(error("1.1.1.1.1.1.1.1.1"), CueNumberError::TooLong);
        assert_eq!(error("1234567890"), CueNumberError::TooLong);
    }
}
