//! Each error of the RON reader in plain words: where to point, what was found, what is allowed, what may help.

use crate::nearest;
use crate::words::{
    BOOLEAN, CHARACTER, FIELDS, LIST, MAP, NAME, NUMBER, TEXT, VALUES, counted, expected_count, listed, plain_expected,
    shortened,
};

/// Which part of the text an error points at, as seen from how far the reader came.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Spot {
    /// What the reader was about to read.
    Next,
    /// What the reader has just read.
    Last,
    /// Exactly where the reader stands.
    Reached,
    /// The backslash behind the reader.
    Backslash,
    /// The group the reader is in, or has just read.
    Group,
    /// The closing bracket of the group of fields the reader is in, or has just read.
    GroupEnd,
}

/// What the place takes.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) enum Allowed {
    /// These words say it.
    Words(String),
    /// A whole number; its bounds are still to be found out.
    WholeNumber,
    /// Numbers within bounds that are still to be found out.
    Bounds,
}

/// An error of the reader, explained.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Explanation {
    pub spot: Spot,
    /// What was found, if that is not simply the text at the spot.
    pub found: Option<String>,
    /// What serde says was found, for places where the text at the spot says less.
    pub said_found: Option<String>,
    pub allowed: Allowed,
    /// The field of the group around the spot that is at fault, if it is not the value at the spot.
    pub name: Option<String>,
    pub help: Option<String>,
}

impl Explanation {
    pub(crate) fn of(allowed: Allowed) -> Self {
        Self { spot: Spot::Next, found: None, said_found: None, allowed, name: None, help: None }
    }

    /// The next piece of text is not what is allowed.
    fn next(allowed: impl Into<String>) -> Self {
        Self::of(Allowed::Words(allowed.into()))
    }

    /// What was just read is not what is allowed.
    pub(crate) fn last(allowed: impl Into<String>) -> Self {
        Self { spot: Spot::Last, ..Self::next(allowed) }
    }

    fn found(self, found: impl Into<String>) -> Self {
        Self { found: Some(found.into()), ..self }
    }

    fn at(self, spot: Spot) -> Self {
        Self { spot, ..self }
    }

    fn field(self, name: &str) -> Self {
        Self { name: Some(shortened(name)), ..self }
    }

    fn help(self, help: impl Into<String>) -> Self {
        Self { help: Some(help.into()), ..self }
    }

    fn did_you_mean(self, found: &str, known: &[&str]) -> Self {
        match nearest(found, known.iter().copied()) {
            Some(name) => self.help(format!("did you mean {name}?")),
            None => self,
        }
    }
}

/// Explains an error of the reader.
pub(crate) fn explain(error: &ron::Error) -> Explanation {
    form_error(error).or_else(|| value_error(error)).unwrap_or_else(|| grammar_error(error))
}

/// Errors about what a form holds: its fields, its names, its lengths.
fn form_error(error: &ron::Error) -> Option<Explanation> {
    use ron::Error as E;
    Some(match error {
        E::NoSuchStructField { expected, found, .. } => Explanation::last(listed(expected, "no fields"))
            .found("an unknown field")
            .field(found)
            .did_you_mean(found, expected),
        E::MissingStructField { field, .. } => {
            Explanation::next("a value for this field").found("nothing").at(Spot::GroupEnd).field(field)
        }
        E::DuplicateStructField { field, .. } => {
            Explanation::last("it once in each group").found("the field again").field(field)
        }
        E::NoSuchEnumVariant { expected, found, .. } => {
            Explanation::last(listed(expected, "no names")).found(shortened(found)).did_you_mean(found, expected)
        }
        E::ExpectedDifferentLength { expected, found } => {
            Explanation::next(expected_count(expected)).found(counted(found)).at(Spot::Group)
        }
        E::ExpectedDifferentStructName { found, .. } => Explanation::last(FIELDS)
            .found(format!("the name {}", shortened(found)))
            .help("leave the name before the bracket out"),
        E::Message(message) => message_error(message),
        _ => return None,
    })
}

