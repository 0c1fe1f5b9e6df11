//! Serialise: fetched bytes to pixel values.

use backporch_adapter::{CharacterSet, Serialise};

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

/// What serialising needs to know beside the bytes.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Serialiser<'a> {
    pub rule: Serialise,
    pub characters: &'a CharacterSet,
    /// Scan line of the row.
    pub row_address: u8,
    /// Whether bit 7 of an attribute blinks instead of brightening the background.
    pub blink: bool,
}

impl Serialiser<'_> {
    /// Appends the pixels of `bytes`. Text takes its bytes in pairs.
    pub fn append(&self, bytes: &[u8], pixels: &mut Vec<u8>) {
        match self.rule {
            Serialise::Packed(1) => bytes.iter().for_each(|&b| pixels.extend_from_slice(&ONE[usize::from(b)])),
            Serialise::Packed(2) => bytes.iter().for_each(|&b| pixels.extend_from_slice(&TWO[usize::from(b)])),
            Serialise::Packed(4) => bytes.iter().for_each(|&b| pixels.extend_from_slice(&FOUR[usize::from(b)])),
            Serialise::Packed(_) => pixels.extend_from_slice(bytes),
            Serialise::Text => {
                for cell in bytes.chunks_exact(2) {
                    self.append_character(cell[0], cell[1], pixels);
                }
            }
        }
    }

    fn append_character(&self, code: u8, attribute: u8, pixels: &mut Vec<u8>) {
        let background = if self.blink { attribute >> 4 & 7 } else { attribute >> 4 };
        let colours = [background, attribute & 15];
        let glyph = usize::from(self.characters.row(code, self.row_address));
        pixels.extend(ONE[glyph].map(|on| colours[usize::from(on)]));
    }

    /// Bytes that hold the pixel at `x`: offset of the first and their number.
    pub fn bytes_of(&self, x: u32) -> (u32, u32) {
        match self.rule {
            Serialise::Packed(bits) => (x * u32::from(bits) / 8, 1),
            Serialise::Text => (x / 8 * 2, 2),
        }
    }

    /// The pixel at `x`, given a way to fetch bytes.
    pub fn pixel(&self, x: u32, fetch: impl Fn(u32) -> u8) -> u8 {
        let (offset, count) = self.bytes_of(x);
        let mut bytes = [0; 2];
        for (byte, at) in bytes.iter_mut().zip(offset..offset + count) {
            *byte = fetch(at);
        }
        let mut pixels = Vec::with_capacity(8);
        self.append(&bytes[..count as usize], &mut pixels);
        let first = match self.rule {
            Serialise::Packed(bits) => offset * 8 / u32::from(bits),
            Serialise::Text => offset / 2 * 8,
        };
        pixels.get((x - first) as usize).copied().unwrap_or(0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn values(rule: Serialise, bytes: &[u8]) -> Vec<u8> {
        let characters = CharacterSet::built_in();
        let serialiser = Serialiser { rule, characters, row_address: 0, blink: false };
        let mut pixels = Vec::new();
        serialiser.append(bytes, &mut pixels);
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
        assert_eq!(values(Serialise::Packed(1), &[0b1000_0001]), [1, 0, 0, 0, 0, 0, 0, 1]);
        assert_eq!(values(Serialise::Packed(2), &[0b11_10_01_00]), [3, 2, 1, 0]);
        assert_eq!(values(Serialise::Packed(4), &[0xA5, 0x0F]), [10, 5, 0, 15]);
        assert_eq!(values(Serialise::Packed(8), &[7, 200]), [7, 200]);
    }

    #[test]
    fn text_colours_come_from_the_attribute() {
        let pixels = values(Serialise::Text, &[0xDB, 0x1E, 0x20, 0x4F]);
        assert_eq!(pixels[..8], [14; 8], "a full block shows the foreground");
        assert_eq!(pixels[8..], [4; 8], "a space shows the background");
    }
}
