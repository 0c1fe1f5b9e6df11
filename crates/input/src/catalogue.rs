//! What is built in of one kind, and files of that kind beside it.

use std::path::{Path, PathBuf};

use crate::{InputError, Source, file_beside, is_there};

/// The built-in resources of one kind, by name: `T` is what each holds, mostly its text.
///
/// Wherever a user may name one of them, the path of a file does as well:
///
/// ```
/// use std::path::Path;
/// use backporch_input::Catalogue;
///
/// const LAMPS: Catalogue = Catalogue::new("lamp", &[("quay", "(height: 3)"), ("mole", "(height: 9)")]);
///
/// assert_eq!(LAMPS.open("mole", Path::new("")).unwrap().text(), "(height: 9)");
/// let error = LAMPS.open("mle", Path::new("")).unwrap_err();
/// assert_eq!(error.to_string(), "lamp: found mle, allowed quay, mole, or the path of a file");
/// assert_eq!(error.help(), Some("did you mean mole?"));
/// ```
#[derive(Clone, Copy, Debug)]
pub struct Catalogue<T: 'static = &'static str> {
    kind: &'static str,
    entries: &'static [(&'static str, T)],
}

impl<T> Catalogue<T> {
    /// A catalogue of `kind`, a noun as errors give it, in the order in which people read it.
    #[must_use]
    pub const fn new(kind: &'static str, entries: &'static [(&'static str, T)]) -> Self {
        Self { kind, entries }
    }

    /// What it holds, a noun.
    #[must_use]
    pub const fn kind(&self) -> &'static str {
        self.kind
    }

    /// Every name with what it stands for.
    #[must_use]
    pub const fn entries(&self) -> &'static [(&'static str, T)] {
        self.entries
    }

    /// Every name.
    pub fn names(&self) -> impl ExactSizeIterator<Item = &'static str> + use<T> {
        self.entries.iter().map(|(name, _)| *name)
    }

    /// What a name stands for, where it is built in.
    #[must_use]
    pub fn get(&self, name: &str) -> Option<&'static T> {
        self.entries.iter().find(|(known, _)| *known == name).map(|(_, content)| content)
    }

    /// Whether a name is built in.
    #[must_use]
    pub fn contains(&self, name: &str) -> bool {
        self.get(name).is_some()
    }

    /// The path of the file that a name which is not built in stands for, from `folder`.
    ///
    /// # Errors
    /// A name that looks like no path, where there is no such file either: names what is built in, and the nearest.
    pub fn path(&self, name: &str, folder: &Path) -> Result<PathBuf, InputError> {
        path_or_unknown(self.kind, name, folder, &self.names().collect::<Vec<_>>())
    }
}

impl Catalogue {
    /// The text of that name: built in, or else the file of that path, from `folder`.
    ///
    /// # Errors
    /// As [`path`](Self::path), and as [`Source::read`].
    pub fn open(&self, name: &str, folder: &Path) -> Result<Source, InputError> {
        match self.source(name) {
            Some(source) => Ok(source),
            None => Source::read(&self.path(name, folder)?),
        }
    }

    /// The built-in text of that name.
    #[must_use]
    pub fn source(&self, name: &str) -> Option<Source> {
        self.get(name).map(|text| Source::built_in(name, *text))
    }

    /// Every built-in text.
    pub fn sources(&self) -> impl ExactSizeIterator<Item = Source> + use<> {
        self.entries.iter().map(|(name, text)| Source::built_in(*name, *text))
    }
}

/// The path that a name stands for which is none of the `known` ones, from `folder`.
///
/// # Errors
/// A name that looks like no path, where there is no such file either: names what is known, and the nearest.
pub fn path_or_unknown(kind: &str, name: &str, folder: &Path, known: &[&str]) -> Result<PathBuf, InputError> {
    let path = file_beside(folder, name);
    if name.contains(['/', '\\', '.']) || is_there(&path) {
        return Ok(path);
    }
    let error = InputError::new(kind, name, format!("{}, or the path of a file", known.join(", ")));
    Err(error.with_nearest(name, known.iter().copied()))
}
