//! Writing a folder of files whole or not at all.
//!
//! The files go to a new folder beside the one asked for, which then takes the name.

use std::fs;
use std::io;
use std::path::{Path, PathBuf};

use crate::InputError;
use crate::write::{NAMES_TRIED, check_folder, folder_of, refused, temporary_name, unusable};

/// A folder that is filled file by file and takes its name at the end.
///
/// Dropped without [`finish`](Self::finish), it leaves nothing behind.
#[derive(Debug)]
pub struct WholeFolder {
    path: PathBuf,
    temporary: PathBuf,
    replaces: bool,
}

impl WholeFolder {
    /// Begins a folder. One that stands there is replaced at the end only if `ours` knows every name in it, so that
    /// nobody loses a file they put there.
    ///
    /// # Errors
    /// Kind [`Unreadable`](crate::InputErrorKind::Unreadable) for a path that cannot be such a folder, kind
    /// [`Machine`](crate::InputErrorKind::Machine) for all that the system refuses.
    pub fn create(path: &Path, ours: impl Fn(&str) -> bool) -> Result<Self, InputError> {
        let replaces = match fs::read_dir(path) {
            Ok(entries) => {
                for entry in entries {
                    let name = entry.map_err(|error| refused(path, &error))?.file_name();
                    if !name.to_str().is_some_and(&ours) {
                        let found = format!("a folder that holds {}", name.to_string_lossy());
                        let allowed = "a new folder, an empty one, or one written by the same command";
                        return Err(unusable(path, &found, allowed));
                    }
                }
                true
            }
            Err(error) if error.kind() == io::ErrorKind::NotFound => {
                check_folder(path, path)?;
                false
            }
            Err(error) if error.kind() == io::ErrorKind::NotADirectory => {
                return Err(unusable(path, "a file", "a folder"));
            }
            Err(error) => return Err(refused(path, &error)),
        };
        let temporary = free_name(path).map_err(|error| refused(path, &error))?;
        Ok(Self { path: path.to_owned(), temporary, replaces })
    }

    /// The place of a file until the folder has its name.
    #[must_use]
    pub fn file(&self, name: &str) -> PathBuf {
        self.temporary.join(name)
    }

    /// Gives the folder its name.
    ///
    /// # Errors
    /// What the system refuses; what stood under the name is then as it was.
    pub fn finish(self) -> Result<(), InputError> {
        self.take_name().map_err(|error| refused(&self.path, &error))
    }

    fn take_name(&self) -> io::Result<()> {
        if !self.replaces {
            return fs::rename(&self.temporary, &self.path);
        }
        let aside = folder_of(&self.path).join(temporary_name());
        fs::rename(&self.path, &aside)?;
        match fs::rename(&self.temporary, &self.path) {
            Ok(()) => fs::remove_dir_all(&aside),
            Err(error) => {
                fs::rename(&aside, &self.path)?;
                Err(error)
            }
        }
    }
}

impl Drop for WholeFolder {
    fn drop(&mut self) {
        // Gone already where the folder has its name.
        let _ = fs::remove_dir_all(&self.temporary);
    }
}

/// A new folder beside `path`.
fn free_name(path: &Path) -> io::Result<PathBuf> {
    let mut refused = io::Error::from(io::ErrorKind::AlreadyExists);
    for _ in 0..NAMES_TRIED {
        let temporary = folder_of(path).join(temporary_name());
        match fs::create_dir(&temporary) {
            Ok(()) => return Ok(temporary),
            Err(error) if error.kind() == io::ErrorKind::AlreadyExists => refused = error,
            Err(error) => return Err(error),
        }
    }
    Err(refused)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn names_in(folder: &Path) -> Vec<String> {
        let mut names: Vec<String> =
            fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().file_name().into_string().unwrap()).collect();
        names.sort();
        names
    }

    fn fill(path: &Path, names: &[&str]) -> Result<(), InputError> {
        let folder = WholeFolder::create(path, |name| name.ends_with(".png"))?;
        for name in names {
            fs::write(folder.file(name), b"x").unwrap();
        }
        folder.finish()
    }

    #[test]
    fn a_folder_is_made_and_replaced_whole() {
        let here = tempfile::tempdir().unwrap();
        let path = here.path().join("frames");
        fill(&path, &["1.png", "2.png", "3.png"]).unwrap();
        fill(&path, &["4.png"]).unwrap();
        assert_eq!(names_in(&path), ["4.png"]);
        assert_eq!(names_in(here.path()), ["frames"]);
    }

    #[test]
    fn a_folder_with_files_of_others_stays() {
        let here = tempfile::tempdir().unwrap();
        fs::write(here.path().join("letter.txt"), b"dear").unwrap();
        let error = fill(here.path(), &["1.png"]).unwrap_err();
        assert_eq!(error.found(), "a folder that holds letter.txt");
        let file = here.path().join("letter.txt");
        assert_eq!(fill(&file, &[]).unwrap_err().found(), "a file");
        assert_eq!(names_in(here.path()), ["letter.txt"]);
    }

    #[test]
    fn given_up_half_way_nothing_is_left() {
        let here = tempfile::tempdir().unwrap();
        let path = here.path().join("frames");
        let folder = WholeFolder::create(&path, |_| true).unwrap();
        fs::write(folder.file("1.png"), b"x").unwrap();
        drop(folder);
        assert!(names_in(here.path()).is_empty());
        assert!(WholeFolder::create(&here.path().join("none").join("frames"), |_| true).is_err());
    }
}
