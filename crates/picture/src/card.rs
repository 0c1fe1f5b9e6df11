//! The test card: numbered columns and lines on a ground in which every displacement shows.
//!
//! Columns are numbered every 32 pixels, lines every sixteen. The ground repeats every five pixels and goes on by three
//! from line to line, so that what comes from a line above or below, or from some pixels beside, is out of step with
//! what is around it. A diagonal moves one pixel right a line.

use backporch_adapter::CharacterSet;

use crate::indexed::{Indexed, IndexedError};

/// Pixels of a glyph, across and down.
const GLYPH: u32 = 8;
/// Pixels and lines at the top left without numbers, where a program may write its own.
const FREE: (u32, u32) = (192, 8);
/// Pixels from a numbered column to its number: the ground shows where a line begins.
const ASIDE: u32 = 4;

/// Pixel values the card is drawn with.
#[derive(Clone, Copy, Debug)]
struct Inks {
    ground: [u8; 5],
    /// What numbers stand on, where the ground is too coarse to read them on it.
    paper: Option<u8>,
    column: u8,
    line: u8,
    diagonal: u8,
}

impl Inks {
    /// Standard colours of the modes: sixteen fixed ones and greys after them, or those there are (common practice).
    fn of(bits: u32) -> Self {
        match bits {
            1 => Self { ground: [1, 0, 0, 0, 0], paper: Some(0), column: 1, line: 1, diagonal: 1 },
            // At any distance four pixels in five differ.
            2 | 3 => Self { ground: [0, 0, 1, 2, 1], paper: Some(0), column: 3, line: 2, diagonal: 3 },
            4..=7 => Self { ground: [0, 1, 8, 2, 4], paper: None, column: 15, line: 14, diagonal: 12 },
            _ => Self { ground: [17, 20, 23, 26, 29], paper: None, column: 15, line: 14, diagonal: 12 },
        }
    }

    fn value(&self, x: u32, y: u32) -> u8 {
        let (number, ink) = match y / GLYPH % 2 {
            _ if x < FREE.0 && y < FREE.1 => (None, 0),
            0 => (digit(x / 32 * 32, x % 32, y % GLYPH), self.column),
            _ if x % 64 < 32 => (digit(y / GLYPH * GLYPH, x % 32, y % GLYPH), self.line),
            _ => (None, 0),
        };
        let number = number.and_then(|lit| if lit { Some(ink) } else { self.paper });
        let diagonal = (x % 64 == (y + 48) % 64).then_some(self.diagonal);
        diagonal.or(number).unwrap_or(self.ground[((x + 3 * y) % 5) as usize])
    }
}

/// Whether a pixel of a number, printed from the left, is lit; `None` beside and below it.
fn digit(number: u32, x: u32, line: u32) -> Option<bool> {
    let text = number.to_string();
    let x = x.checked_sub(ASIDE).filter(|_| line + 1 < GLYPH)?;
    let digit = text.as_bytes().get((x / GLYPH) as usize)?;
    Some(CharacterSet::built_in().row(*digit, line as u8) >> (7 - x % GLYPH) & 1 != 0)
}

/// The test card of that size for pixels of 1 to 8 bits, in `palette`, which has a colour for each value.
///
/// # Errors
/// Where the size is nothing, or the palette lacks a colour.
pub fn card(width: u32, height: u32, bits: u32, palette: Vec<[u8; 3]>) -> Result<Indexed, IndexedError> {
    let inks = Inks::of(bits);
    let values = (0..height).flat_map(|y| (0..width).map(move |x| inks.value(x, y)));
    Indexed::new(width, height, values.collect(), palette)
}

/// The character of the test card in a text mode at a column and row: numbers of columns and rows in turn.
#[must_use]
pub fn card_character(column: u32, row: u32) -> u8 {
    /// Cells at the top left that stay blank.
    const FREE_CELLS: u32 = 24;
    let number = if row.is_multiple_of(2) { column / 4 * 4 } else { row };
    let text = format!("{number:<3}");
    match (row, column % 4) {
        (0, _) if column < FREE_CELLS => b' ',
        // What stands between the numbers tells a line from the one after the next.
        (_, 3) => b'A' + ((column / 4 + row) % 26) as u8,
        (_, place) => text.as_bytes().get(place as usize).copied().unwrap_or(b'.'),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_displacement_shows_on_every_line() {
        for bits in [1, 2, 4, 8] {
            let palette = (0..1u32 << bits).map(|level| [level as u8; 3]).collect();
            let card = card(320, 200, bits, palette).unwrap();
            let at = |x: u32, y: u32| card.indices()[(y * 320 + x) as usize];
            for (right, down) in [(0, 1), (0, 2), (2, 0), (4, 0), (8, 0), (64, 0), (256, 0), (16, 1)] {
                for y in (8..190).step_by(7) {
                    let differs = (0..320 - right).filter(|x| at(*x, y) != at(x + right, y + down)).count() as u32;
                    let least = if bits == 1 { 8 } else { 3 };
                    assert!(
                        differs * least >= 320 - right,
                        "{bits} bits, {right} right, {down} down, line {y}: {differs}"
                    );
                }
            }
        }
    }

    #[test]
    fn no_row_of_text_is_like_its_neighbours() {
        let row = |row: u32| -> Vec<u8> { (0..80).map(|column| card_character(column, row)).collect() };
        assert!((1..60).all(|at| row(at) != row(at - 1) && row(at) != row(at + 1)));
        assert!((0..25).flat_map(row).all(|character| (b' '..127).contains(&character)));
    }
}
