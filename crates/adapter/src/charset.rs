//! Character sets for text modes: reads the plain text form, answers one glyph line at a time, and
//! fits a set to the taller cells of other text modes.
//!
//! The text form is meant to be drawn in an editor:
//!
//! ```text
//! lines 8
//!
//! glyph 4Ch "L"
//! .##.....
//! .##.....
//! .##.....
//! .##.....
//! .##.....
//! .##.....
//! .######.
//! ........
//! ```
//!
//! `lines` gives the height of every glyph and comes first. A glyph has a code (two hexadecimal
//! digits and an `h`), the character it shows (or a word for it) in double quotes, then its lines
//! from the top, `#` for a lit dot and `.` for a dark one. All 256 codes are present, in any order.
//! Between glyphs, empty lines and lines that start with `#` and a space are skipped.

use std::sync::LazyLock;

use thiserror::Error;

/// Glyphs in a set: one for each value of a character byte.
pub const GLYPHS: usize = 256;

/// Dots in one line of a glyph: one byte, the leftmost dot in its top bit.
pub const GLYPH_WIDTH: u8 = 8;

/// The tallest glyph: the 6845's maximum scan line address has five bits (MC6845 CRT Controller
/// data sheet, R9).
pub const TALLEST_GLYPH: u8 = 32;

/// The height of the built-in set, in lines.
const BUILT_IN_HEIGHT: u8 = 8;

/// Lines of a monochrome text cell (R9 of the monochrome text mode holds 0Dh).
const MONOCHROME_HEIGHT: u8 = 14;

/// The built-in set in its text form.
const BUILT_IN: &str = include_str!("../../../assets/charset/8x8.txt");

/// 256 glyphs of one height, eight dots wide.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CharacterSet {
    glyph_height: u8,
    /// Glyph after glyph, `glyph_height` bytes each.
    rows: Vec<u8>,
    /// What each code shows, where that is a single character.
    characters: Vec<Option<char>>,
}

/// What is wrong with the text form of a character set. Lines of the file count from 1.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
#[non_exhaustive]
pub enum CharsetError {
    /// Something stands before the `lines` line, or there is none.
    #[error("line {line}: expected `lines HEIGHT` before the first glyph, found {found:?}")]
    NoHeight {
        /// Where it was missed.
        line: usize,
        /// The text found there, empty at the end of the file.
        found: String,
    },
    /// The height is no number, or out of range.
    #[error("line {line}: glyph height is {found:?}, allowed are 1 to {TALLEST_GLYPH}")]
    Height {
        /// The line of the file.
        line: usize,
        /// What stands for the height.
        found: String,
    },
    /// Not a `glyph` line where one has to be.
    #[error("line {line}: expected `glyph CODEh \"CHARACTER\"`, found {found:?}")]
    Heading {
        /// The line of the file.
        line: usize,
        /// The text found there.
        found: String,
    },
    /// A glyph's line is not eight `.` or `#`, or a glyph has too few lines.
    #[error("line {line}: glyph {code:02X}h: expected {GLYPH_WIDTH} of `.` and `#`, found {found:?}")]
    Dots {
        /// The line of the file.
        line: usize,
        /// The glyph's code.
        code: u8,
        /// The text found there, empty at the end of the file.
        found: String,
    },
    /// A code was drawn before.
    #[error("line {line}: glyph {code:02X}h is drawn twice, first on line {first}")]
    Twice {
        /// The line of the file.
        line: usize,
        /// The glyph's code.
        code: u8,
        /// The line of the first drawing.
        first: usize,
    },
    /// A code was never drawn.
    #[error("glyph {code:02X}h is missing, all {GLYPHS} have to be drawn (file ends on line {line})")]
    Missing {
        /// The last line of the file.
        line: usize,
        /// The lowest missing code.
        code: u8,
    },
}

impl CharacterSet {
    /// Reads the text form (see the module's page).
    ///
    /// # Errors
    ///
    /// A [`CharsetError`] with the line of the file at the first thing that does not fit the form.
    pub fn parse(text: &str) -> Result<Self, CharsetError> {
        Reader::new(text).character_set()
    }

