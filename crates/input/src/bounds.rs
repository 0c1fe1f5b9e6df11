//! The whole numbers a field can hold.
//!
//! `ron` says that a number is out of bounds, but not out of which. Rather than wrap every call between serde and
//! `ron` to overhear the type asked for, the reader is asked again with the bounds of each type in the number's
//! place: the widest it accepts are the field's. That costs a few readings, on the way to an error only.

use std::ops::Range;

use serde::de::DeserializeOwned;

use crate::place::offset_of;
use crate::read::read;

/// Least and greatest value of a whole number's type.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Bounds {
    low: i128,
    high: i128,
}

/// The types of whole numbers that a form can hold, widest first.
const TYPES: [(&str, Bounds); 8] = [
    ("u64", Bounds::between(0, u64::MAX as i128)),
    ("i64", Bounds::between(i64::MIN as i128, i64::MAX as i128)),
    ("u32", Bounds::between(0, u32::MAX as i128)),
    ("i32", Bounds::between(i32::MIN as i128, i32::MAX as i128)),
    ("u16", Bounds::between(0, u16::MAX as i128)),
    ("i16", Bounds::between(i16::MIN as i128, i16::MAX as i128)),
    ("u8", Bounds::between(0, u8::MAX as i128)),
    ("i8", Bounds::between(i8::MIN as i128, i8::MAX as i128)),
];

impl Bounds {
    const fn between(low: i128, high: i128) -> Self {
        Self { low, high }
    }

    /// The bounds of the type that serde calls `name`.
    pub(crate) fn of_type(name: &str) -> Option<Self> {
        let name = match name {
            "usize" => "u64",
            "isize" => "i64",
            name => name,
        };
        let (_, bounds) = TYPES.iter().find(|(known, _)| *known == name)?;
        Some(*bounds)
    }

    /// The bounds of the field whose value stands at `span` in `text`; `None` if it takes no whole numbers alone.
    pub(crate) fn of_field<T: DeserializeOwned>(text: &str, span: &Range<usize>) -> Option<Self> {
        let accepts = |value: &str| accepts::<T>(text, span, value);
        if accepts("0.5") {
            return None;
        }
        let fits = |bounds: &Bounds| accepts(&bounds.high.to_string());
        TYPES.iter().map(|(_, bounds)| *bounds).find(fits)
    }

    /// `0..=255`.
    pub(crate) fn as_range(self) -> String {
        format!("{}..={}", self.low, self.high)
    }

    /// `a whole number, 0..=255`; bounds that no written number meets are left out.
    pub(crate) fn in_words(self) -> String {
        if self.high < i128::from(i64::MAX) {
            format!("a whole number, {}", self.as_range())
        } else if self.low == 0 {
            "a whole number from 0".to_owned()
        } else {
            "a whole number".to_owned()
        }
    }
}

/// Whether `value` in the place of `span` is read without an error of its own.
fn accepts<T: DeserializeOwned>(text: &str, span: &Range<usize>, value: &str) -> bool {
    let tried = format!("{}{value}{}", &text[..span.start], &text[span.end..]);
    let Err(error) = read::<T>(&tried) else {
        return true;
    };
    let reached = offset_of(&tried, error.span.end.line, error.span.end.col);
    let end = span.start + value.len();
    let of_the_value = matches!(
        error.code,
        ron::Error::IntegerOutOfBounds | ron::Error::InvalidValueForType { .. } | ron::Error::Message(_)
    );
    let refused = (span.start..end).contains(&reached) || reached == end && of_the_value;
    !refused
}

#[cfg(test)]
mod tests {
    use super::*;

    fn of<T: DeserializeOwned>() -> Option<String> {
        let text = "[1, -9x, 2]";
        Bounds::of_field::<Vec<T>>(text, &(4..7)).map(Bounds::as_range)
    }

    #[test]
    fn every_type_of_whole_number_is_recognised() {
        assert_eq!(of::<u8>().as_deref(), Some("0..=255"));
        assert_eq!(of::<i8>().as_deref(), Some("-128..=127"));
        assert_eq!(of::<u16>().as_deref(), Some("0..=65535"));
        assert_eq!(of::<i16>().as_deref(), Some("-32768..=32767"));
        assert_eq!(of::<u32>().as_deref(), Some("0..=4294967295"));
        assert_eq!(of::<i32>().as_deref(), Some("-2147483648..=2147483647"));
        assert_eq!(of::<u64>().as_deref(), Some("0..=18446744073709551615"));
        assert_eq!(of::<crate::Number>().as_deref(), Some("0..=18446744073709551615"));
    }

    #[test]
    fn other_types_have_no_bounds() {
        assert_eq!(of::<f64>(), None);
        assert_eq!(of::<String>(), None);
    }
}
