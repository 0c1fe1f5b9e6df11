//! What depends on a register cell, so that a write makes only that anew.

use std::ops::{BitOr, BitOrAssign};

/// A set of the things that are decoded from registers.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Aspects(u8);

impl Aspects {
    /// Nothing.
    pub const NONE: Self = Self(0);
    /// Comparands of the counters.
    pub const TIMING: Self = Self(1);
    /// How memory is shown.
    pub const SHOWN: Self = Self(2);
    /// Colours of pixel values and border.
    pub const COLOUR: Self = Self(4);
    /// The processor's way to memory.
    pub const MEMORY: Self = Self(8);
    /// Everything.
    pub const ALL: Self = Self(15);

    /// Whether this set has something of `other`.
    #[must_use]
    pub const fn has(self, other: Self) -> bool {
        self.0 & other.0 != 0
    }

    /// This set without what `other` has.
    #[must_use]
    pub const fn without(self, other: Self) -> Self {
        Self(self.0 & !other.0)
    }
}

impl BitOr for Aspects {
    type Output = Self;

    fn bitor(self, other: Self) -> Self {
        Self(self.0 | other.0)
    }
}

impl BitOrAssign for Aspects {
    fn bitor_assign(&mut self, other: Self) {
        self.0 |= other.0;
    }
}
