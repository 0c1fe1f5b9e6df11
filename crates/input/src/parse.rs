//! Reading a form: RON in, a value or one clear error out.

use std::ops::Range;

use ron::error::SpannedError;
use serde::de::DeserializeOwned;

use crate::bounds::Bounds;
use crate::explain::{Allowed, Explanation, Spot, explain};
use crate::lex::{Token, TokenKind, tokens};
use crate::outline::Outline;
use crate::place::offset_of;
use crate::read::read;
use crate::text_checks::{refuse_doubled_keys, refuse_hidden};
use crate::words::{NUMBER, piece, plain_found};
use crate::{InputError, Source, TextPosition};

/// Reads a form of type `T`. `Some(…)` may be left out around optional values.
///
/// Forms should say `#[serde(deny_unknown_fields)]`, so that a misspelt field is an error.
///
/// # Errors
/// The first thing in the text that breaks the form, with line, column and field of the word at fault: for an
/// unknown or doubled field the field's name, for a missing field the closing bracket of its group, for anything
/// else the value. No key may stand twice in a group, and no text may hold control characters or changes of direction.
pub fn parse<T: DeserializeOwned>(source: &Source) -> Result<T, InputError> {
    let form = read(source.text()).map_err(|error| Report::on::<T>(source, &error))?;
    refuse_doubled_keys(source)?;
    refuse_hidden(source)?;
    Ok(form)
}

/// What turns ron's error, which knows how far the reader came, into one that points at the word at fault.
struct Report<'a> {
    text: &'a str,
    outline: Outline<'a>,
    /// How far the reader came, in bytes.
    reached: usize,
}

impl<'a> Report<'a> {
    fn on<T: DeserializeOwned>(source: &'a Source, error: &SpannedError) -> InputError {
        let text = source.text();
        let report = Self {
            text,
            outline: Outline::of(text),
            reached: offset_of(text, error.span.end.line, error.span.end.col),
        };
        let explanation = report
            .half_read_number(&error.code)
            .or_else(|| report.stray_slash(&error.code))
            .unwrap_or_else(|| explain(&error.code));
        report.word::<T>(source.name(), explanation)
    }

    fn word<T: DeserializeOwned>(&self, file: &str, explanation: Explanation) -> InputError {
        let span = self.spot(&explanation.spot);
        let found = explanation.found.unwrap_or_else(|| self.shown(&span, explanation.said_found.as_deref()));
        let allowed = match explanation.allowed {
            Allowed::Words(words) => words,
            Allowed::WholeNumber => self.bounds::<T>(&span).map_or(NUMBER.to_owned(), Bounds::in_words),
            Allowed::Bounds => self.bounds::<T>(&span).map_or("a number that fits".to_owned(), Bounds::as_range),
        };
        let field = self.field(&span, explanation.name.as_deref());
        let error = InputError::new(file, found, allowed).at(TextPosition::of(self.text, span.start)).in_field(field);
        match explanation.help {
            Some(help) => error.with_help(help),
            None => error,
        }
    }

    fn bounds<T: DeserializeOwned>(&self, span: &Range<usize>) -> Option<Bounds> {
        let value = self.outline.starting_at(span.start);
        Bounds::of_field::<T>(self.text, value.as_ref().unwrap_or(span))
    }

    /// The dotted path to the place, or to the named field of the group around it.
    fn field(&self, span: &Range<usize>, name: Option<&str>) -> String {
        let Some(name) = name else {
            return self.outline.path_to(span.start);
        };
        let group = self.outline.group_around(span.start).map(|group| self.outline.path_to(group.start));
        match group.as_deref() {
            None | Some("") => name.to_owned(),
            Some(group) => format!("{group}.{name}"),
        }
    }

