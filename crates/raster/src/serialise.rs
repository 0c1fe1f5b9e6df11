//! Serialise: fetched bytes to pixel values.
//!
//! Bytes are taken in *groups* that become pixels together: a single byte where
//! pixels are packed, the bytes of a character clock everywhere else.

use backporch_adapter::{CharacterSet, Glyphs, Serialise, Shown};

use crate::line::Line;

/// Most pixels a group gives.
const MOST_PIXELS: usize = 9;
/// Most bytes a group has.
const MOST_BYTES: usize = 4;
/// Scan line of the cell that an underline takes (monochrome text, from memory).
const UNDERLINE_SCAN: u8 = 12;

/// Pixels each byte of a packed format gives, most significant first.
const fn unpack<const BITS: usize, const PIXELS: usize>() -> [[u8; PIXELS]; 256] {
    let mut table = [[0; PIXELS]; 256];
    let mut byte = 0;
    while byte < 256 {
        let mut pixel = 0;
        while pixel < PIXELS {
            let shift = 8 - BITS * (pixel + 1);
            table[byte][pixel] = ((byte >> shift) & ((1 << BITS) - 1)) as u8;
            pixel += 1;
        }
        byte += 1;
    }
    table
}

static ONE: [[u8; 8]; 256] = unpack::<1, 8>();
static TWO: [[u8; 4]; 256] = unpack::<2, 4>();
static FOUR: [[u8; 2]; 256] = unpack::<4, 2>();
/// What each byte of each plane adds to eight pixels.
static OF_PLANE: [[u64; 256]; 4] = of_planes(&unpack::<1, 8>());

const fn of_planes(bits: &[[u8; 8]; 256]) -> [[u64; 256]; 4] {
    let mut table = [[0; 256]; 4];
    let mut plane = 0;
    while plane < 4 {
        let mut byte = 0;
        while byte < 256 {
            table[plane][byte] = u64::from_le_bytes(bits[byte]) << plane;
            byte += 1;
        }
        plane += 1;
    }
    table
}

/// Appends `N` pixels for each byte.
fn expand<const N: usize>(table: &[[u8; N]; 256], bytes: &[u8], pixels: &mut Vec<u8>) {
    let first = pixels.len();
    pixels.resize(first + bytes.len() * N, 0);
    for (pixels, byte) in pixels[first..].chunks_exact_mut(N).zip(bytes) {
        pixels.copy_from_slice(&table[usize::from(*byte)]);
    }
}

/// What serialising needs to know beside the bytes.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Serialiser<'a> {
    pub rule: Serialise,
    /// Pixels of a character clock.
    pub char_pixels: u32,
    /// Scan line of the row.
    pub row_address: u8,
    /// Bit 7 of an attribute blinks instead of brightening the background.
    pub blink: bool,
    /// Blinking characters are dark just now.
    pub dark: bool,
    /// Address steps along the line to the cursor, and `repeat` of the line.
    pub cursor: Option<(u32, u8)>,
    /// Where glyphs of text from planes are found.
    pub glyphs: Glyphs,
    pub memory: &'a [u8],
}

/// Bytes and pixels of a group.
fn group(rule: Serialise, char_pixels: u32) -> (u32, u32) {
    match rule {
        Serialise::Packed(bits) => (1, 8 / u32::from(bits.max(1))),
        Serialise::Text | Serialise::MonoText => (2, char_pixels),
        _ => (4, char_pixels),
    }
}

impl<'a> Serialiser<'a> {
    /// For a line shown so; `cursor` is how many address steps along it the
    /// cursor stands.
    pub fn new(shown: &Shown, line: &Line, cursor: Option<u32>, memory: &'a [u8]) -> Self {
        Self {
            rule: shown.serialise,
            char_pixels: line.char_pixels,
            row_address: line.row_address,
            blink: shown.blink,
            dark: shown.is_dark(line.frame),
            cursor: cursor.map(|steps| (steps, line.repeat)),
            glyphs: shown.glyphs,
            memory,
        }
    }

    fn group(&self) -> (u32, u32) {
        group(self.rule, self.char_pixels)
    }

    /// Appends the pixels of `bytes`, the first of them `offset` bytes along
    /// the line; both are whole groups.
    pub fn append(&self, offset: u32, bytes: &[u8], pixels: &mut Vec<u8>) {
        match self.rule {
            Serialise::Packed(1) => expand(&ONE, bytes, pixels),
            Serialise::Packed(2) => expand(&TWO, bytes, pixels),
            Serialise::Packed(4) => expand(&FOUR, bytes, pixels),
            Serialise::Packed(_) | Serialise::PlaneBytes => pixels.extend_from_slice(bytes),
            Serialise::Planar if self.char_pixels == 8 => {
                let (groups, first) = (bytes.chunks_exact(4), pixels.len());
                pixels.resize(first + groups.len() * 8, 0);
                for (pixels, planes) in pixels[first..].chunks_exact_mut(8).zip(groups) {
                    pixels.copy_from_slice(&planar(planes));
                }
            }
            _ => {
                let (size, count) = self.group();
                for (group, index) in bytes.chunks_exact(size as usize).zip(offset / size..) {
                    pixels.extend_from_slice(&self.pixels_of(index, group)[..count as usize]);
                }
            }
        }
    }

