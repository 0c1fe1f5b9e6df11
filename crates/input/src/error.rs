//! The one error of file forms: where it is, what was found, what is allowed.

use std::fmt;
use std::io;
use std::path::Path;

use crate::{TextPosition, is_hidden, nearest};

/// Whose fault an error is, so that the edge can choose an exit status.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[non_exhaustive]
pub enum InputErrorKind {
    /// The text or the value breaks its form.
    Form,
    /// The path cannot be used as given: no such file, a folder, not permitted to read, too long, not text.
    Unreadable,
    /// The machine failed: not permitted to write, disk full, input or output error.
    Machine,
}

/// What is wrong with a file form, in one line: `harbour.bench.ron:7:13: registers.displayed: found 300, allowed 0..=255`.
///
/// Line, column and field are left out where there are none. Control characters in any part are shown escaped,
/// so that the message stays one line whatever the file holds.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("{0}")]
pub struct InputError(Box<Parts>);

#[derive(Clone, Debug, PartialEq, Eq)]
struct Parts {
    kind: InputErrorKind,
    file: String,
    place: Option<TextPosition>,
    field: Option<String>,
    found: String,
    allowed: String,
    help: Option<String>,
}

impl InputError {
    /// An error of kind [`InputErrorKind::Form`] in `file` (a path or another name the user knows), as yet
    /// without place, field and help.
    #[must_use]
    pub fn new(file: impl Into<String>, found: impl fmt::Display, allowed: impl fmt::Display) -> Self {
        Self(Box::new(Parts {
            kind: InputErrorKind::Form,
            file: one_line(&file.into()),
            place: None,
            field: None,
            found: one_line(&found.to_string()),
            allowed: one_line(&allowed.to_string()),
            help: None,
        }))
    }

    /// What the operating system said while reading or writing `file`.
    pub(crate) fn from_io(file: impl Into<String>, error: &io::Error, allowed: &str, kind: InputErrorKind) -> Self {
        Self::new(file, in_words(error), allowed).of_kind(kind)
    }

    /// Sets whose fault it is.
    #[must_use]
    pub fn of_kind(mut self, kind: InputErrorKind) -> Self {
        self.0.kind = kind;
        self
    }

    /// Sets line and column.
    #[must_use]
    pub fn at(mut self, place: TextPosition) -> Self {
        self.0.place = Some(place);
        self
    }

    /// Sets the field, written as a dotted path such as `registers.displayed`; an empty one is no field.
    #[must_use]
    pub fn in_field(mut self, field: impl AsRef<str>) -> Self {
        self.0.field = Some(one_line(field.as_ref())).filter(|field| !field.is_empty());
        self
    }

    /// Sets the line of help: a likely cure.
    #[must_use]
    pub fn with_help(mut self, help: impl fmt::Display) -> Self {
        self.0.help = Some(one_line(&help.to_string()));
        self
    }

    /// Blames the option that named what was not found: an error that lies in no file, and has no other option to
    /// blame, takes the option's name.
    #[must_use]
    pub fn by_option(mut self, option: &str) -> Self {
        let in_file = self.0.place.is_some() || self.0.field.is_some() || Path::new(&self.0.file).exists();
        if self.0.kind == InputErrorKind::Form && !in_file && !self.blames_option() {
            self.0.file = one_line(option);
        }
        self
    }

    /// Whether an option of the command line is to blame, no file.
    #[must_use]
    pub fn blames_option(&self) -> bool {
        self.0.file.starts_with("--")
    }

