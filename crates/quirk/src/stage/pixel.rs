//! Pixel: what the serialiser makes of the bytes.

use backporch_raster::{Line, LineDependencies};

use crate::chance::draw_around;
use crate::compiled_condition::{CompiledCondition, ConditionResult};
use crate::context::AtPixel;
use crate::language::actions;
use crate::stage::places::{On, PlaceAction, SourceRun, ValueAction};

actions! {
    /// What a fault does to pixel values.
    pub enum PixelAction {
        /// The line is shifted out early (above 0) or late.
        Panned { pixels: Between(-64, 64) }
            => Pixel, "the line is panned {pixels} pixel(s) to the left";
        /// Each scan line is panned by chance.
        Jitter { pixels: Between(1, 64) }
            => Pixel, "each scan line is panned by chance, up to {pixels} pixel(s) either way";
        /// Pixels of a pair are exchanged.
        PairSwapped
            => Pixel, "the two pixels of a pair are exchanged";
        /// Pixels of a group come in reverse order.
        GroupReversed { pixels: Between(2, 64) }
            => Pixel, "each group of {pixels} pixels comes in reverse order";
        /// The first character of the line is shown twice and the rest come one late.
        FirstRepeated
            => Pixel, "the first character is shown twice and the others come one late";
        /// A fixed value is shown.
        Value { value: Between(0, 255) }
            => Pixel, "value {value} is shown";
        /// Bits of the value, or planes, read as 0.
        BitsLow { bits: Between(1, 255) }
            => Pixel, "bits {bits:#} of the value read as 0";
        /// Bits of the value, or planes, read as 1.
        BitsHigh { bits: Between(1, 255) }
            => Pixel, "bits {bits:#} of the value read as 1";
        /// Two bits of the value, or planes, are exchanged.
        BitsSwapped { one: Between(0, 7), other: Between(0, 7) }
            => Pixel, "bits {one} and {other} of the value are exchanged";
        /// A byte written to a port shows where the beam is.
        WriteShows { pixels: Between(1, 512) }
            => Write, "the byte written shows for {pixels} pixel(s) where the beam is";
    }
}

impl PlaceAction for PixelAction<i32> {
    fn ask(condition: &CompiledCondition, line: &Line, at: u32) -> ConditionResult {
        condition.ask(&AtPixel(line, at))
    }

    fn way(&self) -> ValueAction {
        match self {
            Self::Value { .. } | Self::BitsLow { .. } | Self::BitsHigh { .. } | Self::BitsSwapped { .. } => {
                ValueAction::Changes
            }
            Self::Panned { .. } | Self::PairSwapped | Self::GroupReversed { .. } | Self::FirstRepeated => {
                ValueAction::Moves
            }
            Self::Jitter { .. } => ValueAction::MovesByChance,
            Self::WriteShows { .. } => ValueAction::ShowsWrites,
        }
    }

    fn depends_on(&self) -> LineDependencies {
        LineDependencies::LENGTH | self.way().depends_on()
    }

    fn sources(&self, on: On<'_>, x: u32) -> SourceRun {
        match *self {
            Self::Panned { pixels } => SourceRun::shifted(x, pixels),
            Self::Jitter { pixels } => {
                SourceRun::shifted(x, draw_around(on.key, on.line.frame, on.line.scan_line.into(), pixels))
            }
            Self::PairSwapped => SourceRun::one(x ^ 1),
            Self::GroupReversed { pixels } => {
                let pixels = pixels as u32;
                SourceRun::one(x - x % pixels + (pixels - 1 - x % pixels))
            }
            Self::FirstRepeated => match x.checked_sub(on.line.char_pixels) {
                Some(from) => SourceRun::onwards(from),
                None => SourceRun { from: x, len: on.line.char_pixels - x },
            },
            Self::Value { .. }
            | Self::BitsLow { .. }
            | Self::BitsHigh { .. }
            | Self::BitsSwapped { .. }
            | Self::WriteShows { .. } => SourceRun::onwards(x),
        }
    }

    fn change(&self, on: On<'_>, first: u32, values: &mut [u8]) {
        match *self {
            Self::Value { value } => values.fill(value as u8),
            Self::BitsLow { bits } => values.iter_mut().for_each(|value| *value &= !(bits as u8)),
            Self::BitsHigh { bits } => values.iter_mut().for_each(|value| *value |= bits as u8),
            Self::BitsSwapped { one, other } => values.iter_mut().for_each(|value| {
                let differ = (*value >> one ^ *value >> other) & 1;
                *value ^= differ << one | differ << other;
            }),
            Self::WriteShows { .. } => {
                for (x, value) in (first..).zip(values) {
                    *value = on.notes.at(x, on.line.char_pixels).unwrap_or(*value);
                }
            }
            Self::Panned { .. }
            | Self::Jitter { .. }
            | Self::PairSwapped
            | Self::GroupReversed { .. }
            | Self::FirstRepeated => {}
        }
    }
}

impl PixelAction<i32> {
    /// Whether it changes nothing on any board.
    pub(crate) fn is_no_op(&self) -> bool {
        match *self {
            Self::Panned { pixels } => pixels == 0,
            Self::BitsSwapped { one, other } => one == other,
            Self::Jitter { .. }
            | Self::PairSwapped
            | Self::GroupReversed { .. }
            | Self::FirstRepeated
            | Self::Value { .. }
            | Self::BitsLow { .. }
            | Self::BitsHigh { .. }
            | Self::WriteShows { .. } => false,
        }
    }
}
