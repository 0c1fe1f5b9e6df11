//! Display formats: how the bytes under the beam become pixels.

use serde::{Deserialize, Serialize};

/// One row of a profile's decision table: while its condition holds, the board
/// shows memory this way.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Format {
    /// Short name.
    pub name: String,
    /// Fields and the values they must hold; empty holds always. The first
    /// format of the table whose condition holds is shown.
    #[serde(default)]
    pub when: Vec<(String, u32)>,
    /// Dots in a character clock, 1 to 32.
    pub char_dots: u8,
    /// Dots in a pixel; divides `char_dots`.
    pub pixel_dots: u8,
    /// Bytes to pixel values.
    pub serialise: Serialise,
    /// Counters to memory addresses.
    pub address: AddressRule,
    /// Pixel values to colour.
    pub colour: ColourRule,
    /// Colour outside the active area.
    pub border: BorderRule,
}

impl Format {
    /// Pixels in a character clock.
    #[must_use]
    pub fn pixels_per_char(&self) -> u32 {
        u32::from(self.char_dots / self.pixel_dots.max(1))
    }

    /// Whether scan lines of one character row show different memory or glyph rows.
    #[must_use]
    pub fn uses_row_address(&self) -> bool {
        !self.address.row_bits.is_empty() || self.serialise == Serialise::Text
    }
}

/// How fetched bytes become pixel values.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Serialise {
    /// Pixels of 1, 2, 4 or 8 bits, most significant first.
    Packed(u8),
    /// Character code and attribute; the value is one of sixteen colours.
    Text,
}

impl Serialise {
    /// Bits of a pixel value; 0 in text, whose values are colours of glyphs.
    #[must_use]
    pub fn pixel_bits(self) -> u8 {
        match self {
            Self::Packed(bits) => bits,
            Self::Text => 0,
        }
    }
}

/// One bit of the row address that becomes a bit of the memory address.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct RowBit {
    /// Bit of the row address, 0 to 4.
    pub row: u8,
    /// Bit of the memory address, 0 to 19.
    pub address: u8,
}

/// How the controller's address counter reaches memory.
///
/// The *linear* address of a byte is `counter × unit` plus its offset on the
/// line; memory sees `linear & mask` with the row bits put in.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct AddressRule {
    /// Bytes one step of the counter (and of the start address) stands for.
    pub unit: u32,
    /// Counter steps in a character clock.
    pub units_per_char: u32,
    /// Bits of the linear address that reach memory; a power of two less one.
    pub mask: u32,
    /// Row-address bits that select banks.
    #[serde(default)]
    pub row_bits: Vec<RowBit>,
}

impl AddressRule {
    /// Bytes fetched in a character clock.
    #[must_use]
    pub fn bytes_per_char(&self) -> u32 {
        self.unit * self.units_per_char
    }

    /// The address bits a scan line's row address puts in.
    #[must_use]
    pub fn bank(&self, row_address: u8) -> u32 {
        let bits = self.row_bits.iter();
        bits.fold(0, |bank, bit| bank | u32::from(row_address >> bit.row & 1) << bit.address)
    }
}

/// How pixel values become colour.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub enum ColourRule {
    /// Through the mask and the 6-bit DAC.
    Dac,
    /// The value is an RGBI colour.
    Rgbi,
    /// Value 0 is the background field; 1 to 3 come from one of three fixed
    /// sets chosen by the other fields.
    FourOfSixteen {
        /// Field with the RGBI colour of value 0.
        background: String,
        /// Field that makes values 1 to 3 bright.
        bright: String,
        /// Field that chooses green/red/brown (0) or cyan/magenta/white (1).
        set: String,
        /// Field that, at 1, replaces both sets by cyan/red/white.
        grey: String,
    },
    /// Value 0 is black, value 1 the field's RGBI colour.
    OneOfSixteen {
        /// Field with the RGBI colour of value 1.
        foreground: String,
    },
}

/// Colour of the border.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum BorderRule {
    /// Black.
    Black,
    /// The RGBI colour in a field.
    Rgbi(String),
}
