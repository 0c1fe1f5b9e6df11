//! Which facts of a line decide what a tap does to it.
//!
//! A search over start addresses asks the same tap about millions of lines. It
//! may reuse an answer only where the tap has said that nothing it looks at
//! has changed; a tap that says nothing is taken to look at everything.

use std::ops::BitOr;

/// A set of the facts of a [`Line`](crate::Line).
///
/// The display format, `unit` and `mask` are the same for all lines of a
/// setting and belong to no set.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct LineFacts(u8);

impl LineFacts {
    /// No fact at all.
    pub const NONE: Self = Self(0);
    /// `linear`: where the line begins.
    pub const LINEAR: Self = Self(1);
    /// `displayed`, `bytes` and `pitch`: how long it is.
    pub const LENGTH: Self = Self(2);
    /// `scan_line`, `picture_line`, `row`, `row_address` and `bank`: which line it is.
    pub const PLACE: Self = Self(4);
    /// `start`: the frame's start address.
    pub const START: Self = Self(8);
    /// `frame`: the frame's number.
    pub const FRAME: Self = Self(16);
    /// Everything.
    pub const ALL: Self = Self(31);

    /// Whether this set has every fact of `other`.
    #[must_use]
    pub const fn has(self, other: Self) -> bool {
        self.0 & other.0 == other.0
    }

    /// Whether this set has no fact outside `other`.
    #[must_use]
    pub const fn within(self, other: Self) -> bool {
        self.0 & !other.0 == 0
    }
}

impl BitOr for LineFacts {
    type Output = Self;

    fn bitor(self, other: Self) -> Self {
        Self(self.0 | other.0)
    }
}
