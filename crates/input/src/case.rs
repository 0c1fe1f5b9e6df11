//! Cases: a bench and all that belongs to it in one zip file, with a list of what lies in it and of every check sum.
//!
//! A case stands wherever a folder does: `harbour.case.zip/art/quay.png` is a file in it, read by
//! [`read_bytes`](crate::read_bytes) like any other. A whole case is checked when it is opened, and each of its files
//! once more when it is read; nothing that it says of itself is believed before.

mod manifest;
mod name;
mod place;
mod read;
mod write;

use std::path::{Path, PathBuf};
use std::sync::Arc;

use crate::InputError;

pub use self::manifest::{CaseFile, Holds};
pub use self::name::folded;
pub(crate) use self::place::{CasePath, place_in_case};
pub use self::place::{case_at, downwards, file_beside, file_on_disk, is_in_case, is_there, leads_outside};
pub use self::write::{FileOfCase, case_of};

/// The list in a case: its first file.
pub const CASE_LIST: &str = "case.ron";
/// How the name of a case ends.
pub const CASE_ENDING: &str = ".case.zip";
/// Most files in a case, besides the list.
pub const MOST_CASE_FILES: usize = 4096;
/// Most bytes of all files of a case together, and of the case itself.
pub const MOST_CASE_BYTES: u64 = 512 << 20;
/// Most bytes of one file in a case.
pub const MOST_CASE_FILE_BYTES: u64 = 256 << 20;

/// A case that was opened and found to hold what its list says.
#[derive(Clone, Debug)]
pub struct Case {
    path: PathBuf,
    content: Arc<Content>,
}

/// What lies in a case.
#[derive(Debug)]
struct Content {
    files: Vec<CaseFile>,
    /// Folders without a file in them, by their names.
    folders: Vec<String>,
}

impl Case {
    /// Whether the file at a path begins as a zip file does. Whether it is a case is found out by opening it.
    #[must_use]
    pub fn is_case(path: &Path) -> bool {
        read::begins_as_zip(path)
    }

    /// Opens a case and checks all of it: every name, size and check sum.
    ///
    /// # Errors
    /// Names the case, the file in it, what was found and what is allowed.
    pub fn open(path: &Path) -> Result<Self, InputError> {
        Ok(Self { path: path.to_owned(), content: read::checked(path)? })
    }

    /// Where it lies.
    #[must_use]
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// Its files as the list has them.
    #[must_use]
    pub fn files(&self) -> &[CaseFile] {
        &self.content.files
    }

    /// Its folders that hold no file.
    #[must_use]
    pub fn empty_folders(&self) -> &[String] {
        &self.content.folders
    }

    /// The files that hold one sort of thing.
    pub fn holding(&self, holds: Holds) -> impl Iterator<Item = &CaseFile> {
        self.files().iter().filter(move |file| file.holds == holds)
    }

    /// The path of one of its files, as every command takes it.
    #[must_use]
    pub fn path_of(&self, name: &str) -> PathBuf {
        self.path.join(name)
    }

    /// The path of its bench file.
    #[must_use]
    pub fn bench(&self) -> PathBuf {
        // A list without exactly one bench was refused.
        self.path_of(self.holding(Holds::Bench).next().map_or("", |file| &file.name))
    }

    /// Reads a file in it, of at most `most` bytes, and checks it once more.
    ///
    /// # Errors
    /// Where there is none of that name, it is larger, or the case was changed since it was opened.
    pub fn read(&self, name: &str, most: u64) -> Result<Vec<u8>, InputError> {
        read::file(self, name, most)
    }

    /// Whether there is a folder of that name; an empty name is that of the case itself.
    #[must_use]
    pub fn has_folder(&self, name: &str) -> bool {
        let is_above = |below: &str| below.strip_prefix(name).is_some_and(|rest| rest.starts_with('/'));
        name.is_empty()
            || self.content.folders.iter().any(|folder| folder == name || is_above(folder))
            || self.files().iter().any(|file| is_above(&file.name))
    }

    /// Names of the files and folders that lie in a folder, sorted.
    #[must_use]
    pub fn names_in(&self, folder: &str) -> Vec<String> {
        let below = |name: &str| -> Option<String> {
            let rest = match folder {
                "" => name,
                folder => name.strip_prefix(folder)?.strip_prefix('/')?,
            };
            rest.split('/').next().filter(|name| !name.is_empty()).map(str::to_string)
        };
        let files = self.files().iter().map(|file| file.name.as_str());
        let mut names: Vec<String> =
            files.chain(self.content.folders.iter().map(String::as_str)).filter_map(below).collect();
        names.sort();
        names.dedup();
        names
    }

    /// The file of that name.
    #[must_use]
    pub fn file(&self, name: &str) -> Option<&CaseFile> {
        self.files().iter().find(|file| file.name == name)
    }
}
