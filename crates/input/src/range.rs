//! Ranges as the command line and the files write them: `FROM..TO`, `FROM..=TO`, both with `/STEP`, or one number.

use std::fmt;
use std::str::FromStr;

use serde::de::{Deserialize, Deserializer, Visitor};
use serde::ser::{Serialize, Serializer};

use crate::{NumberError, number};

/// How ranges are written, for messages.
const FORMS: &str = "FROM..TO, FROM..=TO, either with /STEP, or one number";

/// Why a text or a pair of bounds is no range. Displays as `found …, allowed …`.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("found {found}, allowed {allowed}", found = self.found(), allowed = self.allowed())]
#[non_exhaustive]
pub enum RangeError {
    /// One of the numbers is none.
    Number(#[from] NumberError),
    /// No value lies between the bounds.
    Empty {
        /// The lower bound.
        from: u64,
        /// The upper bound.
        to: u64,
        /// Whether the upper bound itself is allowed.
        inclusive: bool,
    },
    /// The step is 0.
    NoStep,
    /// All 2⁶⁴ numbers: one more than can be counted.
    TooLong,
}

impl RangeError {
    /// What was found, for people.
    #[must_use]
    pub fn found(&self) -> String {
        match self {
            Self::Number(error) => error.found(),
            Self::Empty { from, to, inclusive } => {
                format!("{from}..{}{to}", if *inclusive { "=" } else { "" })
            }
            Self::NoStep => "a step of 0".to_owned(),
            Self::TooLong => format!("0..={}", u64::MAX),
        }
    }

    /// What is allowed, for people.
    #[must_use]
    pub fn allowed(&self) -> String {
        match self {
            Self::Number(error @ NumberError::TooLarge(_)) => error.allowed(),
            Self::Number(_) => FORMS.to_owned(),
            Self::Empty { inclusive: true, .. } => "a TO that is not below FROM".to_owned(),
            Self::Empty { .. } => "a TO above FROM (TO itself is left out)".to_owned(),
            Self::NoStep => "a step of 1 or more".to_owned(),
            Self::TooLong => format!("at most {} values", u64::MAX),
        }
    }
}

/// Rising whole numbers from a first to a last at an even step: at least one, at most 2⁶⁴ − 1 of them.
///
/// Ranges are equal if they hold the same numbers: `0..40/16` equals `0..=32/16`, and displays as that.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Range {
    from: u64,
    /// The last number that is reached; `from` plus a multiple of the step.
    last: u64,
    /// 1 or more; 1 for a single number.
    step: u64,
}

impl Range {
    /// The numbers from `from` in steps of `step`, as far as `to` and including it.
    ///
    /// # Errors
    /// `to` below `from`, a step of 0, or all 2⁶⁴ numbers.
    pub fn inclusive(from: u64, to: u64, step: u64) -> Result<Self, RangeError> {
        let inclusive = true;
        let width = to.checked_sub(from).ok_or(RangeError::Empty { from, to, inclusive })?;
        let remainder = width.checked_rem(step).ok_or(RangeError::NoStep)?;
        if width == u64::MAX && step == 1 {
            return Err(RangeError::TooLong);
        }
        let last = to - remainder;
        let step = if last == from { 1 } else { step };
        Ok(Self { from, last, step })
    }

    /// The numbers from `from` in steps of `step`, below `to`.
    ///
    /// # Errors
    /// `to` not above `from`, or a step of 0.
    pub fn exclusive(from: u64, to: u64, step: u64) -> Result<Self, RangeError> {
        let inclusive = false;
        match to.checked_sub(1) {
            Some(last) if last >= from => Self::inclusive(from, last, step),
            _ => Err(RangeError::Empty { from, to, inclusive }),
        }
    }

    /// The range that holds `value` alone.
    #[must_use]
    pub const fn single(value: u64) -> Self {
        Self { from: value, last: value, step: 1 }
    }

    /// The first and least number.
    #[must_use]
    pub const fn from(&self) -> u64 {
        self.from
    }

    /// The last and greatest number, itself part of the range.
    #[must_use]
    pub const fn last(&self) -> u64 {
        self.last
    }

    /// The distance from one number to the next, 1 or more.
    #[must_use]
    pub const fn step(&self) -> u64 {
        self.step
    }

    /// How many numbers there are, 1 or more.
    #[must_use]
    #[expect(clippy::len_without_is_empty, reason = "a range is never empty")]
    pub const fn len(&self) -> u64 {
        (self.last - self.from) / self.step + 1
    }

    /// The numbers in rising order.
    pub fn iter(&self) -> impl DoubleEndedIterator<Item = u64> + Clone + use<> {
        let Self { from, step, .. } = *self;
        (0..self.len()).map(move |index| from + index * step)
    }

    /// Whether `value` is one of the numbers.
    #[must_use]
    pub const fn contains(&self, value: u64) -> bool {
        self.from <= value && value <= self.last && (value - self.from).is_multiple_of(self.step)
    }
}

impl FromStr for Range {
    type Err = RangeError;

    fn from_str(text: &str) -> Result<Self, RangeError> {
        let malformed = || NumberError::Malformed(text.to_owned());
        // An end that is no number makes the whole text no range: that is what the error shows.
        let end = |digits: &str| match number(digits) {
            Err(NumberError::Malformed(_)) => Err(malformed()),
            read => read,
        };
        let Some((from, rest)) = text.split_once("..") else {
            return Ok(Self::single(end(text)?));
        };
        let (to, step) = match rest.split_once('/') {
            Some((to, step)) => (to, end(step)?),
            None => (rest, 1),
        };
        match to.strip_prefix('=') {
            Some(to) => Self::inclusive(end(from)?, end(to)?, step),
            None => Self::exclusive(end(from)?, end(to)?, step),
        }
    }
}

