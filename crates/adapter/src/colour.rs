//! Colour tables: pixel values to RGB, for one state of the registers.

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
