//! The ground that labelled pictures are laid out on: rectangles, lettering in the built-in character
//! set, and the few colours that all of them share.
//!
//! Whatever reaches beyond the edge of a picture is left out.

use backporch_adapter::charset::{CharacterSet, GLYPH_WIDTH};
use image::{Rgb, RgbImage};

use crate::indexed::Colour;

/// Behind everything.
pub(crate) const GROUND: Colour = [23, 25, 30];
/// Behind what belongs together.
pub(crate) const PANEL: Colour = [36, 39, 47];
/// Lines that part one thing from another.
pub(crate) const RULE: Colour = [66, 71, 82];
/// Lettering.
pub(crate) const INK: Colour = [232, 233, 228];
/// Lettering of lesser weight.
pub(crate) const FAINT_INK: Colour = [158, 164, 174];

/// Pixels from one character to the next, at scale 1.
const ADVANCE: u32 = GLYPH_WIDTH as u32;

/// A rectangle of pixels.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct PlateArea {
    /// Left column.
    pub(crate) x: u32,
    /// Top row.
    pub(crate) y: u32,
    /// Pixels across.
    pub(crate) width: u32,
    /// Pixels down.
    pub(crate) height: u32,
}

impl PlateArea {
    /// The area of `width` by `height` pixels whose top left pixel is `x`, `y`.
    #[must_use]
    pub(crate) const fn new(x: u32, y: u32, width: u32, height: u32) -> Self {
        Self { x, y, width, height }
    }

    /// The area with `rim` more pixels on each side.
    #[must_use]
    pub(crate) const fn grown(self, rim: u32) -> Self {
        Self {
            x: self.x.saturating_sub(rim),
            y: self.y.saturating_sub(rim),
            width: self.width + 2 * rim,
            height: self.height + 2 * rim,
        }
    }
}

/// Fills an area.
pub(crate) fn fill(picture: &mut RgbImage, area: PlateArea, colour: Colour) {
    let right = area.x.saturating_add(area.width).min(picture.width());
    let bottom = area.y.saturating_add(area.height).min(picture.height());
    for y in area.y..bottom {
        for x in area.x..right {
            picture.put_pixel(x, y, Rgb(colour));
        }
    }
}

/// Lettering of one size and colour.
#[derive(Debug, Clone, Copy)]
pub struct Lettering {
    /// Pixels to a dot of a glyph, at least 1.
    pub scale: u32,
    /// The colour of lit dots; dark ones let the ground through.
    pub colour: Colour,
}

impl Lettering {
    /// Pixels from the top of a line of text to its lowest dot.
    #[must_use]
    pub fn height(self) -> u32 {
        u32::from(CharacterSet::built_in().glyph_height()) * self.scale
    }

    /// Pixels that a text takes up across.
    #[must_use]
    pub fn width(self, text: &str) -> u32 {
        text.chars().count() as u32 * ADVANCE * self.scale
    }

    /// Characters that fit into this many pixels.
    #[must_use]
    pub const fn fitting(self, width: u32) -> usize {
        (width / (ADVANCE * self.scale)) as usize
    }

    /// Writes one line, its top left at `x`, `y`. Characters that the set lacks show as `?`.
    pub fn write(self, picture: &mut RgbImage, (x, y): (u32, u32), text: &str) {
        for (place, character) in (0u32..).zip(text.chars()) {
            let left = x.saturating_add(place.saturating_mul(ADVANCE * self.scale));
            if left >= picture.width() {
                break;
            }
            self.glyph(picture, (left, y), code_of(character));
        }
    }

    fn glyph(self, picture: &mut RgbImage, (x, y): (u32, u32), code: u8) {
        let set = CharacterSet::built_in();
        for line in 0..set.glyph_height() {
            let row = set.row(code, line);
            for column in (0..GLYPH_WIDTH).filter(|column| row & (0x80 >> column) != 0) {
                let dot = PlateArea::new(
                    x + u32::from(column) * self.scale,
                    y + u32::from(line) * self.scale,
                    self.scale,
                    self.scale,
                );
                fill(picture, dot, self.colour);
            }
        }
    }
}

