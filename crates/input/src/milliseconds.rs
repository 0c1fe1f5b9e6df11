//! Moments of a run as the command line and the files write them: milliseconds, with decimals down to the nanosecond.

use std::fmt;
use std::str::FromStr;

use serde::de::{Deserialize, Deserializer, Visitor};
use serde::ser::{Serialize, Serializer};

use crate::number::number;
use crate::words::shortened;

const NANOSECONDS: u64 = 1_000_000;

/// A moment of a run, up to a day after its start. Written as `500`, or with up to six decimals as `500.25`.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Milliseconds(u64);

/// Why a text is no moment. Displays as `found …, allowed …`.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("found {}, allowed 0 to 86400000 ms, with up to six decimals", shortened(.0))]
pub struct MillisecondsError(String);

impl Milliseconds {
    /// A day.
    const LATEST: u64 = 86_400_000 * NANOSECONDS;

    /// The moment this many nanoseconds after the start, at most a day.
    #[must_use]
    pub fn from_nanoseconds(nanoseconds: u64) -> Self {
        Self(nanoseconds.min(Self::LATEST))
    }

    /// In nanoseconds after the start.
    #[must_use]
    pub fn nanoseconds(self) -> u64 {
        self.0
    }

    /// The same, up to a day.
    fn checked(nanoseconds: Option<u64>, text: &str) -> Result<Self, MillisecondsError> {
        let within = nanoseconds.filter(|nanoseconds| *nanoseconds <= Self::LATEST);
        within.map(Self).ok_or_else(|| MillisecondsError(text.to_owned()))
    }
}

impl FromStr for Milliseconds {
    type Err = MillisecondsError;

    fn from_str(text: &str) -> Result<Self, MillisecondsError> {
        let Some((whole, decimals)) = text.split_once('.') else {
            let whole = number(text).ok();
            return Self::checked(whole.and_then(|whole| whole.checked_mul(NANOSECONDS)), text);
        };
        let digits = |text: &str| text.parse::<u64>().ok().filter(|_| text.bytes().all(|byte| byte.is_ascii_digit()));
        let fits = (1..=6).contains(&decimals.len());
        let parts = digits(whole).zip(digits(&format!("{decimals:0<6}"))).filter(|_| fits);
        Self::checked(parts.and_then(|(whole, part)| whole.checked_mul(NANOSECONDS)?.checked_add(part)), text)
    }
}

impl fmt::Display for Milliseconds {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (whole, part) = (self.0 / NANOSECONDS, self.0 % NANOSECONDS);
        match part {
            0 => write!(f, "{whole}"),
            part => f.write_str(format!("{whole}.{part:06}").trim_end_matches('0')),
        }
    }
}

impl Serialize for Milliseconds {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_f64(self.0 as f64 / NANOSECONDS as f64)
    }
}

impl<'de> Deserialize<'de> for Milliseconds {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        deserializer.deserialize_any(MillisecondsVisitor)
    }
}

struct MillisecondsVisitor;

impl Visitor<'_> for MillisecondsVisitor {
    type Value = Milliseconds;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("milliseconds such as 500 or 500.25")
    }

    fn visit_u64<E: serde::de::Error>(self, value: u64) -> Result<Milliseconds, E> {
        Milliseconds::checked(value.checked_mul(NANOSECONDS), &value.to_string()).map_err(E::custom)
    }

    /// A day in nanoseconds is well within what an `f64` holds exactly.
    fn visit_f64<E: serde::de::Error>(self, value: f64) -> Result<Milliseconds, E> {
        let nanoseconds = (value * NANOSECONDS as f64).round();
        let within = (0.0..=Milliseconds::LATEST as f64).contains(&nanoseconds);
        Milliseconds::checked(within.then_some(nanoseconds as u64), &value.to_string()).map_err(E::custom)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{Source, parse};
    use proptest::prelude::*;

    #[test]
    fn moments_are_read_and_others_refused() {
        for (text, nanoseconds) in
            [("0", 0), ("500", 500_000_000), ("500.25", 500_250_000), ("0.000001", 1), ("86400000", 86_400_000_000_000)]
        {
            assert_eq!(text.parse(), Ok(Milliseconds(nanoseconds)), "{text}");
            let read = parse::<Milliseconds>(&Source::built_in("f", text));
            assert_eq!(read.unwrap(), Milliseconds(nanoseconds), "{text}");
        }
        for text in ["", ".", ".5", "5.", "-1", "1.0000001", "1e3", "86400000.1", "86400001", "18446744073709551615"] {
            let error = text.parse::<Milliseconds>().unwrap_err().to_string();
            assert!(error.ends_with("allowed 0 to 86400000 ms, with up to six decimals"), "{text}: {error}");
        }
        for text in ["-1", "-0.5", "86400001", "86400000.1", "inf", "NaN", "\"5\""] {
            assert!(parse::<Milliseconds>(&Source::built_in("f", text)).is_err(), "{text}");
        }
    }

    proptest! {
        #[test]
        fn what_is_written_is_read_again(nanoseconds in 0..=Milliseconds::LATEST) {
            let moment = Milliseconds::from_nanoseconds(nanoseconds);
            prop_assert_eq!(moment.to_string().parse(), Ok(moment));
            prop_assert_eq!(parse::<Milliseconds>(&Source::built_in("f", moment.to_string())).unwrap(), moment);
        }
    }
}
