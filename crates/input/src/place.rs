//! Line and column, and the way between them and byte offsets.

use std::fmt;

/// A place in a text: line and column, both from 1, the column counted in characters.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct TextPosition {
    /// Line, from 1; lines end at a line feed.
    pub line: u32,
    /// Column, from 1, in characters.
    pub column: u32,
}

impl TextPosition {
    /// The place right after `before`, the part of a text that comes before it.
    pub(crate) fn after(before: &str) -> Self {
        let line_start = before.rfind('\n').map_or(0, |at| at + 1);
        Self { line: from_one(before.matches('\n').count()), column: from_one(before[line_start..].chars().count()) }
    }

    /// The place of byte `offset` in `text`; the text's end if the offset lies beyond it or inside a character.
    pub(crate) fn of(text: &str, offset: usize) -> Self {
        Self::after(text.get(..offset).unwrap_or(text))
    }
}

impl fmt::Display for TextPosition {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}:{}", self.line, self.column)
    }
}

/// The byte offset of line `line` and column `column` (from 1); the text's end if there is no such place.
pub(crate) fn offset_of(text: &str, line: usize, column: usize) -> usize {
    let lines_before = line.saturating_sub(1);
    let line_start: usize = text.split_inclusive('\n').take(lines_before).map(str::len).sum();
    text[line_start..].char_indices().nth(column.saturating_sub(1)).map_or(text.len(), |(at, _)| line_start + at)
}

fn from_one(count: usize) -> u32 {
    u32::try_from(count).unwrap_or(u32::MAX).saturating_add(1)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn columns_count_characters() {
        let text = "eins\nzwölf: 12";
        let place = TextPosition::of(text, text.find("12").unwrap());
        assert_eq!(place, TextPosition { line: 2, column: 8 });
    }

    proptest! {
        #[test]
        fn offsets_survive_the_way_there_and_back(text in "(?s).{0,60}") {
            for (offset, _) in text.char_indices() {
                let place = TextPosition::of(&text, offset);
                prop_assert_eq!(offset_of(&text, place.line as usize, place.column as usize), offset);
            }
        }

        #[test]
        fn any_line_and_column_is_answered(text in "(?s).{0,20}", line: usize, column: usize) {
            prop_assert!(offset_of(&text, line, column) <= text.len());
        }
    }
}
