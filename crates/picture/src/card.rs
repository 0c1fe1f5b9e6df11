//! The test card: numbered columns and lines on a ground in which every displacement shows.
//!
//! Columns are numbered every 32 pixels, lines every sixteen. The ground repeats every five pixels and goes on by three
//! from line to line, so that what comes from a line above or below, or from some pixels beside, is out of step with
//! what is around it. A diagonal moves one pixel right a line.
//!
//! Two [codes](crate::qr) say by machine which card it is: a large one at the lower right, which a photograph shows from
//! afar and askew, and a small one at the upper left, so that what hits one part of the picture leaves the other.

use backporch_adapter::CharacterSet;

use crate::indexed::{Indexed, IndexedError};
use crate::qr::Qr;

/// Pixels of a glyph, across and down.
const GLYPH: u32 = 8;
/// Characters at the top left without numbers, where a session writes its label.
pub const LABEL_CHARACTERS: u32 = 24;
/// The same in pixels and lines, where a mode has pixels.
pub const LABEL: (u32, u32) = (LABEL_CHARACTERS * GLYPH, GLYPH);
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
            _ if x < LABEL.0 && y < LABEL.1 => (None, 0),
            0 => (digit(x / 32 * 32, x % 32, y % GLYPH), self.column),
            _ if x % 64 < 32 => (digit(y / GLYPH * GLYPH, x % 32, y % GLYPH), self.line),
            _ => (None, 0),
        };
        let number = number.and_then(|lit| if lit { Some(ink) } else { self.paper });
        let diagonal = (x % 64 == (y + 48) % 64).then_some(self.diagonal);
        diagonal.or(number).unwrap_or(self.ground[((x + 3 * y) % 5) as usize])
    }
}

/// A code on a card: where its quiet zone begins, and the pixels and lines of a module.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct CodePlace {
    at: (u32, u32),
    module: (u32, u32),
}

impl CodePlace {
    /// The places of a code on the part of a card that is shown.
    fn of((width, height): (u32, u32), code: &Qr) -> Vec<Self> {
        // As on a card of 320 x 200 pixels.
        let across = |pixels: u32| pixels * width / 320;
        let down = |lines: u32| lines * height / 200;
        let module = |pixels: u32| (across(pixels), down(pixels));
        let (large, small) = (module(3), module(2));
        let lower = (width.checked_sub(across(16) + large.0 * code.side()))
            .zip(height.checked_sub(down(10) + large.1 * code.side()));
        let upper = (across(20), down(24));
        let fits = |place: &Self| {
            let end = (place.at.0 + place.module.0 * code.side(), place.at.1 + place.module.1 * code.side());
            place.module.0 > 0 && place.module.1 > 0 && end.0 <= width && end.1 <= height
        };
        let places = lower.map(|at| Self { at, module: large }).into_iter().chain([Self { at: upper, module: small }]);
        places.filter(fits).collect()
    }

    /// Whether a pixel of the card is one of the code's, and dark.
    fn dark(&self, code: &Qr, x: u32, y: u32) -> Option<bool> {
        let column = x.checked_sub(self.at.0)? / self.module.0;
        let row = y.checked_sub(self.at.1)? / self.module.1;
        (column < code.side() && row < code.side()).then(|| code.is_dark(column, row))
    }
}

