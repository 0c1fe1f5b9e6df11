//! The test picture: numbered columns, numbered lines, a diagonal.
//!
//! Columns are banded eight pixels wide and numbered every 32; lines are
//! numbered every sixteen; a diagonal moves one pixel right a line, so that a
//! line taken from its neighbour is seen at once.

use backporch_adapter::CharacterSet;
use backporch_picture::indexed::Indexed;
use backporch_picture::lay::{Placement, bits_per_pixel, lay};
use backporch_raster::{Plain, QuietFrame};

use super::{ProgramError, TestProgram};

/// Pixels of a glyph, across and down.
const GLYPH: u32 = 8;

/// Pixel values the picture is drawn with.
struct Inks {
    bands: [u8; 2],
    column: u8,
    line: u8,
    diagonal: u8,
}

impl Inks {
    /// Standard colours of the modes: sixteen fixed ones and greys after them,
    /// or those there are (common practice).
    fn of(bits: u32) -> Self {
        match bits {
            1 => Self { bands: [0, 0], column: 1, line: 1, diagonal: 1 },
            2 => Self { bands: [0, 1], column: 3, line: 2, diagonal: 3 },
            4 => Self { bands: [0, 1], column: 15, line: 14, diagonal: 12 },
            _ => Self { bands: [17, 20], column: 15, line: 14, diagonal: 12 },
        }
    }
}

/// The test picture, as wide as a row of memory.
fn picture(width: u32, height: u32, bits: u32) -> Option<Indexed> {
    let inks = Inks::of(bits);
    let band = |x: u32| inks.bands[(x / GLYPH % 2) as usize];
    let pixels = (0..height).flat_map(|y| (0..width).map(move |x| (x, y)));
    let value = |(x, y): (u32, u32)| {
        let (row, number) = (y / GLYPH, y / GLYPH % 2);
        let lit = match number {
            0 => digit(x / 32 * 32, x % 32, y % GLYPH).then_some(inks.column),
            _ if x % 64 < 32 => digit(row * GLYPH, x % 32, y % GLYPH).then_some(inks.line),
            _ => None,
        };
        let diagonal = (x % 64 == (y + 48) % 64).then_some(inks.diagonal);
        diagonal.or(lit).unwrap_or_else(|| band(x))
    };
    let indices: Vec<u8> = pixels.map(value).collect();
    let palette = (0..1u32 << bits).map(|level| [level as u8; 3]).collect();
    Indexed::new(width, height, indices, palette).ok()
}

/// Whether a pixel of a number, printed in four places from the left, is lit.
fn digit(number: u32, x: u32, line: u32) -> bool {
    let place = x / GLYPH;
    let text = number.to_string();
    let digit = text.as_bytes().get(place as usize);
    digit.is_some_and(|digit| CharacterSet::built_in().row(*digit, line as u8) >> (7 - x % GLYPH) & 1 != 0)
}

/// Video memory with the picture laid from the sweep's first start address.
pub(super) fn memory(program: &TestProgram<'_>) -> Result<Vec<u8>, ProgramError> {
    let quiet = QuietFrame::new(program.adapter, program.registers, &Plain);
    let unfit = || ProgramError::Pixels(program.mode.name.clone());
    let bits = bits_per_pixel(&quiet).map_err(|_| unfit())?;
    let line = quiet.line(0, 0, 0);
    let mut memory = vec![0; program.adapter.memory().bytes as usize];
    let picture = picture(line.pitch.max(line.bytes) * 8 / bits, quiet.picture_lines(), bits).ok_or_else(unfit)?;
    let placement = Placement { start: program.sweep.from, column: 0 };
    lay(&picture, &quiet, placement, &mut memory).map_err(|_| unfit())?;
    Ok(memory)
}

/// The digits 0 to 9 as bytes of video memory: eight lines of a glyph each,
/// light on dark.
pub(super) fn digits(bits: u32) -> Vec<u8> {
    let most = u8::MAX >> (8 - bits.clamp(1, 8));
    let light = most.min(15);
    let per_byte = 8 / bits;
    let mut bytes = Vec::new();
    for digit in b'0'..=b'9' {
        for line in 0..GLYPH {
            let row = CharacterSet::built_in().row(digit, line as u8);
            for byte in 0..GLYPH / per_byte {
                let pixel = |x: u32| if row >> (7 - x) & 1 != 0 { light } else { 0 };
                let pixels = byte * per_byte..(byte + 1) * per_byte;
                bytes.push(pixels.fold(0, |byte, x| (u32::from(byte) << bits) as u8 | pixel(x)));
            }
        }
    }
    bytes
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_line_and_column_tells_where_it_is() {
        let picture = picture(320, 200, 8).unwrap();
        let row = |y: usize| &picture.indices()[y * 320..(y + 1) * 320];
        assert!((1..200).all(|y| row(y) != row(y - 1)), "no line is like its neighbour");
        let block = |x: usize| -> Vec<u8> { (0..8).flat_map(|y| row(y)[x..x + 32].to_vec()).collect() };
        assert!((0..9).all(|at| block(at * 32) != block(at * 32 + 32)), "no block is like its neighbour");
    }

    #[test]
    fn digits_have_the_width_of_the_mode() {
        for (bits, bytes) in [(8, 8), (4, 4), (2, 2), (1, 1)] {
            assert_eq!(digits(bits).len(), 10 * 8 * bytes, "{bits}");
        }
    }
}
