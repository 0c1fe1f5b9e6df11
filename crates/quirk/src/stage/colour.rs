//! Colour: what palette and DAC make of pixel values.

use backporch_adapter::{Palette, RGBI, Rgba};

use crate::language::actions;

actions! {
    /// What a fault does to the colours of a frame.
    pub enum ColourAction {
        /// Bits of the eight-bit levels stuck at 0.
        LevelsLow { red: Between(0, 255), green: Between(0, 255), blue: Between(0, 255) }
            => Frame, "of the levels of red, green and blue, bits {red:#}, {green:#} and {blue:#} are 0";
        /// Bits of the eight-bit levels stuck at 1.
        LevelsHigh { red: Between(0, 255), green: Between(0, 255), blue: Between(0, 255) }
            => Frame, "of the levels of red, green and blue, bits {red:#}, {green:#} and {blue:#} are 1";
        /// Bits of the pixel value do not reach the palette and read as 0.
        IndexLow { bits: Between(1, 255) }
            => Frame, "bits {bits:#} of the pixel value do not reach the palette and read as 0";
        /// Bits of the pixel value do not reach the palette and read as 1.
        IndexHigh { bits: Between(1, 255) }
            => Frame, "bits {bits:#} of the pixel value do not reach the palette and read as 1";
        /// Brown is shown as dark yellow.
        BrownYellow
            => Frame, "brown is shown as dark yellow";
        /// Red and blue are exchanged.
        RedBlueSwapped
            => Frame, "red and blue are exchanged";
        /// The border is black.
        BorderBlack
            => Frame, "the border is black";
    }
}

/// Colour 6 of the RGBI interface: the monitor, or the board, halves its green (common practice).
const BROWN: Rgba = RGBI[6];
/// Colour 6 where nothing halves its green.
const DARK_YELLOW: Rgba = [0xAA, 0xAA, 0, 255];

impl ColourAction<i32> {
    /// Changes the colours of a frame.
    pub(crate) fn apply(&self, palette: &mut Palette) {
        match *self {
            Self::LevelsLow { red, green, blue } => levels(palette, [red, green, blue], |level, bits| level & !bits),
            Self::LevelsHigh { red, green, blue } => levels(palette, [red, green, blue], |level, bits| level | bits),
            Self::IndexLow { bits } => index(palette, |value| value & !(bits as u8)),
            Self::IndexHigh { bits } => index(palette, |value| value | bits as u8),
            Self::BrownYellow => {
                each(palette, |colour| {
                    if *colour == BROWN {
                        *colour = DARK_YELLOW;
                    }
                });
            }
            Self::RedBlueSwapped => each(palette, |colour| colour.swap(0, 2)),
            Self::BorderBlack => palette.border = Palette::BLACK.border,
        }
    }

    /// Whether it changes nothing on any board.
    pub(crate) fn is_no_op(&self) -> bool {
        match *self {
            Self::LevelsLow { red, green, blue } | Self::LevelsHigh { red, green, blue } => red | green | blue == 0,
            Self::IndexLow { .. }
            | Self::IndexHigh { .. }
            | Self::BrownYellow
            | Self::RedBlueSwapped
            | Self::BorderBlack => false,
        }
    }
}

fn each(palette: &mut Palette, change: impl Fn(&mut Rgba)) {
    palette.colours.iter_mut().for_each(&change);
    change(&mut palette.border);
}

fn levels(palette: &mut Palette, bits: [i32; 3], change: impl Fn(u8, u8) -> u8) {
    each(palette, |colour| {
        for (level, bits) in colour.iter_mut().zip(bits) {
            *level = change(*level, bits as u8);
        }
    });
}

fn index(palette: &mut Palette, change: impl Fn(u8) -> u8) {
    let colours = palette.colours;
    for (value, colour) in palette.colours.iter_mut().enumerate() {
        *colour = colours[usize::from(change(value as u8))];
    }
}