    /// The pixels of one group; those beyond its number are 0.
    fn pixels_of(&self, index: u32, bytes: &[u8]) -> [u8; MOST_PIXELS] {
        let mut pixels = [0; MOST_PIXELS];
        let byte = |at: usize| bytes.get(at).copied().unwrap_or(0);
        match self.rule {
            Serialise::Packed(bits) => {
                let bits = bits.clamp(1, 8);
                let known = pixels.iter_mut().take(usize::from(8 / bits));
                known.enumerate().for_each(|(at, pixel)| {
                    *pixel = byte(0) << (usize::from(bits) * at) >> (8 - bits);
                });
            }
            Serialise::PlaneBytes => (0..4).for_each(|at| pixels[at] = byte(at)),
            Serialise::Planar => pixels[..8].copy_from_slice(&planar(bytes)),
            Serialise::Interleaved => {
                for (at, pixel) in pixels.iter_mut().take(8).enumerate() {
                    let pair = |plane: usize| byte(plane + at / 4) >> (6 - at % 4 * 2) & 3;
                    *pixel = pair(0) | pair(2) << 2;
                }
            }
            Serialise::Text | Serialise::PlaneText => self.character(index, bytes, &mut pixels),
            Serialise::MonoText => self.character(index, bytes, &mut pixels),
        }
        pixels
    }

    fn character(&self, index: u32, bytes: &[u8], pixels: &mut [u8; MOST_PIXELS]) {
        let byte = |at: usize| bytes.get(at).copied().unwrap_or(0);
        let (code, attribute) = (byte(0), byte(1));
        let dots = self.glyph(code, attribute);
        let [paper, ink] = match self.rule {
            Serialise::MonoText => self.mono_colours(attribute),
            _ => self.colours(attribute),
        };
        let underlined = self.rule == Serialise::MonoText && attribute & 7 == 1 && self.row_address == UNDERLINE_SCAN;
        let filled = underlined || self.cursor.is_some_and(|(steps, repeat)| index >> repeat == steps);
        let joins = code & 0xE0 == 0xC0 && (self.rule != Serialise::PlaneText || self.glyphs.line_graphics);
        for (at, pixel) in pixels.iter_mut().enumerate() {
            let lit = match at {
                0..8 => dots >> (7 - at) & 1 != 0,
                _ => joins && dots & 1 != 0,
            };
            *pixel = if lit || filled { ink } else { paper };
        }
    }

    /// Eight dots of a glyph on this scan line.
    fn glyph(&self, code: u8, attribute: u8) -> u8 {
        match self.rule {
            Serialise::PlaneText => {
                let at = self.glyphs.address(code, attribute, self.row_address);
                self.memory.get(at as usize).copied().unwrap_or(0)
            }
            Serialise::MonoText => CharacterSet::monochrome().row(code, self.row_address),
            _ => CharacterSet::built_in().row(code, self.row_address),
        }
    }

    /// Background and foreground of a colour attribute.
    fn colours(&self, attribute: u8) -> [u8; 2] {
        let (paper, ink) = (attribute >> 4, attribute & 15);
        match (self.blink, self.dark && attribute & 0x80 != 0) {
            (false, _) => [paper, ink],
            (true, false) => [paper & 7, ink],
            (true, true) => [paper & 7, paper & 7],
        }
    }

    /// Background and foreground of a monochrome attribute: 0 dark, 1 lit, 2
    /// bright (attributes 00h, 08h, 80h and 88h show nothing, 70h and its like
    /// are reversed; common practice).
    fn mono_colours(&self, attribute: u8) -> [u8; 2] {
        let (paper, ink) = match attribute & 0x77 {
            0x00 => (0, 0),
            0x70 => (1, 0),
            _ => (0, if attribute & 8 != 0 { 2 } else { 1 }),
        };
        match (self.blink, attribute & 0x80 != 0) {
            (true, true) if self.dark => [paper, paper],
            (false, true) if paper == 1 => [2, ink],
            _ => [paper, ink],
        }
    }

    /// The byte that holds the pixel at `x` of a line, or the first of its character.
    pub fn byte_of_line(rule: Serialise, char_pixels: u32, x: u32) -> u32 {
        let (size, count) = group(rule, char_pixels.max(1));
        x / count * size
    }

    /// The pixel at `x`, given a way to fetch bytes.
    pub fn pixel(&self, x: u32, fetch: impl Fn(u32) -> u8) -> u8 {
        let (size, count) = self.group();
        let mut bytes = [0; MOST_BYTES];
        let first = x / count * size;
        for (byte, at) in bytes.iter_mut().zip(first..first + size) {
            *byte = fetch(at);
        }
        self.pixels_of(x / count, &bytes[..size as usize])[(x % count) as usize]
    }
}

