//! What an instruction costs in clocks.

/// Clocks of one decoded instruction, what depends on the moment left open.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ClockCost {
    /// Always the same.
    Flat(u16),
    /// The same, and the bytes of the instruction jumped to.
    Jump(u16),
    /// One or the other; a taken one may cost the bytes of its target, too.
    Branch {
        /// Not taken.
        not: u16,
        /// Taken.
        taken: u16,
        /// Whether the target's bytes count.
        target: bool,
    },
    /// This many, and this many a bit shifted or looked at.
    Bits {
        /// Before the first bit.
        base: u16,
        /// A bit.
        each: u16,
    },
    /// This many, and one for every bit of the multiplier that counts beyond the third.
    EarlyOut(u16),
    /// A string under a repeat prefix.
    Repeated {
        /// Once.
        start: u16,
        /// A repetition.
        each: u16,
    },
    /// A stack frame, by nesting level 0, 1, or more at this many a level.
    Frame {
        /// Level 0.
        none: u16,
        /// Level 1.
        one: u16,
        /// Level 2 and beyond: this, and `each` for every level after the first.
        more: u16,
        /// A level.
        each: u16,
    },
}

impl ClockCost {
    /// No clocks.
    pub const FREE: Self = Self::Flat(0);

    /// With this many more clocks.
    pub(crate) fn plus(self, more: u16) -> Self {
        match self {
            Self::Flat(clocks) => Self::Flat(clocks + more),
            Self::Jump(clocks) => Self::Jump(clocks + more),
            Self::Branch { not, taken, target } => Self::Branch { not: not + more, taken: taken + more, target },
            Self::Bits { base, each } => Self::Bits { base: base + more, each },
            Self::EarlyOut(clocks) => Self::EarlyOut(clocks + more),
            Self::Repeated { start, each } => Self::Repeated { start: start + more, each },
            Self::Frame { none, one, more: many, each } => {
                Self::Frame { none: none + more, one: one + more, more: many + more, each }
            }
        }
    }
}