/// What a card says to machines, on the part of it that is shown.
#[derive(Clone, Debug)]
pub struct CardCode {
    /// The code.
    pub code: Qr,
    /// Pixels and lines of the card, from its upper left corner, that are shown.
    pub shown: (u32, u32),
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
pub fn card(
    width: u32,
    height: u32,
    bits: u32,
    palette: Vec<[u8; 3]>,
    code: Option<&CardCode>,
) -> Result<Indexed, IndexedError> {
    let inks = Inks::of(bits);
    let places = code.map_or_else(Vec::new, |card| CodePlace::of(card.shown, &card.code));
    let value = |x: u32, y: u32| {
        let dark = code.and_then(|card| places.iter().find_map(|place| place.dark(&card.code, x, y)));
        dark.map_or_else(|| inks.value(x, y), |dark| if dark { 0 } else { inks.column })
    };
    let values = (0..height).flat_map(|y| (0..width).map(move |x| (x, y))).map(|(x, y)| value(x, y));
    Indexed::new(width, height, values.collect(), palette)
}

/// Digits of the number at the beginning of a label.
const NUMBER_DIGITS: u32 = 3;
/// Pixels and lines of the number at the beginning of a label.
pub const NUMBER: (u32, u32) = (NUMBER_DIGITS * GLYPH, GLYPH);

/// Whether a pixel of a label's [`NUMBER`] is lit, counted from its upper left corner.
#[must_use]
pub fn number_is_lit(number: u32, x: u32, y: u32) -> bool {
    let digit = (x / GLYPH).min(NUMBER_DIGITS - 1);
    let value = number / 10u32.pow(NUMBER_DIGITS - 1 - digit) % 10;
    y < GLYPH && CharacterSet::built_in().row(b'0' + value as u8, y as u8) >> (7 - x % GLYPH) & 1 != 0
}

/// What is exclusive-ored with the card's pixels of that many bits where a label is lit: all of their bits; of eight, greys
/// become colours, entries that stand 38h apart (common practice).
#[must_use]
pub fn label_mask(bits: u32) -> u8 {
    if bits >= 8 { 0x38 } else { (1 << bits) - 1 }
}

/// The character of the test card in a text mode at a column and row: numbers of columns and rows in turn.
#[must_use]
pub fn card_character(column: u32, row: u32) -> u8 {
    let number = if row.is_multiple_of(2) { column / 4 * 4 } else { row };
    let text = format!("{number:<3}");
    match (row, column % 4) {
        (0, _) if column < LABEL_CHARACTERS => b' ',
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
        let code = CardCode { code: Qr::new("BP1:LINEAR-256/320X200X256").unwrap(), shown: (320, 200) };
        for (bits, code) in [1, 2, 4, 8].into_iter().flat_map(|bits| [(bits, None), (bits, Some(&code))]) {
            let palette = (0..1u32 << bits).map(|level| [level as u8; 3]).collect();
            let card = card(320, 200, bits, palette, code).unwrap();
            let at = |x: u32, y: u32| card.indices()[(y * 320 + x) as usize];
            for (right, down) in [(0, 1), (0, 2), (2, 0), (4, 0), (8, 0), (64, 0), (256, 0), (16, 1)] {
                for y in (8..190).step_by(7) {
                    let differs = (0..320 - right).filter(|x| at(*x, y) != at(x + right, y + down)).count() as u32;
                    // The light around codes shows nothing of it.
                    let least = if bits == 1 { 8 } else { 3 } + if code.is_some() { 3 } else { 0 };
                    assert!(
                        differs * least >= 320 - right,
                        "{bits} bits, {right} right, {down} down, line {y}: {differs}"
                    );
                }
            }
        }
    }

    #[test]
    fn codes_lie_apart_and_within_what_is_shown() {
        let longest = Qr::new(&"A".repeat(84)).unwrap();
        for shown in [(320, 200), (320, 240), (360, 480), (640, 200), (640, 350), (640, 480), (720, 348)] {
            let places = CodePlace::of(shown, &longest);
            assert_eq!(places.len(), 2, "{shown:?}");
            let both = |x: u32, y: u32| places.iter().all(|place| place.dark(&longest, x, y).is_some());
            assert!((0..shown.1).all(|y| (0..shown.0).all(|x| !both(x, y))), "{shown:?}");
            // Not where a program writes its label, nor where the edges of the picture are looked for.
            let any = |x: u32, y: u32| places.iter().any(|place| place.dark(&longest, x, y).is_some());
            assert!((0..shown.0).all(|x| (0..9).all(|y| !any(x, y) && !any(x, shown.1 - 1 - y))), "{shown:?}");
            assert!((0..shown.1).all(|y| (0..15).all(|x| !any(x, y) && !any(shown.0 - 1 - x, y))), "{shown:?}");
        }
        assert!(CodePlace::of((100, 80), &longest).is_empty());
    }

    #[test]
    fn no_row_of_text_is_like_its_neighbours() {
        let row = |row: u32| -> Vec<u8> { (0..80).map(|column| card_character(column, row)).collect() };
        assert!((1..60).all(|at| row(at) != row(at - 1) && row(at) != row(at + 1)));
        assert!((0..25).flat_map(row).all(|character| (b' '..127).contains(&character)));
    }
}
