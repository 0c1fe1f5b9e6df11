//! Port: what becomes of a byte on its way from the processor's bus to a register.

use backporch_adapter::{Guard, PortRole};
use backporch_raster::{PortWrite, WriteOutcome};

use crate::language::actions;

actions! {
    /// What a fault does to a byte written to a port.
    pub enum PortAction {
        /// The write is ignored.
        Ignored
            => Write, "the write is ignored";
        /// Bits arrive as 0.
        BitsLow { bits: Between(1, 255) }
            => Write, "bits {bits:#} of the byte arrive as 0";
        /// Bits arrive as 1.
        BitsHigh { bits: Between(1, 255) }
            => Write, "bits {bits:#} of the byte arrive as 1";
        /// A write too soon after the last one the board took is lost.
        Slow { dots: Between(1, 65536) }
            => Write, "a write less than {dots} dots after the last one the board took is lost";
        /// The chosen register is not kept: data arrive only right after an index.
        NeedsIndex
            => Write, "data arrive only if the write just before chose their register";
        /// The protect bit protects nothing.
        ProtectOpen
            => Write, "protected registers take every write";
        /// The protect bit cannot be released.
        ProtectShut
            => Write, "registers that can be protected take no write, whatever the protect bit says";
    }
}

/// What a bus remembers from one write to the next.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(crate) struct PortMemory {
    /// Dot of the last write.
    last: Option<u64>,
    /// Dot of the last write that arrived.
    taken: Option<u64>,
    /// Whether the last write chose a register.
    after_index: bool,
}

impl PortMemory {
    /// Dots since the last write, arrived or not.
    pub fn since_last(&self, write: &PortWrite) -> Option<u64> {
        self.last.map(|last| write.dot.saturating_sub(last))
    }

    /// Notes a write and what became of it.
    pub fn note(&mut self, write: &PortWrite, outcome: WriteOutcome) {
        self.last = Some(write.dot);
        self.after_index = matches!(write.role, Some(PortRole::Index(_)));
        if outcome != WriteOutcome::Lost {
            self.taken = Some(write.dot);
        }
    }
}

impl PortAction<i32> {
    /// What becomes of a byte that would have arrived as `value` under `guard`.
    pub(crate) fn apply(&self, write: &PortWrite, value: u8, guard: Guard, memory: &PortMemory) -> WriteOutcome {
        let lost_if = |lost: bool| if lost { WriteOutcome::Lost } else { WriteOutcome::Take(value, guard) };
        match *self {
            Self::Ignored => WriteOutcome::Lost,
            Self::BitsLow { bits } => WriteOutcome::Take(value & !(bits as u8), guard),
            Self::BitsHigh { bits } => WriteOutcome::Take(value | bits as u8, guard),
            Self::Slow { dots } => {
                lost_if(memory.taken.is_some_and(|taken| write.dot.saturating_sub(taken) < dots as u64))
            }
            Self::NeedsIndex => lost_if(matches!(write.role, Some(PortRole::Data(_))) && !memory.after_index),
            Self::ProtectOpen => WriteOutcome::Take(value, Guard::Open),
            Self::ProtectShut => WriteOutcome::Take(value, Guard::Shut),
        }
    }
}
