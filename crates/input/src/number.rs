//! Whole numbers as the command line and the files write them: `39`, `0x27`, `27h`, with underscores between digits.

use std::fmt;
use std::str::FromStr;

use serde::de::{Deserialize, Deserializer, Visitor};
use serde::ser::{Serialize, Serializer};

use crate::words::shortened;

/// How numbers are written, for messages.
const FORMS: &str = "a whole number such as 39, 0x27 or 27h";

/// Why a text is no number. Displays as `found …, allowed …`.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("found {found}, allowed {allowed}", found = self.found(), allowed = self.allowed())]
#[non_exhaustive]
pub enum NumberError {
    /// Not written like a number; holds the text.
    Malformed(String),
    /// Written like a number, but above 2⁶⁴ − 1; holds the text.
    TooLarge(String),
}

impl NumberError {
    /// What was found, for people.
    #[must_use]
    pub fn found(&self) -> String {
        match self {
            Self::Malformed(text) if text.is_empty() => "nothing".to_owned(),
            Self::Malformed(text) | Self::TooLarge(text) => shortened(text),
        }
    }

    /// What is allowed, for people.
    #[must_use]
    pub fn allowed(&self) -> String {
        match self {
            Self::Malformed(_) => FORMS.to_owned(),
            Self::TooLarge(_) => format!("at most {}", u64::MAX),
        }
    }
}

/// Reads a whole number: decimal, hexadecimal as `0x…` or `…h` (letters in either case), underscores between digits.
///
/// # Errors
/// Signs, blanks, fractions and anything else that is no number; numbers above 2⁶⁴ − 1.
pub fn number(text: &str) -> Result<u64, NumberError> {
    let (digits, base) = digits_and_base(text);
    let divided = digits.split('_').all(|part| !part.is_empty() && part.chars().all(|c| c.is_digit(base)));
    if !divided {
        return Err(NumberError::Malformed(text.to_owned()));
    }
    u64::from_str_radix(&digits.replace('_', ""), base).map_err(|_| NumberError::TooLarge(text.to_owned()))
}

fn digits_and_base(text: &str) -> (&str, u32) {
    let prefixed = text.strip_prefix("0x").or_else(|| text.strip_prefix("0X"));
    match prefixed.or_else(|| text.strip_suffix(['h', 'H'])) {
        Some(digits) => (digits, 16),
        None => (text, 10),
    }
}

/// A number in a form: a RON whole number (RON itself reads `0x27`) or a text such as `"27h"`. Written as a whole number.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Number(u64);

impl Number {
    /// The number.
    #[must_use]
    pub const fn get(self) -> u64 {
        self.0
    }
}

impl From<u64> for Number {
    fn from(value: u64) -> Self {
        Self(value)
    }
}

impl From<Number> for u64 {
    fn from(number: Number) -> Self {
        number.0
    }
}

impl FromStr for Number {
    type Err = NumberError;

    fn from_str(text: &str) -> Result<Self, NumberError> {
        number(text).map(Self)
    }
}

impl fmt::Display for Number {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.fmt(f)
    }
}

impl Serialize for Number {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_u64(self.0)
    }
}

impl<'de> Deserialize<'de> for Number {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        deserializer.deserialize_any(NumberVisitor)
    }
}

struct NumberVisitor;

impl Visitor<'_> for NumberVisitor {
    type Value = Number;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("a whole number such as 39, 0x27 or \"27h\"")
    }

    fn visit_u64<E: serde::de::Error>(self, value: u64) -> Result<Number, E> {
        Ok(Number(value))
    }

    fn visit_i64<E: serde::de::Error>(self, value: i64) -> Result<Number, E> {
        u64::try_from(value).map(Number).map_err(|_| E::invalid_value(serde::de::Unexpected::Signed(value), &self))
    }

    fn visit_str<E: serde::de::Error>(self, text: &str) -> Result<Number, E> {
        text.parse().map_err(E::custom)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{Source, parse};
    use proptest::prelude::*;

    #[test]
    fn all_three_ways_of_writing_are_read() {
        for (text, value) in [
            ("39", 39),
            ("0x27", 39),
            ("27h", 39),
            ("0FFH", 255),
            ("FFh", 255),
            ("0XfF", 255),
            ("64_000", 64_000),
            ("0xB8_00", 0xb800),
            ("18446744073709551615", u64::MAX),
            ("0", 0),
        ] {
            assert_eq!(number(text), Ok(value), "{text}");
        }
    }

    #[test]
    fn anything_else_is_refused() {
        for text in ["", "h", "0x", "_1", "1_", "1__2", "-1", "+1", " 1", "1 ", "2A", "0x27h", "1.5", "1e3", "٣"] {
            assert_eq!(number(text), Err(NumberError::Malformed(text.to_owned())), "{text}");
        }
        let large = "18446744073709551616";
        assert_eq!(
            number(large).unwrap_err().to_string(),
            "found 18446744073709551616, allowed at most 18446744073709551615"
        );
        assert_eq!(
            number("").unwrap_err().to_string(),
            "found nothing, allowed a whole number such as 39, 0x27 or 27h"
        );
    }

    #[test]
    fn forms_take_numbers_and_texts() {
        let numbers = |text: &str| parse::<Vec<Number>>(&Source::built_in("f", text));
        let read = numbers("[39, 0x27, \"27h\"]").unwrap();
        assert_eq!(read, [Number(39); 3]);
        for (text, message) in [
            ("[-1]", "f:1:2: 0: found -1, allowed a whole number such as 39, 0x27 or \"27h\""),
            ("[1.5]", "f:1:2: 0: found 1.5, allowed a whole number such as 39, 0x27 or \"27h\""),
            ("[\"2A\"]", "f:1:2: 0: found 2A, allowed a whole number such as 39, 0x27 or 27h"),
            ("[27h]", "f:1:2: 0: found 27h, allowed a whole number from 0"),
        ] {
            assert_eq!(numbers(text).unwrap_err().to_string(), message);
        }
        let bare = numbers("[27h]").unwrap_err();
        assert_eq!(bare.help(), Some("hexadecimal is written 0x27 here"));
    }

    proptest! {
        #[test]
        fn the_standard_library_writes_what_we_read(value: u64) {
            prop_assert_eq!(number(&format!("{value}")), Ok(value));
            prop_assert_eq!(number(&format!("{value:#x}")), Ok(value));
            prop_assert_eq!(number(&format!("{value:X}h")), Ok(value));
            prop_assert_eq!(number(&Number(value).to_string()), Ok(value));
        }

        #[test]
        fn any_text_is_read_or_refused(text in "(?s).{0,30}") {
            let _ = number(&text);
        }
    }
}
