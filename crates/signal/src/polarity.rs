//! Polarity of the two sync lines, by which some monitors choose a rate or a picture height.

use std::fmt;

use serde::{Deserialize, Serialize};

/// Which level of a sync line is the pulse.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Polarity {
    /// The pulse is the high level.
    Positive,
    /// The pulse is the low level.
    Negative,
}

impl Polarity {
    /// The word for it.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Positive => "positive",
            Self::Negative => "negative",
        }
    }
}

/// Polarity of horizontal and vertical sync.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct SyncPolarity {
    /// Of horizontal sync.
    pub horizontal: Polarity,
    /// Of vertical sync.
    pub vertical: Polarity,
}

impl SyncPolarity {
    /// As the miscellaneous output register of the EGA and VGA classes holds it in bits 6 and 7: bit 0 for horizontal, bit 1
    /// for vertical sync, a one for negative (Technical Reference, enhanced graphics adapter). Bits above are not looked at.
    #[must_use]
    pub fn from_bits(bits: u32) -> Self {
        let of = |bit: u32| if bits & bit == 0 { Polarity::Positive } else { Polarity::Negative };
        Self { horizontal: of(1), vertical: of(2) }
    }
}

impl fmt::Display for SyncPolarity {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "horizontal {} and vertical {}", self.horizontal.name(), self.vertical.name())
    }
}

/// A signal's polarity held against those a monitor takes.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PolarityReading {
    /// The signal's polarity.
    pub value: SyncPolarity,
    /// Those the monitor takes, one at least.
    pub allowed: Vec<SyncPolarity>,
}

impl PolarityReading {
    /// Whether the monitor takes it.
    #[must_use]
    pub fn holds(&self) -> bool {
        self.allowed.contains(&self.value)
    }

    /// The polarities allowed, in words.
    #[must_use]
    pub fn allowed(&self) -> String {
        let allowed: Vec<String> = self.allowed.iter().map(ToString::to_string).collect();
        allowed.join(", or ")
    }
}

impl fmt::Display for PolarityReading {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "sync polarity {}; allowed {}", self.value, self.allowed())
    }
}