/// The glyph for a character, or for the one that stands in for it.
fn code_of(character: char) -> u8 {
    let stand_in = match character {
        '\u{2010}'..='\u{2015}' | '\u{2212}' => '-',
        '\u{2018}' | '\u{2019}' => '\'',
        '\u{201C}' | '\u{201D}' => '"',
        '×' => 'x',
        '\t' | '\u{202F}' => ' ',
        other => other,
    };
    CharacterSet::built_in().code_for(stand_in).unwrap_or(b'?')
}

/// The text in at most `most` characters, two dots at its end where more was cut off.
#[must_use]
pub(crate) fn shortened(text: &str, most: usize) -> String {
    if text.chars().count() <= most {
        return text.to_owned();
    }
    let kept: String = text.chars().take(most.saturating_sub(2)).collect();
    kept + &".."[..most.min(2)]
}

/// The text in lines of at most `most` characters (at least 1), broken between words where that can be.
#[must_use]
pub(crate) fn wrapped(text: &str, most: usize) -> Vec<String> {
    let most = most.max(1);
    let mut lines = vec![String::new()];
    let mut used = 0;
    for word in text.split_whitespace() {
        let letters: Vec<char> = word.chars().collect();
        for part in letters.chunks(most) {
            let needed = part.len() + usize::from(used > 0);
            if used + needed > most {
                lines.push(String::new());
                used = 0;
            }
            if let Some(line) = lines.last_mut() {
                if used > 0 {
                    line.push(' ');
                    used += 1;
                }
                line.extend(part);
                used += part.len();
            }
        }
    }
    lines
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn a_glyph_is_drawn_dot_by_dot() {
        let mut picture = RgbImage::new(16, 16);
        let lettering = Lettering { scale: 2, colour: INK };
        lettering.write(&mut picture, (0, 0), "█");
        assert!(picture.pixels().all(|pixel| pixel.0 == INK));
        assert_eq!((lettering.width("ab"), lettering.height(), lettering.fitting(47)), (32, 16, 2));
    }

    #[test]
    fn unknown_characters_show_as_question_marks() {
        assert_eq!(code_of('A'), b'A');
        assert_eq!(code_of('—'), b'-');
        assert_eq!(code_of('猫'), b'?');
    }

    #[test]
    fn long_texts_are_cut_or_wrapped() {
        assert_eq!(shortened("start 12", 8), "start 12");
        assert_eq!(shortened("start 123", 8), "start ..");
        assert_eq!(shortened("start", 1), ".");
        assert_eq!(wrapped("one two three", 7), ["one two", "three"]);
        assert_eq!(wrapped("abcdefgh i", 3), ["abc", "def", "gh", "i"]);
        assert_eq!(wrapped("", 3), [""]);
    }

    proptest! {
        #[test]
        fn lines_are_never_too_long(text in "[a-zé ]{0,60}", most in 1usize..20) {
            for line in wrapped(&text, most) {
                prop_assert!(line.chars().count() <= most);
            }
            prop_assert!(shortened(&text, most).chars().count() <= most);
            let joined = |text: &str| text.split_whitespace().collect::<String>();
            prop_assert_eq!(joined(&wrapped(&text, most).concat()), joined(&text));
        }

        #[test]
        fn nothing_is_drawn_beyond_the_edges(x: u32, y: u32, scale in 1u32..5, text in ".{0,9}") {
            let mut picture = RgbImage::new(20, 10);
            Lettering { scale, colour: INK }.write(&mut picture, (x % 40, y % 20), &text);
            fill(&mut picture, PlateArea::new(x, y, u32::MAX, u32::MAX), INK);
        }
    }
}
