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
        !self.address.row_bits.is_empty() || self.serialise.is_text()
    }
}

/// How fetched bytes become pixel values.
///
/// The last four take one byte of each of four planes a character clock.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Serialise {
    /// Pixels of 1, 2, 4 or 8 bits, most significant first.
    Packed(u8),
    /// Character code and attribute; the value is one of sixteen colours.
    Text,
    /// Character code and monochrome attribute; the value is 0 dark, 1 lit, 2 bright.
    MonoText,
    /// Eight pixels whose bit n comes from plane n, most significant first.
    Planar,
    /// Four pixels of 8 bits, one from each plane.
    PlaneBytes,
    /// Eight pixels of 4 bits: two bits from planes 0 and 1 in turn, the upper
    /// two from planes 2 and 3.
    Interleaved,
    /// Character code from plane 0, attribute from plane 1, glyph from plane 2.
    PlaneText,
}

impl Serialise {
    /// Bits of a pixel value; 0 in text, whose values are colours of glyphs.
    #[must_use]
    pub fn pixel_bits(self) -> u8 {
        match self {
            Self::Packed(bits) => bits,
            Self::Planar | Self::Interleaved => 4,
            Self::PlaneBytes => 8,
            Self::Text | Self::MonoText | Self::PlaneText => 0,
        }
    }

    /// Whether memory holds characters.
    #[must_use]
    pub fn is_text(self) -> bool {
        matches!(self, Self::Text | Self::MonoText | Self::PlaneText)
    }

    /// Whether a character clock takes a byte of each of four planes.
    #[must_use]
    pub fn takes_planes(self) -> bool {
        matches!(self, Self::Planar | Self::PlaneBytes | Self::Interleaved | Self::PlaneText)
    }

    /// The bytes that show `pixels`, of which there are as many as the bytes
    /// of a character clock (or of one byte, where pixels are packed) hold;
    /// none in text. What [`Serialise`] makes of them is `pixels` again.
    pub fn bytes_showing(self, pixels: &[u8]) -> impl Iterator<Item = u8> + use<> {
        let pixel = |at: usize| u32::from(pixels.get(at).copied().unwrap_or(0));
        let planar = |plane: usize| (0..8).fold(0, |byte, at| (byte << 1) | ((pixel(at) >> plane) & 1)) as u8;
        let interleaved = |plane: usize| {
            let (first, shift) = (plane % 2 * 4, plane / 2 * 2);
            (first..first + 4).fold(0, |byte, at| (byte << 2) | ((pixel(at) >> shift) & 3)) as u8
        };
        let (bytes, count) = match self {
            Self::Text | Self::MonoText | Self::PlaneText => ([0; 4], 0),
            Self::Packed(bits) => {
                let value = (0..usize::from(8 / bits.max(1))).fold(0, |byte, at| (byte << bits) | pixel(at));
                ([value as u8, 0, 0, 0], 1)
            }
            Self::PlaneBytes => ([0, 1, 2, 3].map(|at| pixel(at) as u8), 4),
            Self::Planar => ([0, 1, 2, 3].map(planar), 4),
            Self::Interleaved => ([0, 1, 2, 3].map(interleaved), 4),
        };
        bytes.into_iter().take(count)
    }

    /// Pixels that [`Serialise::bytes_showing`] takes at once, 0 in text.
    #[must_use]
    pub fn pixels_at_once(self) -> u32 {
        match self {
            Self::Packed(bits) => u32::from(8 / bits.max(1)),
            Self::PlaneBytes => 4,
            Self::Planar | Self::Interleaved => 8,
            Self::Text | Self::MonoText | Self::PlaneText => 0,
        }
    }
}

/// One bit of the row address that becomes a bit of the memory address.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
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
/// line; memory sees `linear & mask` with the row and page bits put in. Where
/// memory has planes a unit is 4 bytes, one of each plane.
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
    /// Bit of the memory address that the lowest bit of the page register becomes.
    #[serde(default)]
    pub page_bit: Option<u8>,
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
    /// 0 is black, 1 lit, 2 bright, in the colour of the tube (shown as grey).
    Mono,
    /// Through the attribute controller's palette registers.
    Attribute(AttributeColour),
    /// Value 0 is the RGBI colour register; 1 to 3 come from one of three fixed
    /// sets: green/red/brown, cyan/magenta/white (colour set register) or
    /// cyan/red/white (third set register).
    FourOfSixteen,
    /// Value 0 is black, value 1 the RGBI colour register.
    OneOfSixteen,
}

/// What the six bits of a palette register stand for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum AttributeColour {
    /// An entry of the DAC, with upper bits from the colour select register.
    Dac,
    /// RGBI, its intensity in bit 4.
    Rgbi,
    /// Two levels each of red, green and blue: rgbRGB.
    Rgb64,
}

/// Colour of the border.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum BorderRule {
    /// Black.
    Black,
    /// The RGBI colour register.
    Rgbi,
    /// The attribute controller's overscan register.
    Overscan(AttributeColour),
}
