//! RON text cut into tokens, with the place of each; any text at all can be cut.
//!
//! This is no second RON parser: it knows only as much of the grammar as it takes to tell brackets, commas and
//! colons that structure a form from those inside texts, characters and comments. What is read is decided by `ron`.

use std::ops::Range;

/// What a token is to the structure of a form.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum TokenKind {
    /// An opening bracket: `(`, `[` or `{`.
    Open,
    /// A closing bracket: `)`, `]` or `}`.
    Close,
    /// A comma.
    Comma,
    /// A colon.
    Colon,
    /// A text or a character, raw and byte ones included, from its first letter to its closing quote.
    Quoted,
    /// A name, a number, or a run of characters that mean nothing.
    Word,
    /// A block comment without an end. Comments that end are no tokens.
    OpenComment,
}

/// A token: what it is, and its bytes in the text (never empty, always whole characters).
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Token {
    pub kind: TokenKind,
    pub span: Range<usize>,
}

/// The tokens of `text`, in order, without white space, comments and leading `#![…]` attributes.
pub(crate) fn tokens(text: &str) -> Tokens<'_> {
    let mut tokens = Tokens { text, at: 0 };
    tokens.skip_attributes();
    tokens
}

#[derive(Clone)]
pub(crate) struct Tokens<'a> {
    text: &'a str,
    at: usize,
}

impl Iterator for Tokens<'_> {
    type Item = Token;

    fn next(&mut self) -> Option<Token> {
        if let Some(comment) = self.skip_blank() {
            return Some(comment);
        }
        let rest = self.rest();
        let first = rest.chars().next()?;
        let (kind, length) = match first {
            '(' | '[' | '{' => (TokenKind::Open, 1),
            ')' | ']' | '}' => (TokenKind::Close, 1),
            ',' => (TokenKind::Comma, 1),
            ':' => (TokenKind::Colon, 1),
            _ => match quoted_length(rest) {
                Some(length) => (TokenKind::Quoted, length),
                None => (TokenKind::Word, word_length(rest)),
            },
        };
        Some(self.take(kind, length))
    }
}

impl<'a> Tokens<'a> {
    fn rest(&self) -> &'a str {
        self.text.get(self.at..).unwrap_or_default()
    }

    fn take(&mut self, kind: TokenKind, length: usize) -> Token {
        let start = self.at;
        self.at += length;
        Token { kind, span: start..self.at }
    }

    /// Skips white space and comments; gives a comment that has no end.
    fn skip_blank(&mut self) -> Option<Token> {
        loop {
            let rest = self.rest();
            let blank = rest.len() - rest.trim_start_matches(is_white_space).len();
            self.at += blank;
            let rest = self.rest();
            if rest.starts_with("//") {
                self.at += rest.find('\n').unwrap_or(rest.len());
            } else if rest.starts_with("/*") {
                match block_comment_length(rest) {
                    Some(length) => self.at += length,
                    None => return Some(self.take(TokenKind::OpenComment, rest.len())),
                }
            } else {
                return None;
            }
        }
    }

    /// Skips attributes such as `#![enable(implicit_some)]` at the start of the text.
    fn skip_attributes(&mut self) {
        loop {
            let mut ahead = self.clone();
            if ahead.skip_blank().is_some() || !ahead.rest().starts_with('#') {
                return;
            }
            let closes = |token: &Token| &self.text[token.span.clone()] == "]";
            if !ahead.any(|token| closes(&token)) {
                return;
            }
            self.at = ahead.at;
        }
    }
}

/// White space as RON has it.
fn is_white_space(c: char) -> bool {
    matches!(c, ' ' | '\t'..='\r' | '\u{85}' | '\u{200E}' | '\u{200F}' | '\u{2028}' | '\u{2029}')
}

/// Bytes of the block comment that `rest` starts with, comments inside it included; `None` if it has no end.
fn block_comment_length(rest: &str) -> Option<usize> {
    let bytes = rest.as_bytes();
    let (mut level, mut at) = (0_usize, 0);
    while at < bytes.len() {
        match bytes.get(at..at + 2) {
            Some(b"/*") => (level, at) = (level + 1, at + 2),
            Some(b"*/") if level == 1 => return Some(at + 2),
            Some(b"*/") => (level, at) = (level - 1, at + 2),
            _ => at += 1,
        }
    }
    None
}

/// Bytes of the text or character that `rest` starts with; one without an end runs to the end of `rest`.
fn quoted_length(rest: &str) -> Option<usize> {
    let unprefixed = rest.strip_prefix('b').unwrap_or(rest);
    let prefix = rest.len() - unprefixed.len();
    let body = if let Some(inside) = unprefixed.strip_prefix('"') {
        1 + escaped_length(inside)
    } else if unprefixed.starts_with('\'') {
        character_length(unprefixed)?
    } else {
        raw_length(unprefixed.strip_prefix('r')?).map(|length| 1 + length)?
    };
    Some(prefix + body)
}