    fn spot(&self, spot: &Spot) -> Range<usize> {
        match spot {
            Spot::Next => self.next(),
            Spot::Last => self.last(),
            Spot::Reached => self.reached..self.reached,
            Spot::Backslash => {
                let read = self.text.get(..self.reached).unwrap_or_default();
                let at = read.rfind('\\').unwrap_or(self.reached);
                at..self.reached
            }
            Spot::Group => self.group(&[')', ']', '}']),
            Spot::GroupEnd => {
                let end = self.group(&[')', '}']).end;
                self.text.floor_char_boundary(end.saturating_sub(1))..end
            }
        }
    }

    /// The group that one of `brackets` closes right here, or else the one that has just been read whole.
    fn group(&self, brackets: &[char]) -> Range<usize> {
        let rest = self.text.get(self.reached..).unwrap_or_default();
        let closing = rest.starts_with(brackets);
        let just_read = self.outline.ending_at(self.reached);
        just_read
            .filter(|_| !closing)
            .or_else(|| self.outline.group_around(self.reached))
            .unwrap_or_else(|| self.last())
    }

    /// The token the reader stands at or in, or the next one; the end of the text if there is none.
    fn next(&self) -> Range<usize> {
        tokens(self.text)
            .find(|token| token.span.end > self.reached)
            .map_or(self.text.len()..self.text.len(), |token| token.span)
    }

    /// The value the reader has just read, or the token if it was no whole value.
    fn last(&self) -> Range<usize> {
        let value = self.outline.ending_at(self.reached);
        value.or_else(|| self.token_behind().map(|token| token.span)).unwrap_or_else(|| self.next())
    }

    fn token_behind(&self) -> Option<Token> {
        tokens(self.text).find(|token| token.span.end >= self.reached).filter(|token| token.span.start < self.reached)
    }

    /// The words for what stands at `span`. Of a group that was read before it was judged (as happens to tagged
    /// and flattened forms) only serde knows which part is meant.
    fn shown(&self, span: &Range<usize>, said: Option<&str>) -> String {
        let text = self.text.get(span.clone()).unwrap_or_default();
        match said {
            Some(said) if text.ends_with([')', ']', '}']) && text.len() > 1 => plain_found(said),
            _ => piece(text),
        }
    }

    /// A slash that begins no comment is reported once the reader has passed it and what follows.
    fn stray_slash(&self, code: &ron::Error) -> Option<Explanation> {
        let ron::Error::UnexpectedChar(unexpected) = code else {
            return None;
        };
        let ahead = self.text.get(self.reached..)?.starts_with(*unexpected);
        (!ahead).then(|| Explanation::last("a comment, begun with // or /*"))
    }

    /// The reader stops inside a word when only its beginning is a number, as in `3.5` or `27h`.
    fn half_read_number(&self, code: &ron::Error) -> Option<Explanation> {
        use ron::Error as E;
        let stops = matches!(
            code,
            E::ExpectedComma
                | E::ExpectedStructLikeEnd
                | E::ExpectedArrayEnd
                | E::ExpectedMapEnd
                | E::ExpectedOptionEnd
                | E::TrailingCharacters
                | E::InvalidIntegerDigit { .. }
        );
        let token = self.token_behind().filter(|token| token.kind == TokenKind::Word)?;
        let word = &self.text[token.span.clone()];
        let digits = word.trim_start_matches(['+', '-']);
        let inside = self.reached < token.span.end || matches!(code, E::InvalidIntegerDigit { .. });
        if !stops || !inside || !digits.starts_with(|c: char| c.is_ascii_digit()) {
            return None;
        }
        Some(Explanation { spot: Spot::Next, help: hexadecimal_help(digits), ..Explanation::of(Allowed::WholeNumber) })
    }
}

/// RON writes hexadecimal numbers with 0x only; a bare `27h` or `2A` is a slip worth a word.
fn hexadecimal_help(word: &str) -> Option<String> {
    let digits = word.strip_suffix(['h', 'H']).unwrap_or(word);
    let hexadecimal = !digits.is_empty() && digits.bytes().all(|byte| byte.is_ascii_hexdigit());
    hexadecimal.then(|| format!("hexadecimal is written 0x{digits} here"))
}
