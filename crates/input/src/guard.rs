//! What may be written over: never a file that was read, and without being asked no file of others.

use std::collections::BTreeSet;
use std::fs::{self, File};
use std::io::{self, Read};
use std::path::{Path, PathBuf};
use std::sync::{Mutex, MutexGuard, PoisonError};

use crate::write::{resolved, unusable};
use crate::{CASE_LIST, InputError};

/// What files made by this program name as their maker, where their form has a place for it.
pub const MAKER: &str = "Backporch";

/// Bytes at the start of a file in which its maker stands.
const HEAD: u64 = 4096;

/// Files read so far, by their whole paths.
static FILES_READ: Mutex<BTreeSet<PathBuf>> = Mutex::new(BTreeSet::new());

/// The whole paths of all files read so far.
#[must_use]
pub fn files_read() -> Vec<PathBuf> {
    read_so_far().iter().cloned().collect()
}

fn read_so_far() -> MutexGuard<'static, BTreeSet<PathBuf>> {
    FILES_READ.lock().unwrap_or_else(PoisonError::into_inner)
}

/// Notes that a file was read: from now on [`Overwrite::check`] refuses it, and whatever leads to it, as an output.
///
/// What this crate reads it notes itself.
pub fn note_read(path: &Path) {
    if let Ok(whole) = fs::canonicalize(path) {
        read_so_far().insert(whole);
    }
}

/// Which files may be replaced by an output.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Overwrite {
    /// Those that name this program as their maker, and those that hold the same bytes already.
    #[default]
    OwnFiles,
    /// Any file that was not read.
    AnyFile,
}

impl Overwrite {
    /// Whether `path` may be written: it is no file that was read, by whatever name, and one that stands there may be
    /// replaced. `bytes` is what will stand there, where that is known.
    ///
    /// # Errors
    /// Kind [`Unreadable`](crate::InputErrorKind::Unreadable), with what to do instead.
    pub fn check(self, path: &Path, bytes: Option<&[u8]>) -> Result<(), InputError> {
        refuse_read(path)?;
        let foreign = self == Self::OwnFiles && fs::metadata(path).is_ok_and(|data| data.is_file());
        if !foreign || is_own(path, bytes).unwrap_or(false) {
            return Ok(());
        }
        let allowed = "a new name, or a file this program made";
        let error =
            unusable(path, "a file that is there already, and does not name this program as its maker", allowed);
        Err(error.with_help("--force replaces it"))
    }

    /// The same of a folder whose files will all be replaced.
    ///
    /// # Errors
    /// Where a file that was read lies in it.
    pub fn check_folder(self, folder: &Path) -> Result<(), InputError> {
        let Ok(whole) = fs::canonicalize(folder) else { return Ok(()) };
        match read_so_far().iter().find(|file| file.starts_with(&whole)) {
            Some(file) => {
                let name = file.strip_prefix(&whole).unwrap_or(file).display().to_string();
                let found = format!("a folder that holds {name}, which was read");
                Err(unusable(folder, &found, "a folder without inputs in it"))
            }
            None => Ok(()),
        }
    }
}

/// Whether a path is a file that was read, or leads to one.
#[must_use]
pub fn was_read(path: &Path) -> bool {
    let target = resolved(path);
    let is_same = |file: &PathBuf| *file == target || same_file::is_same_file(file, &target).unwrap_or(false);
    read_so_far().iter().any(is_same)
}

fn refuse_read(path: &Path) -> Result<(), InputError> {
    if was_read(path) {
        return Err(unusable(path, "a file that was read as input", "an output of another name"));
    }
    Ok(())
}

/// Whether the file at `path` names this program as its maker, or holds `bytes` already.
fn is_own(path: &Path, bytes: Option<&[u8]>) -> io::Result<bool> {
    let mut head = Vec::new();
    File::open(path)?.take(HEAD).read_to_end(&mut head)?;
    // Nothing is lost with an empty file.
    if head.is_empty() || names_maker(&head) {
        return Ok(true);
    }
    let Some(bytes) = bytes else { return Ok(false) };
    let same_length = fs::metadata(path)?.len() == bytes.len() as u64;
    // Not as input: to look at what will be replaced is not to read it.
    Ok(same_length && fs::read(path)? == bytes)
}

/// Whether the first bytes of a file are those of a form this program writes, with its name where the form says who
/// made it.
fn names_maker(head: &[u8]) -> bool {
    let holds = |mark: &str| head.windows(mark.len()).any(|window| window == mark.as_bytes());
    let forms: [(&[u8], String); 5] = [
        (b"\x89PNG\r\n\x1a\n", format!("Software\0{MAKER}")),
        // A comment extension holds its text behind its length.
        (b"GIF89a", format!("\u{9}{MAKER}\0")),
        (b"<!DOCTYPE html>", format!("<meta name=\"generator\" content=\"{}", MAKER.to_lowercase())),
        // The list of a case comes first and as it is.
        (b"PK\x03\x04", format!("{CASE_LIST}// A case made by {MAKER}: ")),
        (b"$version", format!("$version\n    {MAKER}\n$end")),
    ];
    forms.iter().any(|(start, mark)| head.starts_with(start) && holds(mark))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::read_bytes;

    #[test]
    fn a_file_that_was_read_is_refused_under_any_name() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("city.png");
        fs::write(&path, b"\x89PNG\r\n\x1a\nSoftware\0Backporch").unwrap();
        let other = folder.path().join("other.png");
        Overwrite::OwnFiles.check(&path, None).unwrap();
        read_bytes(&path, 1000).unwrap();
        let mut aliases = vec![path.clone(), folder.path().join(".").join("city.png")];
        #[cfg(unix)]
        {
            std::os::unix::fs::symlink(&path, folder.path().join("link.png")).unwrap();
            aliases.push(folder.path().join("link.png"));
        }
        fs::hard_link(&path, folder.path().join("hard.png")).unwrap();
        aliases.push(folder.path().join("hard.png"));
        for alias in aliases {
            for overwrite in [Overwrite::OwnFiles, Overwrite::AnyFile] {
                let error = overwrite.check(&alias, None).unwrap_err();
                assert_eq!(error.found(), "a file that was read as input", "{}", alias.display());
            }
        }
        Overwrite::OwnFiles.check(&other, None).unwrap();
        assert!(Overwrite::AnyFile.check_folder(folder.path()).is_err());
    }

    #[test]
    fn only_own_files_are_replaced_without_being_asked() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("table.h");
        for (there, ours) in [
            (&b"int mine;"[..], false),
            (b"", true),
            (b"same", true),
            (b"<!DOCTYPE html>\n<meta name=\"generator\" content=\"backporch 1\">", true),
            (b"<!DOCTYPE html>\n<meta name=\"generator\" content=\"another\">", false),
            (b"GIF89a\x21\xFE\x09Backporch\0", true),
            (b"Software\0Backporch", false),
        ] {
            fs::write(&path, there).unwrap();
            assert_eq!(Overwrite::OwnFiles.check(&path, Some(b"same")).is_ok(), ours, "{}", there.escape_ascii());
            Overwrite::AnyFile.check(&path, None).unwrap();
        }
    }
}