/// Bytes up to and with the closing quote, where `inside` is what follows the opening one.
fn escaped_length(inside: &str) -> usize {
    let mut escaped = false;
    for (at, byte) in inside.bytes().enumerate() {
        match byte {
            _ if escaped => escaped = false,
            b'\\' => escaped = true,
            b'"' => return at + 1,
            _ => {}
        }
    }
    inside.len()
}

/// Bytes of a character in single quotes; `None` if `rest` holds no such character, so that a stray quote spoils one token only.
fn character_length(rest: &str) -> Option<usize> {
    let mut chars = rest.char_indices().skip(1);
    let (_, first) = chars.next()?;
    if first != '\\' {
        let (at, close) = chars.next()?;
        return (close == '\'').then_some(at + 1);
    }
    // The longest escape is `\u{10FFFF}`: ten characters.
    chars.next()?;
    let (at, _) = chars.take(9).find(|(_, c)| *c == '\'')?;
    Some(at + 1)
}

/// Bytes of `#…#"…"#…#`, the raw text after its `r`; `None` if there is no quote after the hashes.
fn raw_length(rest: &str) -> Option<usize> {
    let hashes = rest.len() - rest.trim_start_matches('#').len();
    let inside = rest[hashes..].strip_prefix('"')?;
    let end = format!("\"{}", &rest[..hashes]);
    let length = inside.find(&end).map_or(inside.len(), |at| at + end.len());
    Some(hashes + 1 + length)
}

/// Bytes up to the next bracket, comma, colon, quote, white space or comment; at least one character.
fn word_length(rest: &str) -> usize {
    let ends = |(at, c): (usize, char)| {
        let divides = "()[]{},:\"'".contains(c) || is_white_space(c);
        let comment = rest[at..].starts_with("//") || rest[at..].starts_with("/*");
        (divides || comment).then_some(at)
    };
    rest.char_indices().skip(1).find_map(ends).unwrap_or(rest.len())
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn cut(text: &str) -> Vec<&str> {
        tokens(text).map(|token| &text[token.span.clone()]).collect()
    }

    #[test]
    fn structure_and_words_are_told_apart() {
        assert_eq!(cut("(a: [0x27,-1.5e+3] )"), ["(", "a", ":", "[", "0x27", ",", "-1.5e+3", "]", ")"]);
    }

    #[test]
    fn texts_and_characters_hide_their_insides() {
        assert_eq!(cut(r#""a\"),(" b"#), [r#""a\"),(""#, "b"]);
        assert_eq!(cut(r##"r#"a"),("# r"b\" c"##), [r##"r#"a"),("#"##, r#"r"b\""#, "c"]);
        assert_eq!(cut(r#"b"x)" br"\" b'('"#), [r#"b"x)""#, r#"br"\""#, "b'('"]);
        assert_eq!(cut(r"'(' '\'' '\u{28}' ','"), ["'('", r"'\''", r"'\u{28}'", "','"]);
        assert_eq!(cut("r#type: 1"), ["r#type", ":", "1"]);
    }

    #[test]
    fn comments_are_no_tokens() {
        assert_eq!(cut("a // b, (\nc /* d /* e */ ) */f//g"), ["a", "c", "f"]);
        assert_eq!(cut("a /* b /* c */"), ["a", "/* b /* c */"]);
    }

    #[test]
    fn attributes_are_no_tokens() {
        assert_eq!(cut("#![enable(implicit_some)] // x\n#![enable(unwrap_newtypes)]\n(1)"), ["(", "1", ")"]);
        assert_eq!(cut("#![enable("), ["#!", "[", "enable", "("]);
    }

    #[test]
    fn what_has_no_end_runs_to_the_end_or_spoils_one_word() {
        assert_eq!(cut("\"abc"), ["\"abc"]);
        assert_eq!(cut("r##\"a\"#"), ["r##\"a\"#"]);
        assert_eq!(cut("'ab (c)"), ["'ab", "(", "c", ")"]);
    }

    proptest! {
        #[test]
        fn any_text_is_cut_into_whole_characters(text in "(?s).{0,80}") {
            let mut end = 0;
            for token in tokens(&text) {
                prop_assert!(token.span.start >= end && token.span.end > token.span.start);
                prop_assert!(text.get(token.span.clone()).is_some());
                end = token.span.end;
            }
        }

        #[test]
        fn any_ron_like_text_is_cut(text in r#"[()\[\]{},:"'\\/*r#b a0\n]{0,80}"#) {
            for token in tokens(&text) {
                prop_assert!(text.get(token.span.clone()).is_some());
            }
        }
    }
}
