//! Units with a meaning: a frequency is never a bare number.

use std::fmt;

use serde::{Deserialize, Serialize};

/// A frequency in hertz, finite and above zero.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd, Serialize, Deserialize)]
#[serde(try_from = "f64", into = "f64")]
pub struct Hertz(f64);

impl Hertz {
    /// `None` unless `value` is finite and above zero.
    #[must_use]
    pub fn new(value: f64) -> Option<Self> {
        (value.is_finite() && value > 0.0).then_some(Self(value))
    }

    /// The number of cycles a second.
    #[must_use]
    pub fn get(self) -> f64 {
        self.0
    }

    /// The same in thousandths of a hertz, rounded, at least one: for exact time.
    #[must_use]
    pub fn millihertz(self) -> u64 {
        (self.0 * 1000.0).round().max(1.0) as u64
    }

    /// How long `cycles` of this frequency last, in microseconds.
    #[must_use]
    pub fn microseconds(self, cycles: f64) -> f64 {
        cycles / self.0 * 1e6
    }
}

impl TryFrom<f64> for Hertz {
    type Error = String;

    fn try_from(value: f64) -> Result<Self, Self::Error> {
        Self::new(value).ok_or_else(|| format!("found {value}, allowed a frequency above 0 Hz"))
    }
}

impl From<Hertz> for f64 {
    fn from(value: Hertz) -> f64 {
        value.0
    }
}

impl fmt::Display for Hertz {
    /// Kilohertz and megahertz where that reads better.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.0 {
            v if v >= 1e6 => write!(f, "{:.4} MHz", v / 1e6),
            v if v >= 1e3 => write!(f, "{:.3} kHz", v / 1e3),
            v => write!(f, "{v:.2} Hz"),
        }
    }
}
