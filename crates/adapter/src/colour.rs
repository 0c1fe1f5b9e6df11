//! Colour tables: pixel values to RGB, for one state of the registers.

use crate::adapter::Adapter;
use crate::format::{AttributeColour, BorderRule, ColourRule};
use crate::register::{Bank, Cell, Registers};
use crate::role::Role;

/// Red, green, blue and 255, one byte each.
pub type Rgba = [u8; 4];

/// What pixel values and the border look like under one state of the registers.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Palette {
    /// Colour of each pixel value.
    pub colours: [Rgba; 256],
    /// Colour of the border.
    pub border: Rgba,
}

impl Palette {
    /// All black.
    pub const BLACK: Self = Self { colours: [[0, 0, 0, 255]; 256], border: [0, 0, 0, 255] };
}

/// The sixteen colours of an RGBI interface, in the order of its four bits.
///
/// Levels 00/AA/55/FF; colour 6 is shown as brown (common practice).
pub const RGBI: [Rgba; 16] = {
    let mut table = [[0, 0, 0, 255]; 16];
    let mut code = 0;
    while code < 16 {
        let bright = if code & 8 != 0 { 0x55 } else { 0 };
        let mut component = 0;
        while component < 3 {
            let on = code >> (2 - component) & 1 != 0;
            table[code][component] = bright + if on { 0xAA } else { 0 };
            component += 1;
        }
        code += 1;
    }
    table[6][1] = 0x55;
    table
};

/// Widens a 6-bit DAC level to 8 bits by repeating its upper bits.
#[must_use]
pub const fn widen_dac(level: u8) -> u8 {
    let level = level & 0x3F;
    level << 2 | level >> 4
}

/// Cells of the attribute controller (VGA register documentation).
mod attribute {
    /// Mode; bit 7 takes colour bits 4 and 5 from the colour select register.
    pub const MODE: u8 = 0x10;
    pub const OVERSCAN: u8 = 0x11;
    /// Planes that take part.
    pub const PLANE_ENABLE: u8 = 0x12;
    pub const COLOUR_SELECT: u8 = 0x14;
}

/// The two levels of a colour's two bits: the upper 2/3, the lower 1/3 (common practice).
pub(crate) fn rgb64(code: u8) -> Rgba {
    let level = |bit: u8| (code >> bit & 1) * 0xAA + (code >> (bit + 3) & 1) * 0x55;
    [level(2), level(1), level(0), 255]
}

/// The RGBI colour of a code whose intensity stands in bit 4.
pub(crate) fn intensity_in_bit_4(code: u8) -> Rgba {
    RGBI[usize::from(code & 7 | code >> 1 & 8)]
}

impl Registers {
    fn attribute(&self, index: u8) -> u8 {
        Cell::new(Bank::Attribute, index).map_or(0, |cell| self.cell(cell))
    }

    fn dac_colour(&self, value: u8) -> Rgba {
        let [red, green, blue] = self.dac(value & self.dac_mask()).map(widen_dac);
        [red, green, blue, 255]
    }

    /// Colour of six bits from a palette register.
    fn attribute_colour(&self, kind: AttributeColour, code: u8) -> Rgba {
        match kind {
            AttributeColour::Rgb64 => rgb64(code),
            AttributeColour::Rgbi => intensity_in_bit_4(code),
            AttributeColour::Dac => self.dac_colour(self.dac_entry(code)),
        }
    }

    /// The DAC entry of six bits from a palette register.
    fn dac_entry(&self, code: u8) -> u8 {
        let select = self.attribute(attribute::COLOUR_SELECT);
        let low = match self.attribute(attribute::MODE) & 0x80 {
            0 => code & 0x3F,
            _ => code & 0x0F | select << 4 & 0x30,
        };
        low | select << 4 & 0xC0
    }
}

impl Adapter {
    /// Colour of every pixel value and of the border under these registers.
    #[must_use]
    pub fn palette(&self, registers: &Registers) -> Palette {
        self.palette_of(registers, self.format_index(registers))
    }

    /// The same, where the display format is known already.
    #[must_use]
    pub fn palette_of(&self, registers: &Registers, format: usize) -> Palette {
        if self.is_blanked(registers) {
            return Palette::BLACK;
        }
        let border = self.border(registers, format);
        let rule = &self.format(format).colour;
        if self.has_attributes && !registers.palette_shown() {
            return Palette { colours: [border; 256], border };
        }
        let mut palette = Palette { border, ..Palette::BLACK };
        self.fill(registers, rule, &mut palette.colours);
        palette
    }