/// What a type of a form says about a value; see [`refuse`](crate::refuse).
fn message_error(message: &str) -> Explanation {
    let parts = message.strip_prefix("found ").and_then(|rest| rest.split_once(", allowed "));
    if let Some((found, allowed)) = parts {
        return Explanation::last(allowed).found(found);
    }
    if message.starts_with("data did not match any variant of untagged enum") {
        return Explanation::last("one of the shapes this field can have");
    }
    if message.starts_with("expected `..=` for `") {
        return Explanation::last("FROM..=TO");
    }
    if message.starts_with("expected `..` for `") {
        return Explanation::last("FROM..TO");
    }
    Explanation::last(message)
}

/// Errors about single values.
fn value_error(error: &ron::Error) -> Option<Explanation> {
    use ron::Error as E;
    Some(match error {
        E::InvalidValueForType { expected, found } => {
            Explanation { said_found: Some(found.clone()), ..Explanation::last(plain_expected(expected)) }
        }
        E::IntegerOutOfBounds => Explanation::of(Allowed::Bounds).at(Spot::Last),
        E::ExpectedInteger => Explanation::of(Allowed::WholeNumber),
        E::InvalidIntegerDigit { base, .. } => Explanation::next(format!("digits of base {base}")),
        E::UnderscoreAtBeginning | E::FloatUnderscore => Explanation::next("underscores between digits only"),
        E::ExpectedFloat => Explanation::next(NUMBER),
        E::ExpectedBoolean => Explanation::next(BOOLEAN),
        E::ExpectedChar => Explanation::next(CHARACTER),
        E::ExpectedString => Explanation::next(TEXT),
        E::ExpectedByteString | E::ExpectedByteLiteral => Explanation::next("bytes as in b\"…\" or b'…'"),
        E::ExpectedOption | E::ExpectedOptionEnd => Explanation::next("one value, Some(…) or None"),
        E::ExpectedUnit => Explanation::next("()"),
        E::ExpectedRangeSyntax => Explanation::next("FROM..TO or FROM..=TO"),
        E::ExpectedArray => Explanation::next(LIST),
        E::ExpectedMap => Explanation::next(MAP),
        E::ExpectedStructLike => Explanation::next(VALUES),
        E::ExpectedNamedStructLike(_) | E::ExpectedStructName(_) => Explanation::next(FIELDS),
        _ => return None,
    })
}

/// Errors about how RON is written.
fn grammar_error(error: &ron::Error) -> Explanation {
    use ron::Error as E;
    match error {
        E::Eof => Explanation::next("the rest of the form")
            .found("the end of the file")
            .help("a bracket or a quote may be left open"),
        E::ExpectedComma => Explanation::next("a comma or a closing bracket"),
        E::ExpectedArrayEnd => Explanation::next("`]`"),
        E::ExpectedMapEnd => Explanation::next("`}`"),
        E::ExpectedStructLikeEnd => Explanation::next("`)`"),
        E::ExpectedMapColon => Explanation::next("a colon and a value"),
        E::ExpectedIdentifier => Explanation::next(NAME),
        E::SuggestRawIdentifier(_) | E::InvalidIdentifier(_) => {
            Explanation::next("a name of letters, digits and underscores")
        }
        E::ExpectedStringEnd => Explanation::next("a closing quote").found("text without an end").at(Spot::Last),
        E::InvalidEscape(_) => Explanation::next("an escape such as \\\\, \\\" or \\n")
            .found("an unknown escape")
            .at(Spot::Backslash)
            .help("write \\\\ for one backslash"),
        E::Utf8Error(_) => Explanation::last("UTF-8 text"),
        E::UnclosedBlockComment => Explanation::last("a comment closed with */"),
        E::UnclosedLineComment => Explanation::last("a line break after the comment"),
        E::NoSuchExtension(name) => Explanation::next("an extension that RON knows, such as implicit_some")
            .found(shortened(name))
            .at(Spot::Reached),
        E::ExpectedAttribute | E::ExpectedAttributeEnd => {
            Explanation::next("an attribute as in #![enable(implicit_some)], or none")
                .found("a broken attribute")
                .at(Spot::Reached)
        }
        E::TrailingCharacters => Explanation::next("nothing after the end of the form"),
        E::ExceededRecursionLimit => Explanation::next("a form that is less deep").found("brackets nested too deep"),
        E::UnexpectedChar(_) => Explanation::next("a value"),
        _ => Explanation::next("RON"),
    }
}
