//! A named text: where every file form starts.

use std::path::Path;

use crate::file::unreadable;
use crate::{InputError, TextPosition, read_bytes};

/// The longest text form that is read, in bytes (4 MiB): a thousand times the longest form one would write by hand.
pub const MAX_TEXT_BYTES: u64 = 4 << 20;

/// A text and the name under which the user knows it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Source {
    name: String,
    text: String,
}

impl Source {
    /// Reads a text file of at most [`MAX_TEXT_BYTES`]; a byte order mark at its start is dropped.
    ///
    /// # Errors
    /// Kind [`Unreadable`](crate::InputErrorKind::Unreadable) for a path that is missing, a folder, not permitted, too
    /// long, empty, or not UTF-8 (with the place of the first bad byte); kind [`Machine`](crate::InputErrorKind::Machine)
    /// if the reading itself fails.
    pub fn read(path: &Path) -> Result<Self, InputError> {
        let name = path.display().to_string();
        let bytes = read_bytes(path, MAX_TEXT_BYTES)?;
        let text = String::from_utf8(bytes).map_err(|error| not_utf8(&name, &error.into_bytes()))?;
        let text = match text.strip_prefix('\u{feff}') {
            Some(rest) => rest.to_owned(),
            None => text,
        };
        if text.trim().is_empty() {
            return Err(unreadable(&name, "an empty file", "a text"));
        }
        Ok(Self { name, text })
    }

    /// A text that is part of the program, under the name by which the user asks for it.
    #[must_use]
    pub fn built_in(name: impl Into<String>, text: impl Into<String>) -> Self {
        Self { name: name.into(), text: text.into() }
    }

    /// The name that errors give: the path as the user wrote it, or the built-in's name.
    #[must_use]
    pub fn name(&self) -> &str {
        &self.name
    }

    /// The whole text.
    #[must_use]
    pub fn text(&self) -> &str {
        &self.text
    }
}

fn not_utf8(name: &str, bytes: &[u8]) -> InputError {
    let Some(chunk) = bytes.utf8_chunks().next() else {
        return unreadable(name, "an empty file", "a text");
    };
    let bad = chunk.invalid().first().copied().unwrap_or_default();
    unreadable(name, &format!("byte 0x{bad:02X}"), "UTF-8 text").at(TextPosition::after(chunk.valid()))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::InputErrorKind;
    use proptest::prelude::*;
    use std::fs;

    fn file_with(bytes: &[u8]) -> (tempfile::TempDir, std::path::PathBuf) {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a.ron");
        fs::write(&path, bytes).unwrap();
        (folder, path)
    }

    fn error_of(bytes: &[u8]) -> InputError {
        let (_folder, path) = file_with(bytes);
        Source::read(&path).unwrap_err()
    }

    #[test]
    fn a_text_is_read_whole_and_keeps_its_name() {
        let (_folder, path) = file_with("(name: \"quay\")\n".as_bytes());
        let source = Source::read(&path).unwrap();
        assert_eq!(source.text(), "(name: \"quay\")\n");
        assert_eq!(source.name(), path.display().to_string());
    }

    #[test]
    fn a_byte_order_mark_is_no_part_of_the_text() {
        let (_folder, path) = file_with("\u{feff}(a: 1)".as_bytes());
        assert_eq!(Source::read(&path).unwrap().text(), "(a: 1)");
    }

    #[test]
    fn what_is_no_file_is_said_plainly() {
        let folder = tempfile::tempdir().unwrap();
        let missing = Source::read(&folder.path().join("none.ron")).unwrap_err();
        assert_eq!(missing.found(), "no such file");
        assert_eq!(missing.kind(), InputErrorKind::Unreadable);
        let directory = Source::read(folder.path()).unwrap_err();
        assert_eq!((directory.found(), directory.allowed()), ("a folder", "a file"));
        assert_eq!(error_of(b" \n").found(), "an empty file");
        assert_eq!(error_of(b"").found(), "an empty file");
    }

    #[test]
    fn a_huge_file_is_refused_by_its_length() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("zeros.ron");
        let zeros = fs::File::create(&path).unwrap();
        zeros.set_len(100_000_000).unwrap();
        let error = Source::read(&path).unwrap_err();
        assert_eq!(error.found(), "100000000 bytes");
        assert_eq!(error.kind(), InputErrorKind::Unreadable);
    }

    #[cfg(unix)]
    #[test]
    fn an_endless_device_is_refused_too() {
        let error = Source::read(Path::new("/dev/zero")).unwrap_err();
        assert_eq!(error.found(), "more than 4194304 bytes");
    }

    #[test]
    fn a_bad_byte_is_named_with_its_place() {
        let error = error_of(b"(\n  \xc3\xb6a: \xff1)");
        assert_eq!((error.line(), error.column()), (Some(2), Some(7)));
        assert_eq!(error.found(), "byte 0xFF");
    }

    proptest! {
        #[test]
        fn random_bytes_are_read_or_refused(bytes: Vec<u8>) {
            let (_folder, path) = file_with(&bytes);
            let text = String::from_utf8(bytes.clone()).ok().filter(|text| {
                !text.trim_start_matches('\u{feff}').trim().is_empty()
            });
            prop_assert_eq!(Source::read(&path).is_ok(), text.is_some());
        }
    }
}