    /// Brings the colour of one DAC entry up to date; `false` where more than
    /// that pixel value depends on it.
    #[must_use]
    pub fn update_colour(&self, registers: &Registers, format: usize, entry: u8, palette: &mut Palette) -> bool {
        let straight = self.format(format).colour == ColourRule::Dac && registers.dac_mask() == 0xFF;
        let border = matches!(self.format(format).border, BorderRule::Overscan(_));
        let shown = !self.is_blanked(registers) && (!self.has_attributes || registers.palette_shown());
        if !straight || !shown {
            return false;
        }
        palette.colours[usize::from(entry)] = registers.dac_colour(entry);
        if border {
            palette.border = self.border(registers, format);
        }
        true
    }

    /// Whether these registers keep memory off the screen: the video is off, or the attribute controller shows none of
    /// its palette.
    #[must_use]
    pub fn hides_memory(&self, registers: &Registers) -> bool {
        self.is_blanked(registers) || (self.has_attributes && !registers.palette_shown())
    }

    /// What stands at the board's colour outputs for a pixel, before a DAC.
    pub(crate) fn colour_output(&self, registers: &Registers, pixel: u8) -> u8 {
        let ColourRule::Attribute(kind) = &self.format(self.format_index(registers)).colour else {
            return pixel;
        };
        let code = registers.attribute(pixel & registers.attribute(attribute::PLANE_ENABLE) & 15);
        match kind {
            AttributeColour::Rgb64 | AttributeColour::Rgbi => code & 0x3F,
            AttributeColour::Dac => registers.dac_entry(code),
        }
    }

    fn is_blanked(&self, registers: &Registers) -> bool {
        let fields = self.reader(registers);
        !fields.is_set_or(Role::VideoEnable, true) || fields.is_set(Role::ScreenOff)
    }

    fn border(&self, registers: &Registers, format: usize) -> Rgba {
        match self.format(format).border {
            BorderRule::Black => [0, 0, 0, 255],
            BorderRule::Rgbi => RGBI[(self.reader(registers).value(Role::RgbiColour) & 15) as usize],
            BorderRule::Overscan(AttributeColour::Dac) => {
                registers.dac_colour(registers.attribute(attribute::OVERSCAN))
            }
            BorderRule::Overscan(kind) => registers.attribute_colour(kind, registers.attribute(attribute::OVERSCAN)),
        }
    }

    fn fill(&self, registers: &Registers, rule: &ColourRule, colours: &mut [Rgba; 256]) {
        let fields = self.reader(registers);
        let rgbi = |code: u32| RGBI[(code & 15) as usize];
        match rule {
            ColourRule::Dac => {
                for (value, colour) in colours.iter_mut().enumerate() {
                    *colour = registers.dac_colour(value as u8);
                }
            }
            ColourRule::Rgbi => {
                for (value, colour) in colours.iter_mut().enumerate() {
                    *colour = rgbi(value as u32);
                }
            }
            ColourRule::Mono => {
                for (level, colour) in [0, 0xAA, 0xFF].into_iter().zip(colours.iter_mut()) {
                    *colour = [level, level, level, 255];
                }
            }
            ColourRule::Attribute(kind) => {
                let planes = registers.attribute(attribute::PLANE_ENABLE) & 15;
                let known: [Rgba; 16] = std::array::from_fn(|value| {
                    let code = registers.attribute(value as u8 & planes);
                    registers.attribute_colour(*kind, code)
                });
                for (value, colour) in colours.iter_mut().enumerate() {
                    *colour = known[value & 15];
                }
            }
            ColourRule::OneOfSixteen => colours[1] = rgbi(fields.value(Role::RgbiColour)),
            ColourRule::FourOfSixteen => {
                let codes = if fields.is_set(Role::ThirdSet) {
                    [3, 4, 7]
                } else if fields.is_set(Role::ColourSet) {
                    [3, 5, 7]
                } else {
                    [2, 4, 6]
                };
                colours[0] = rgbi(fields.value(Role::RgbiColour));
                let bright = if fields.is_set(Role::BrightSet) { 8 } else { 0 };
                for (colour, code) in colours[1..4].iter_mut().zip(codes) {
                    *colour = rgbi(code | bright);
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Levels and the brown of colour 6: common practice.
    #[test]
    fn rgbi_levels() {
        assert_eq!(RGBI[0], [0, 0, 0, 255]);
        assert_eq!(RGBI[1], [0, 0, 0xAA, 255]);
        assert_eq!(RGBI[4], [0xAA, 0, 0, 255]);
        assert_eq!(RGBI[6], [0xAA, 0x55, 0, 255]);
        assert_eq!(RGBI[14], [0xFF, 0xFF, 0x55, 255]);
        assert_eq!(RGBI[15], [0xFF, 0xFF, 0xFF, 255]);
    }

    #[test]
    fn dac_ends_are_black_and_white() {
        assert_eq!(widen_dac(0), 0);
        assert_eq!(widen_dac(63), 255);
        assert_eq!(widen_dac(32), 0x82);
    }
}