    /// The set that comes with the bench: code page 437 positions, 8 lines high.
    #[must_use]
    pub fn built_in() -> &'static Self {
        static SET: LazyLock<CharacterSet> = LazyLock::new(|| {
            // The tests read the embedded text, so the dark set is never seen.
            CharacterSet::parse(BUILT_IN).unwrap_or_else(|_| CharacterSet::dark(BUILT_IN_HEIGHT))
        });
        &SET
    }

    /// The built-in set as the monochrome text class has it: 14 lines high.
    #[must_use]
    pub fn monochrome() -> &'static Self {
        static SET: LazyLock<CharacterSet> = LazyLock::new(|| CharacterSet::built_in().stretched(MONOCHROME_HEIGHT));
        &SET
    }

    /// Lines of every glyph, 1 to [`TALLEST_GLYPH`].
    #[must_use]
    pub const fn glyph_height(&self) -> u8 {
        self.glyph_height
    }

    /// The eight dots of one line (from 0 at the top) of a glyph, the leftmost in the top bit.
    /// Lines below the glyph are dark.
    #[must_use]
    pub fn row(&self, code: u8, line: u8) -> u8 {
        if line >= self.glyph_height {
            return 0;
        }
        let index = usize::from(code) * usize::from(self.glyph_height) + usize::from(line);
        self.rows.get(index).copied().unwrap_or(0)
    }

    /// The code whose glyph shows `character`, if the set has one.
    #[must_use]
    pub fn code_for(&self, character: char) -> Option<u8> {
        let index = self.characters.iter().position(|shown| *shown == Some(character))?;
        u8::try_from(index).ok()
    }

    /// The same set, every glyph `height` lines high (held to 1 to [`TALLEST_GLYPH`]).
    ///
    /// Each line is repeated as often as fits, and the lines repeated once more are spread evenly.
    /// From 8 to 14 lines that leaves lines 1 and 5 single, which are uprights in most letters, so
    /// the bars of a letter keep one thickness and half blocks stay halves; line art goes on joining.
    #[must_use]
    pub fn stretched(&self, height: u8) -> Self {
        let height = height.clamp(1, TALLEST_GLYPH);
        let sources = source_lines(self.glyph_height, height);
        let rows = (0..=u8::MAX).flat_map(|code| sources.iter().map(move |&line| self.row(code, line))).collect();
        Self { glyph_height: height, rows, characters: self.characters.clone() }
    }

    /// A set without a lit dot.
    fn dark(glyph_height: u8) -> Self {
        Self { glyph_height, rows: vec![0; GLYPHS * usize::from(glyph_height)], characters: vec![None; GLYPHS] }
    }
}

/// For each of `to` lines, the line it repeats of a glyph of `from` lines.
fn source_lines(from: u8, to: u8) -> Vec<u8> {
    let (every, extra) = (to / from, u32::from(to % from));
    // The middles of `extra` equal parts of the glyph.
    let again: Vec<u32> = (0..extra).map(|part| (2 * part + 1) * u32::from(from) / (2 * extra)).collect();
    (0..from)
        .flat_map(|line| {
            let repeats = every + u8::from(again.contains(&u32::from(line)));
            std::iter::repeat_n(line, usize::from(repeats))
        })
        .collect()
}

/// Walks the text form line by line.
struct Reader<'a> {
    lines: std::iter::Enumerate<std::str::Lines<'a>>,
    /// The file line last taken, from 1.
    at: usize,
}

impl<'a> Reader<'a> {
    fn new(text: &'a str) -> Self {
        Self { lines: text.lines().enumerate(), at: 0 }
    }

    /// The next line of the file, whatever it holds.
    fn line(&mut self) -> Option<&'a str> {
        let (index, text) = self.lines.next()?;
        self.at = index + 1;
        Some(text.trim_end())
    }

    /// The next line that is neither empty nor a comment.
    fn telling_line(&mut self) -> Option<&'a str> {
        loop {
            let text = self.line()?;
            if !text.is_empty() && text != "#" && !text.starts_with("# ") {
                return Some(text);
            }
        }
    }

    fn character_set(mut self) -> Result<CharacterSet, CharsetError> {
        let mut set = CharacterSet::dark(self.height()?);
        let mut drawn_on: [Option<usize>; GLYPHS] = [None; GLYPHS];
        while let Some(text) = self.telling_line() {
            let line = self.at;
            let (code, character) =
                heading(text).ok_or_else(|| CharsetError::Heading { line, found: text.to_owned() })?;
            let index = usize::from(code);
            if let Some(first) = drawn_on[index].replace(line) {
                return Err(CharsetError::Twice { line, code, first });
            }
            set.characters[index] = character;
            let start = index * usize::from(set.glyph_height);
            for row in &mut set.rows[start..start + usize::from(set.glyph_height)] {
                *row = self.dots(code)?;
            }
        }
        match (0..=u8::MAX).find(|&code| drawn_on[usize::from(code)].is_none()) {
            Some(code) => Err(CharsetError::Missing { line: self.at, code }),
            None => Ok(set),
        }
    }

    fn height(&mut self) -> Result<u8, CharsetError> {
        let text = self.telling_line().unwrap_or_default();
        let line = self.at;
        let number =
            text.strip_prefix("lines ").ok_or_else(|| CharsetError::NoHeight { line, found: text.to_owned() })?.trim();
        number
            .parse()
            .ok()
            .filter(|height| (1..=TALLEST_GLYPH).contains(height))
            .ok_or_else(|| CharsetError::Height { line, found: number.to_owned() })
    }

    fn dots(&mut self, code: u8) -> Result<u8, CharsetError> {
        let text = self.line().unwrap_or_default();
        dots(text).ok_or_else(|| CharsetError::Dots { line: self.at, code, found: text.to_owned() })
    }
}

