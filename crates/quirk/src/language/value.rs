//! Values as a quirk file writes them: a number, or the name of a parameter.

use std::fmt;

use backporch_input::refuse;
use serde::de::{Deserialize, Deserializer, Visitor};
use serde::ser::{Serialize, Serializer};

/// A number or the name of an open parameter.
///
/// Written as a whole number (`256`, `0x1F`, `-2`), as a text that holds one (`"1Fh"`), or as a parameter's name.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub enum Value {
    /// A number.
    Number(i64),
    /// The name of a parameter of the family.
    Parameter(String),
}

impl From<i64> for Value {
    fn from(number: i64) -> Self {
        Self::Number(number)
    }
}

/// Numbers as they are, parameters as `<name>`; the alternate form (`{:#}`) writes numbers of 10 and more in hexadecimal.
impl fmt::Display for Value {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Number(number) if f.alternate() && *number >= 10 => write!(f, "{number:X}h"),
            Self::Number(number) => write!(f, "{number}"),
            Self::Parameter(name) => write!(f, "<{name}>"),
        }
    }
}

impl Serialize for Value {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        match self {
            Self::Number(number) => serializer.serialize_i64(*number),
            Self::Parameter(name) => serializer.serialize_str(name),
        }
    }
}

impl<'de> Deserialize<'de> for Value {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        deserializer.deserialize_any(ValueVisitor)
    }
}

struct ValueVisitor;

impl Visitor<'_> for ValueVisitor {
    type Value = Value;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("a whole number or the name of a parameter")
    }

    fn visit_i64<E: serde::de::Error>(self, number: i64) -> Result<Value, E> {
        Ok(Value::Number(number))
    }

    fn visit_u64<E: serde::de::Error>(self, number: u64) -> Result<Value, E> {
        i64::try_from(number).map(Value::Number).map_err(|_| refuse(number, format!("at most {}", i64::MAX)))
    }

    fn visit_str<E: serde::de::Error>(self, text: &str) -> Result<Value, E> {
        if text.starts_with(|c: char| c.is_ascii_digit()) {
            let number = backporch_input::number(text).map_err(|error| refuse(error.found(), error.allowed()))?;
            return self.visit_u64(number);
        }
        if is_name(text, '_') {
            Ok(Value::Parameter(text.to_owned()))
        } else {
            Err(refuse(format!("\"{text}\""), "a whole number or the name of a parameter in snake case"))
        }
    }
}

/// Whether a text is a name: a small letter, then small letters, digits and single joints.
pub(crate) fn is_name(text: &str, joint: char) -> bool {
    let letters = |part: &str| !part.is_empty() && part.chars().all(|c| c.is_ascii_lowercase() || c.is_ascii_digit());
    text.starts_with(|c: char| c.is_ascii_lowercase()) && text.split(joint).all(letters)
}

/// What a value may be.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Limits {
    /// From the first to the second, both included.
    Between(i32, i32),
    /// A power of two, from the first to the second, both included.
    PowerOfTwo(i32, i32),
}

impl Limits {
    /// The bits of a word of this many bits: masks.
    pub const fn bits(bits: u32) -> Self {
        Self::Between(0, ((1u64 << bits) - 1) as i32)
    }

    /// Whether a number lies within them.
    #[must_use]
    pub fn allow(self, number: i64) -> bool {
        match self {
            Self::Between(from, to) => (i64::from(from)..=i64::from(to)).contains(&number),
            Self::PowerOfTwo(from, to) => {
                (i64::from(from)..=i64::from(to)).contains(&number) && number & (number - 1) == 0
            }
        }
    }
}

impl fmt::Display for Limits {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Between(from, to) => write!(f, "{from} to {to}"),
            Self::PowerOfTwo(from, to) => write!(f, "a power of two, {from} to {to}"),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(text: &str) -> Result<Value, String> {
        let source = backporch_input::Source::built_in("v", text);
        backporch_input::parse(&source).map_err(|error| error.to_string())
    }

    #[test]
    fn numbers_and_names_are_told_apart() {
        assert_eq!(read("256"), Ok(Value::Number(256)));
        assert_eq!(read("-2"), Ok(Value::Number(-2)));
        assert_eq!(read("0x1F"), Ok(Value::Number(31)));
        assert_eq!(read("\"1Fh\""), Ok(Value::Number(31)));
        assert_eq!(read("\"row_bytes\""), Ok(Value::Parameter("row_bytes".into())));
        assert_eq!(read("\"each\""), Ok(Value::Parameter("each".into())), "a name, though it ends like a number");
    }

    #[test]
    fn other_texts_are_refused() {
        for text in ["\"Row\"", "\"row__bytes\"", "\"_\"", "\"\"", "\"1x\"", "1.5", "[1]", "\"18446744073709551615\""] {
            assert!(read(text).is_err(), "{text}");
        }
    }

    #[test]
    fn limits_hold_at_their_ends() {
        assert!(Limits::Between(-3, 4).allow(-3) && Limits::Between(-3, 4).allow(4));
        assert!(!Limits::Between(-3, 4).allow(5) && !Limits::Between(-3, 4).allow(i64::MIN));
        let rows = Limits::PowerOfTwo(2, 256);
        assert!(rows.allow(2) && rows.allow(256));
        assert!(!rows.allow(1) && !rows.allow(96) && !rows.allow(512) && !rows.allow(0));
    }
}