    /// Adds as help the one of the `known` names that is nearest to the `found` one, where one is near.
    #[must_use]
    pub fn with_nearest<'a>(self, found: &str, known: impl IntoIterator<Item = &'a str>) -> Self {
        match nearest(found, known) {
            Some(name) => self.with_help(format!("did you mean {name}?")),
            None => self,
        }
    }

    /// Whose fault it is.
    #[must_use]
    pub fn kind(&self) -> InputErrorKind {
        self.0.kind
    }

    /// The file's name as the user gave it.
    #[must_use]
    pub fn file(&self) -> &str {
        &self.0.file
    }

    /// Line, from 1.
    #[must_use]
    pub fn line(&self) -> Option<u32> {
        self.0.place.map(|place| place.line)
    }

    /// Column, from 1, counted in characters.
    #[must_use]
    pub fn column(&self) -> Option<u32> {
        self.0.place.map(|place| place.column)
    }

    /// The field as a dotted path; list elements are numbered from 0.
    #[must_use]
    pub fn field(&self) -> Option<&str> {
        self.0.field.as_deref()
    }

    /// What was found.
    #[must_use]
    pub fn found(&self) -> &str {
        &self.0.found
    }

    /// What is allowed there.
    #[must_use]
    pub fn allowed(&self) -> &str {
        &self.0.allowed
    }

    /// A likely cure, in one line.
    #[must_use]
    pub fn help(&self) -> Option<&str> {
        self.0.help.as_deref()
    }
}

impl fmt::Display for Parts {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.file)?;
        if let Some(place) = self.place {
            write!(f, ":{place}")?;
        }
        if let Some(field) = &self.field {
            write!(f, ": {field}")?;
        }
        write!(f, ": found {}, allowed {}", self.found, self.allowed)
    }
}

/// What the system said, in plain words; its number is no help.
fn in_words(error: &io::Error) -> String {
    let words = match error.kind() {
        io::ErrorKind::NotFound => "no such file",
        io::ErrorKind::PermissionDenied => "no permission",
        io::ErrorKind::StorageFull => "a full disk",
        io::ErrorKind::QuotaExceeded => "a used-up share of the disk",
        io::ErrorKind::FileTooLarge => "more bytes than a file may have here",
        io::ErrorKind::ReadOnlyFilesystem => "a disk that can only be read",
        io::ErrorKind::IsADirectory => "a folder",
        io::ErrorKind::NotADirectory => "a file where a folder should be",
        io::ErrorKind::DirectoryNotEmpty => "a folder that is not empty",
        io::ErrorKind::InvalidFilename => "a name that is too long",
        io::ErrorKind::BrokenPipe => "a reader that went away",
        _ => {
            let said = error.to_string();
            return said.split(" (os error").next().unwrap_or_default().to_owned();
        }
    };
    words.to_owned()
}

/// Keeps a message on one line: control characters, line separators and changes of direction are shown escaped.
fn one_line(text: &str) -> String {
    let breaks = is_hidden;
    let mut line = String::with_capacity(text.len());
    for c in text.chars() {
        if breaks(c) {
            line.extend(c.escape_default());
        } else {
            line.push(c);
        }
    }
    line
}

/// The error a hand-written `Deserialize` gives: [`parse`](crate::parse) takes it apart again into found and allowed.
///
/// An error type used with `#[serde(try_from = "…")]` does the same if it displays as `found …, allowed …`.
#[must_use]
pub fn refuse<E: serde::de::Error>(found: impl fmt::Display, allowed: impl fmt::Display) -> E {
    E::custom(format_args!("found {found}, allowed {allowed}"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_error_is_one_line_with_everything_known() {
        let error = InputError::new("harbour.bench.ron", 300, "0..=255")
            .at(TextPosition { line: 7, column: 13 })
            .in_field("registers.displayed")
            .with_help("39 shows 40 characters");
        assert_eq!(error.to_string(), "harbour.bench.ron:7:13: registers.displayed: found 300, allowed 0..=255");
        assert_eq!(error.help(), Some("39 shows 40 characters"));
        assert_eq!((error.line(), error.column(), error.field()), (Some(7), Some(13), Some("registers.displayed")));
    }

    #[test]
    fn unknown_parts_are_left_out() {
        let error = InputError::new("a.ron", "nothing", "a form").in_field("");
        assert_eq!(error.to_string(), "a.ron: found nothing, allowed a form");
        assert_eq!(error.field(), None);
    }

    #[test]
    fn no_text_can_break_the_line() {
        let error = InputError::new("a\nb.ron", "x\r\u{2028}y", "z\u{1b}[31m");
        assert_eq!(error.to_string(), "a\\nb.ron: found x\\r\\u{2028}y, allowed z\\u{1b}[31m");
    }
}