impl fmt::Display for Range {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self { from, last, step } = self;
        match (from == last, step) {
            (true, _) => write!(f, "{from}"),
            (false, 1) => write!(f, "{from}..={last}"),
            (false, step) => write!(f, "{from}..={last}/{step}"),
        }
    }
}

impl Serialize for Range {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(self)
    }
}

impl<'de> Deserialize<'de> for Range {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        deserializer.deserialize_any(RangeVisitor)
    }
}

struct RangeVisitor;

impl Visitor<'_> for RangeVisitor {
    type Value = Range;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("a range in double quotes such as \"0..40\" or \"0..=39/2\", or one number")
    }

    fn visit_u64<E: serde::de::Error>(self, value: u64) -> Result<Range, E> {
        Ok(Range::single(value))
    }

    fn visit_i64<E: serde::de::Error>(self, value: i64) -> Result<Range, E> {
        u64::try_from(value)
            .map(Range::single)
            .map_err(|_| E::invalid_value(serde::de::Unexpected::Signed(value), &self))
    }

    fn visit_str<E: serde::de::Error>(self, text: &str) -> Result<Range, E> {
        text.parse().map_err(E::custom)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{Source, parse};
    use proptest::prelude::*;

    fn values(text: &str) -> Vec<u64> {
        text.parse::<Range>().unwrap().iter().collect()
    }

    fn refusal(text: &str) -> String {
        text.parse::<Range>().unwrap_err().to_string()
    }

    #[test]
    fn every_way_of_writing_is_read() {
        assert_eq!(values("0..3"), [0, 1, 2]);
        assert_eq!(values("0..=3"), [0, 1, 2, 3]);
        assert_eq!(values("0x10..20h/8"), [16, 24]);
        assert_eq!(values("0..=32/16"), [0, 16, 32]);
        assert_eq!(values("7"), [7]);
        assert_eq!(values("18446744073709551614..=18446744073709551615").len(), 2);
        assert_eq!(values("5..6/0xFF"), [5]);
    }

    #[test]
    fn what_is_no_range_is_refused() {
        assert_eq!(refusal("40..0"), "found 40..0, allowed a TO above FROM (TO itself is left out)");
        assert_eq!(refusal("5..5"), "found 5..5, allowed a TO above FROM (TO itself is left out)");
        assert_eq!(refusal("5..=4"), "found 5..=4, allowed a TO that is not below FROM");
        assert_eq!(refusal("0..4/0"), "found a step of 0, allowed a step of 1 or more");
        assert_eq!(
            refusal("0..=18446744073709551615"),
            "found 0..=18446744073709551615, allowed at most 18446744073709551615 values"
        );
        for text in ["", "..", "1..", "..4", "a..b", "1..2/", "1../2", "1...3", "3/2", "1..2..3", "-1..2"] {
            let found = if text.is_empty() { "nothing" } else { text };
            assert_eq!(refusal(text), format!("found {found}, allowed {FORMS}"));
        }
    }

    #[test]
    fn forms_take_texts_and_numbers() {
        let read = |text: &str| parse::<Vec<Range>>(&Source::built_in("f", text));
        assert_eq!(read("[\"0..40/16\", 7]").unwrap(), [Range::inclusive(0, 32, 16).unwrap(), Range::single(7)]);
        assert_eq!(
            read("[1, \"9..2\"]").unwrap_err().to_string(),
            "f:1:5: 1: found 9..2, allowed a TO above FROM (TO itself is left out)"
        );
        assert_eq!(
            read("[0..40]").unwrap_err().to_string(),
            "f:1:2: 0: found 0..40, allowed a range in double quotes such as \"0..40\" or \"0..=39/2\", or one number"
        );
    }

    proptest! {
        #[test]
        fn display_round_trips(from: u64, to: u64, step in 0..1000_u64) {
            if let Ok(range) = Range::inclusive(from, to, step) {
                prop_assert_eq!(range.to_string().parse(), Ok(range));
                let ron = ron::to_string(&range).unwrap();
                prop_assert_eq!(ron::from_str::<Range>(&ron).unwrap(), range);
            }
        }

        #[test]
        fn values_are_those_of_the_standard_library(from in 0..300_u64, to in 0..300_u64, step in 1..40_u64) {
            let written: Vec<u64> = (from..to).step_by(step as usize).collect();
            match format!("{from}..{to}/{step}").parse::<Range>() {
                Ok(range) => {
                    prop_assert_eq!(range.len(), written.len() as u64);
                    prop_assert!((0..300).all(|value| range.contains(value) == written.contains(&value)));
                    prop_assert_eq!(range.iter().collect::<Vec<_>>(), written);
                }
                Err(_) => prop_assert!(written.is_empty()),
            }
        }

        #[test]
        fn nothing_overflows(from: u64, to: u64, step: u64) {
            for range in [Range::inclusive(from, to, step), Range::exclusive(from, to, step)].into_iter().flatten() {
                prop_assert!(range.len() >= 1);
                prop_assert_eq!(range.iter().next(), Some(range.from()));
                prop_assert_eq!(range.iter().next_back(), Some(range.last()));
            }
        }

        #[test]
        fn any_text_is_read_or_refused(text in "(?s)[0-9xh_./=]{0,20}|.{0,20}") {
            let _ = text.parse::<Range>();
        }
    }
}