/// Eight pixels of four planes.
fn planar(planes: &[u8]) -> [u8; 8] {
    let pairs = OF_PLANE.iter().zip(planes);
    pairs.fold(0, |pixels, (table, byte)| pixels | table[usize::from(*byte)]).to_le_bytes()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn serialiser(rule: Serialise, char_pixels: u32) -> Serialiser<'static> {
        let glyphs = Glyphs::default();
        Serialiser { rule, char_pixels, row_address: 0, blink: false, dark: false, cursor: None, glyphs, memory: &[] }
    }

    fn values(serialiser: &Serialiser<'_>, bytes: &[u8]) -> Vec<u8> {
        let mut pixels = Vec::new();
        serialiser.append(0, bytes, &mut pixels);
        for (x, value) in pixels.iter().enumerate() {
            let one = serialiser.pixel(x as u32, |offset| bytes[offset as usize]);
            assert_eq!(one, *value, "pixel {x}");
        }
        pixels
    }

    /// The most significant bits are shown first: Technical Reference,
    /// colour/graphics display adapter.
    #[test]
    fn packed_pixels_come_most_significant_first() {
        let packed = |bits, bytes: &[u8]| values(&serialiser(Serialise::Packed(bits), 16), bytes);
        assert_eq!(packed(1, &[0b1000_0001]), [1, 0, 0, 0, 0, 0, 0, 1]);
        assert_eq!(packed(2, &[0b11_10_01_00]), [3, 2, 1, 0]);
        assert_eq!(packed(4, &[0xA5, 0x0F]), [10, 5, 0, 15]);
        assert_eq!(packed(8, &[7, 200]), [7, 200]);
    }

    /// One pixel from each plane, or one bit of a pixel (VGA register documentation).
    #[test]
    fn planes_give_bits_or_whole_pixels() {
        assert_eq!(values(&serialiser(Serialise::PlaneBytes, 4), &[1, 2, 3, 250]), [1, 2, 3, 250]);
        let planar = values(&serialiser(Serialise::Planar, 8), &[0b1000_0000, 0b1100_0000, 0b0010_0000, 1]);
        assert_eq!(planar, [3, 2, 4, 0, 0, 0, 0, 8]);
        let nine = values(&serialiser(Serialise::Planar, 9), &[0xFF, 0, 0, 0]);
        assert_eq!(nine, [1, 1, 1, 1, 1, 1, 1, 1, 0]);
        let pairs = values(&serialiser(Serialise::Interleaved, 8), &[0b11_10_01_00, 0b00_01_10_11, 0b01_00_00_00, 0]);
        assert_eq!(pairs, [7, 2, 1, 0, 0, 1, 2, 3]);
    }

    #[test]
    fn text_colours_come_from_the_attribute() {
        let pixels = values(&serialiser(Serialise::Text, 8), &[0xDB, 0x1E, 0x20, 0x4F]);
        assert_eq!(pixels[..8], [14; 8], "a full block shows the foreground");
        assert_eq!(pixels[8..], [4; 8], "a space shows the background");
    }

    /// Common practice of text: bit 7 blinks or brightens; the cursor fills its
    /// cell; the ninth dot goes on in line drawing only.
    #[test]
    fn blink_cursor_and_the_ninth_dot() {
        let blinking = Serialiser { blink: true, dark: true, ..serialiser(Serialise::Text, 8) };
        assert_eq!(values(&blinking, &[0xDB, 0x9E]), [1; 8]);
        let steady = Serialiser { dark: false, ..blinking };
        assert_eq!(values(&steady, &[0xDB, 0x9E]), [14; 8]);
        assert_eq!(values(&serialiser(Serialise::Text, 8), &[0x20, 0x9E]), [9; 8]);
        let cursor = Serialiser { cursor: Some((1, 0)), ..serialiser(Serialise::Text, 8) };
        assert_eq!(values(&cursor, &[0x20, 0x07, 0x20, 0x07])[7..], [0, 7, 7, 7, 7, 7, 7, 7, 7]);
        let nine = |code| values(&serialiser(Serialise::MonoText, 9), &[code, 0x07]);
        assert_eq!((nine(0xDB)[8], nine(0xC4)[8]), (1, 0), "C4h is dark on the top line");
        assert_eq!(nine(0x20), [0; 9]);
    }

    /// Monochrome attributes: common practice.
    #[test]
    fn monochrome_attributes() {
        let block = |attribute| values(&serialiser(Serialise::MonoText, 9), &[0xDB, attribute])[0];
        assert_eq!([0x00, 0x07, 0x0F, 0x70, 0x01].map(block), [0, 1, 2, 0, 1]);
        let line = Serialiser { row_address: 12, ..serialiser(Serialise::MonoText, 9) };
        assert_eq!(values(&line, &[0x20, 0x01]), [1; 9], "underlined");
        assert_eq!(values(&line, &[0x20, 0x07]), [0; 9]);
    }
}
