//! Text files that a program on the real machine writes: a line says one thing, a keyword first; the last line is a check
//! over all others (the cyclic redundancy check of ISO 3309, in hexadecimal), line ends counted as carriage return and
//! line feed.

use std::fmt::Display;

use backporch_input::{InputError, Source, TextPosition};

/// A line of the file: its number, its keyword and the rest.
#[derive(Clone, Copy, Debug)]
pub(crate) struct KeywordLine<'a> {
    pub number: u32,
    pub keyword: &'a str,
    pub rest: &'a str,
}

impl<'a> KeywordLine<'a> {
    /// `None` for an empty line; a mark that some editors put at the end of a file is one.
    fn of((number, line): (u32, &'a str)) -> Option<Self> {
        let line = line.trim_end_matches(['\r', '\u{1A}', ' ']);
        let (keyword, rest) = line.split_once(' ').unwrap_or((line, ""));
        (!keyword.is_empty()).then_some(Self { number, keyword, rest })
    }

    /// The lines before the check, which they pass.
    ///
    /// # Errors
    /// Where there is no check, or the lines do not pass it.
    pub fn checked(source: &'a Source) -> Result<Vec<Self>, InputError> {
        let mut lines: Vec<Self> = (1..).zip(source.text().lines()).filter_map(Self::of).collect();
        let last = source.text().lines().count().max(1) as u32;
        let Some(check) = lines.pop().filter(|last| last.keyword == "check") else {
            let end = Self { number: last, keyword: "", rest: "" };
            let allowed = "a file that the program wrote to its end";
            return Err(end.fault(source, "check", "no check on the last line", allowed));
        };
        let written = |line: &&str| !line.trim_end_matches(['\r', '\u{1A}', ' ']).is_empty();
        let all = source.text().lines().filter(written).take(lines.len());
        let text: String = all.map(|line| format!("{}\r\n", line.trim_end_matches('\r'))).collect();
        let expected = format!("{:08X}", crc32fast::hash(text.as_bytes()));
        if check.rest != expected {
            let allowed = format!("{expected}, which the lines above give: copy the file again");
            return Err(check.fault(source, "check", check.rest, allowed));
        }
        Ok(lines)
    }

    /// An error in the line, behind its keyword.
    pub fn fault(
        self,
        source: &Source,
        field: impl AsRef<str>,
        found: impl Display,
        allowed: impl Display,
    ) -> InputError {
        let column = if self.rest.is_empty() { 1 } else { self.keyword.chars().count() as u32 + 2 };
        InputError::new(source.name(), found, allowed).in_field(field).at(TextPosition { line: self.number, column })
    }
}