/// Code and character of a `glyph` line.
fn heading(text: &str) -> Option<(u8, Option<char>)> {
    let (code, name) = text.strip_prefix("glyph ")?.split_once(' ')?;
    let digits = code.strip_suffix('h').filter(|digits| digits.len() == 2)?;
    if !digits.bytes().all(|digit| digit.is_ascii_hexdigit()) {
        return None;
    }
    let code = u8::from_str_radix(digits, 16).ok()?;
    let name = name.trim_start().strip_prefix('"')?.strip_suffix('"')?;
    let mut characters = name.chars();
    let only = characters.next().filter(|_| characters.next().is_none());
    Some((code, only))
}

/// Eight dots as a byte, the leftmost in the top bit.
fn dots(text: &str) -> Option<u8> {
    if text.len() != usize::from(GLYPH_WIDTH) {
        return None;
    }
    text.bytes().try_fold(0, |row, dot| match dot {
        b'#' => Some(row << 1 | 1),
        b'.' => Some(row << 1),
        _ => None,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// The two dots of a single upright line.
    const SINGLE_UPRIGHT: u8 = 0b0001_1000;
    /// The two uprights of a double line.
    const DOUBLE_UPRIGHT: u8 = 0b0110_0110;

    fn parsed() -> CharacterSet {
        CharacterSet::parse(BUILT_IN).expect("the embedded text is well formed")
    }

    /// A text form that draws every code as two lines.
    fn two_line_text() -> String {
        let glyphs = (0..=u8::MAX).map(|code| format!("glyph {code:02X}h \"x\"\n#......#\n........\n"));
        format!("lines 2\n{}", glyphs.collect::<String>())
    }

    #[test]
    fn built_in_is_the_embedded_text() {
        assert_eq!(*CharacterSet::built_in(), parsed());
        assert_eq!(parsed().glyph_height(), BUILT_IN_HEIGHT);
    }

    // Source: CP437.TXT, the code page 437 to Unicode table published by the Unicode Consortium.
    #[test]
    fn codes_show_the_characters_of_code_page_437() {
        let set = parsed();
        for code in 0x20..=0x7Eu8 {
            assert_eq!(set.code_for(char::from(code)), Some(code));
        }
        let high = "ÇüéâäàåçêëèïîìÄÅÉæÆôöòûùÿÖÜ¢£¥₧ƒáíóúñÑªº¿⌐¬½¼¡«»░▒▓│┤╡╢╖╕╣║╗╝╜╛┐\
                    └┴┬├─┼╞╟╚╔╩╦╠═╬╧╨╤╥╙╘╒╓╫╪┘┌█▄▌▐▀αßΓπΣσµτΦΘΩδ∞φε∩≡±≥≤⌠⌡÷≈°∙·√ⁿ²■";
        for (character, code) in high.chars().zip(0x80u8..) {
            assert_eq!(set.code_for(character), Some(code), "{character}");
        }
        assert_eq!(high.chars().count(), 127);
        assert_eq!(set.code_for('€'), None);
    }

    #[test]
    fn only_the_blank_characters_look_alike() {
        let set = parsed();
        let glyph = |code: u8| (0..8).map(|line| set.row(code, line)).collect::<Vec<_>>();
        for a in 0..=u8::MAX {
            for b in 0..a {
                let both_blank = [0x00, 0x20, 0xFF].contains(&a) && [0x00, 0x20].contains(&b);
                assert_eq!(glyph(a) == glyph(b), both_blank, "{a:02X}h and {b:02X}h");
            }
        }
    }

    /// Lines (0 none, 1 single, 2 double) that leave the cell up, down, left and right, for codes
    /// B3h to DAh. Source: the Unicode names of these characters ("box drawings vertical single and
    /// left double", …).
    const ARMS: &str = "\
        1100 1110 1120 2210 0210 0120 2220 2200 0220 2020 \
        2010 1020 0110 1001 1011 0111 1101 0011 1111 1102 \
        2201 2002 0202 2022 0222 2202 0022 2222 1022 2011 \
        0122 0211 2001 1002 0102 0201 2211 1122 1010 0101";

    fn upright(arm: u8) -> u8 {
        [0, SINGLE_UPRIGHT, DOUBLE_UPRIGHT][usize::from(arm)]
    }

    /// Lines of a cell in which a horizontal arm meets the edge, one bit a line, line 0 lowest.
    fn level(arm: u8) -> u8 {
        [0, 0b0000_1000, 0b0001_0100][usize::from(arm)]
    }

    #[test]
    fn box_lines_meet_the_edges_where_their_names_say() {
        let set = parsed();
        let arms: Vec<&[u8]> = ARMS.split(' ').map(str::as_bytes).collect();
        assert_eq!(arms.len(), 40);
        for (code, arms) in (0xB3u8..).zip(arms) {
            let [up, down, left, right] = std::array::from_fn(|way| arms[way] - b'0');
            let edge = |dot: u8| (0..8).fold(0, |lines, line| lines | ((set.row(code, line) >> dot & 1) << line));
            assert_eq!(set.row(code, 0), upright(up), "{code:02X}h up");
            assert_eq!(set.row(code, 7), upright(down), "{code:02X}h down");
            assert_eq!(edge(7), level(left), "{code:02X}h left");
            assert_eq!(edge(0), level(right), "{code:02X}h right");
        }
    }

    #[test]
    fn blocks_fill_exact_halves_and_shades_exact_quarters() {
        let set = parsed();
        let lit = |set: &CharacterSet, code| -> u32 {
            (0..set.glyph_height()).map(|line| set.row(code, line).count_ones()).sum()
        };
        for (code, of_64) in
            [(0xB0, 16), (0xB1, 32), (0xB2, 48), (0xDB, 64), (0xDC, 32), (0xDD, 32), (0xDE, 32), (0xDF, 32)]
        {
            assert_eq!(lit(&set, code), of_64, "{code:02X}h");
        }
        for height in [14, 16] {
            let tall = set.stretched(height);
            for line in 0..height {
                let upper = line < height / 2;
                assert_eq!(tall.row(0xDF, line), if upper { 0xFF } else { 0 });
                assert_eq!(tall.row(0xDC, line), if upper { 0 } else { 0xFF });
            }
        }
    }

    #[test]
    fn fourteen_lines_leave_two_uprights_single() {
        assert_eq!(source_lines(8, 14), [0, 0, 1, 2, 2, 3, 3, 4, 4, 5, 6, 6, 7, 7]);
        assert_eq!(source_lines(8, 16), [0, 0, 1, 1, 2, 2, 3, 3, 4, 4, 5, 5, 6, 6, 7, 7]);
        assert_eq!(source_lines(8, 4), [1, 3, 5, 7]);
    }

    #[test]
    fn errors_name_the_line() {
        let error = |text: &str| CharacterSet::parse(text).expect_err("malformed");
        assert_eq!(error(""), CharsetError::NoHeight { line: 0, found: String::new() });
        assert_eq!(error("# a\n\nlines 33"), CharsetError::Height { line: 3, found: "33".into() });
        assert_eq!(error("lines 8\nglif"), CharsetError::Heading { line: 2, found: "glif".into() });
        assert_eq!(
            error("lines 1\nglyph +1h \"x\"\n........"),
            CharsetError::Heading { line: 2, found: "glyph +1h \"x\"".into() }
        );
        assert_eq!(
            error("lines 2\nglyph 41h \"A\"\n........"),
            CharsetError::Dots { line: 3, code: 0x41, found: String::new() }
        );
        assert_eq!(
            error("lines 1\nglyph 41h \"A\"\n.......0"),
            CharsetError::Dots { line: 3, code: 0x41, found: ".......0".into() }
        );
        let whole = two_line_text();
        assert!(CharacterSet::parse(&whole).is_ok());
        let twice = format!("{whole}glyph 00h \"x\"\n........\n........\n");
        assert_eq!(error(&twice), CharsetError::Twice { line: 770, code: 0, first: 2 });
        let one_short: String = whole.lines().take(766).map(|line| format!("{line}\n")).collect();
        assert_eq!(error(&one_short), CharsetError::Missing { line: 766, code: 0xFF });
    }

    proptest! {
        #[test]
        fn any_text_is_answered(text in "(lines [0-9]{1,3}\n)?([a-z0-9 \"#.hA-F]{0,20}\n){0,12}") {
            let _ = CharacterSet::parse(&text);
        }

        #[test]
        fn stretching_keeps_order_and_height(from in 1u8..=32, to in 1u8..=32) {
            let lines = source_lines(from, to);
            prop_assert_eq!(lines.len(), usize::from(to));
            prop_assert!(lines.is_sorted());
            prop_assert!(lines.iter().all(|line| *line < from));
        }

        #[test]
        fn whole_multiples_repeat_every_line(code: u8, times in 1u8..=4, line in 0u8..32) {
            let set = CharacterSet::built_in();
            let tall = set.stretched(8 * times);
            prop_assert_eq!(tall.row(code, line), set.row(code, line / times));
        }
    }
}
