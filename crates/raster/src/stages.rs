//! The stages of the pipeline.

use std::ops::BitOr;

/// A set of pipeline stages.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Stages(u8);

impl Stages {
    /// No stage.
    pub const NONE: Self = Self(0);
    /// Port writes.
    pub const PORT: Self = Self(1);
    /// Taking over the start address.
    pub const LATCH: Self = Self(2);
    /// Address of each byte.
    pub const ADDRESS: Self = Self(4);
    /// The bytes fetched.
    pub const FETCH: Self = Self(8);
    /// Pixel values.
    pub const PIXEL: Self = Self(16);
    /// Colour tables.
    pub const COLOUR: Self = Self(32);
    /// Comparands and sync.
    pub const SYNC: Self = Self(64);
    /// Bytes written to memory by the processor.
    pub const MEMORY: Self = Self(128);

    /// Whether this set has every stage of `other`.
    #[must_use]
    pub const fn has(self, other: Self) -> bool {
        self.0 & other.0 == other.0
    }

    /// Whether this set has no stage of `other`.
    #[must_use]
    pub const fn is_none_of(self, other: Self) -> bool {
        self.0 & other.0 == 0
    }
}

impl BitOr for Stages {
    type Output = Self;

    fn bitor(self, other: Self) -> Self {
        Self(self.0 | other.0)
    }
}
