//! Fetch: what arrives of the bytes read from memory.

use backporch_raster::{Line, LineDependencies};

use crate::chance::draw;
use crate::compiled_condition::{CompiledCondition, ConditionResult};
use crate::context::AtByte;
use crate::language::actions;
use crate::stage::places::{On, PlaceAction, SourceRun, ValueAction};

actions! {
    /// What a fault does to the bytes fetched.
    pub enum FetchAction {
        /// Data bits stuck at 0.
        BitsLow { bits: Between(1, 255) }
            => Byte, "bits {bits:#} of the byte read as 0";
        /// Data bits stuck at 1.
        BitsHigh { bits: Between(1, 255) }
            => Byte, "bits {bits:#} of the byte read as 1";
        /// The two halves of a byte are exchanged.
        HalvesSwapped
            => Byte, "the two halves of the byte are exchanged";
        /// Bytes of a pair are exchanged.
        PairSwapped
            => Byte, "the two bytes of a pair are exchanged";
        /// The byte fetched some places before is shown again.
        Stale { back: Between(1, 8191) }
            => Byte, "the byte {back} before is shown again";
        /// The line buffer is empty from here on: the last byte stays.
        Underrun { from: Between(1, 8191) }
            => Byte, "from byte {from} on the line buffer is empty and its last byte stays";
        /// The line buffer is too short: it is read from its beginning again.
        Restart { from: Between(1, 8191) }
            => Byte, "the line buffer holds {from} bytes and is then read from its beginning again";
        /// A fixed value arrives.
        Value { value: Between(0, 255) }
            => Byte, "{value:#} arrives in place of the byte";
        /// Bits turned over by chance.
        Noise { bits: Between(1, 255) }
            => Byte, "bits {bits:#} of the byte are noise";
        /// A byte the processor writes while the picture is fetched shows where the beam is.
        Snow { bytes: Between(1, 64) }
            => MemoryWrite, "a byte the processor writes to memory shows for {bytes} byte(s) where the beam is";
    }
}

impl PlaceAction for FetchAction<i32> {
    fn ask(condition: &CompiledCondition, line: &Line, at: u32) -> ConditionResult {
        condition.ask(&AtByte(line, at))
    }

    fn way(&self) -> ValueAction {
        match self {
            Self::BitsLow { .. } | Self::BitsHigh { .. } | Self::HalvesSwapped | Self::Value { .. } => {
                ValueAction::Changes
            }
            Self::Noise { .. } => ValueAction::ChangesByChance,
            Self::PairSwapped | Self::Stale { .. } | Self::Underrun { .. } | Self::Restart { .. } => ValueAction::Moves,
            Self::Snow { .. } => ValueAction::ShowsWrites,
        }
    }

    fn depends_on(&self) -> LineDependencies {
        LineDependencies::LENGTH | self.way().depends_on()
    }

    fn sources(&self, _on: On<'_>, at: u32) -> SourceRun {
        match *self {
            Self::PairSwapped => SourceRun::one(at ^ 1),
            Self::Stale { back } => SourceRun::shifted(at, -back),
            Self::Underrun { from } => match (from as u32).checked_sub(at) {
                Some(len) if len > 0 => SourceRun { from: at, len },
                _ => SourceRun::one(from as u32 - 1),
            },
            Self::Restart { from } => {
                let from = from as u32;
                SourceRun { from: at % from, len: from - at % from }
            }
            Self::BitsLow { .. }
            | Self::BitsHigh { .. }
            | Self::HalvesSwapped
            | Self::Value { .. }
            | Self::Noise { .. }
            | Self::Snow { .. } => SourceRun::onwards(at),
        }
    }

    fn change(&self, on: On<'_>, first: u32, bytes: &mut [u8]) {
        match *self {
            Self::BitsLow { bits } => bytes.iter_mut().for_each(|byte| *byte &= !(bits as u8)),
            Self::BitsHigh { bits } => bytes.iter_mut().for_each(|byte| *byte |= bits as u8),
            Self::HalvesSwapped => bytes.iter_mut().for_each(|byte| *byte = byte.rotate_left(4)),
            Self::Value { value } => bytes.fill(value as u8),
            Self::Noise { bits } => {
                for (at, byte) in (first..).zip(bytes) {
                    *byte ^= draw(on.key, on.line.frame, place(on.line, at)) as u8 & bits as u8;
                }
            }
            Self::Snow { .. } => {
                for (at, byte) in (first..).zip(bytes) {
                    *byte = on.notes.at(at, on.line.char_bytes).unwrap_or(*byte);
                }
            }
            Self::PairSwapped | Self::Stale { .. } | Self::Underrun { .. } | Self::Restart { .. } => {}
        }
    }
}

/// A number for each place of a frame.
fn place(line: &Line, at: u32) -> u64 {
    u64::from(line.scan_line) << 32 | u64::from(at)
}
