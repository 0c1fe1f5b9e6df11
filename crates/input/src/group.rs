//! Several files that are written all together or not at all.

use std::fs;
use std::io::{self, Write};
use std::path::{Path, PathBuf};

use crate::InputError;
use crate::temporary::Temporary;
use crate::write::folder_of;
use crate::write::{WholeFile, cannot_write, resolved, unusable};

/// Writes every file of `files`, a path and its bytes, or none of them.
///
/// # Errors
/// As [`write_whole`](crate::write_whole), and where two paths are of one file. What stood under the names is then as it
/// was.
pub fn write_group(files: &[(&Path, &[u8])]) -> Result<(), InputError> {
    for (at, (path, _)) in files.iter().enumerate() {
        let is_same = |(before, _): &&(&Path, &[u8])| resolved(before) == resolved(path);
        if let Some((before, _)) = files[..at].iter().find(is_same) {
            let found = format!("the same file as {}", before.display());
            return Err(unusable(path, &found, "a file for each output"));
        }
    }
    let mut whole = Vec::new();
    for (path, bytes) in files {
        let mut file = WholeFile::create(path)?;
        let written = file.write_all(bytes).and_then(|()| file.flush());
        written.map_err(|error| cannot_write(path, &error))?;
        whole.push((*path, file));
    }
    let mut done: Vec<Before> = Vec::new();
    for (path, file) in whole {
        let before = Before::of(path).map_err(|error| cannot_write(path, &error));
        let finished = before.and_then(|before| file.finish().map(|()| before));
        match finished {
            Ok(before) => done.push(before),
            Err(error) => {
                done.into_iter().rev().for_each(Before::restore);
                return Err(error);
            }
        }
    }
    Ok(())
}

/// A file as it was before it was replaced.
enum Before {
    /// There was none.
    Nothing(PathBuf),
    /// Its bytes wait under another name.
    Kept(PathBuf, Temporary),
    /// A device: there is no way back.
    Device,
}

impl Before {
    fn of(path: &Path) -> io::Result<Self> {
        let target = resolved(path);
        match fs::metadata(&target) {
            Ok(data) if data.is_file() => {
                let (kept, _) = Temporary::file(folder_of(&target))?;
                fs::copy(&target, kept.path())?;
                Ok(Self::Kept(target, kept))
            }
            Ok(_) => Ok(Self::Device),
            Err(_) => Ok(Self::Nothing(target)),
        }
    }

    fn restore(self) {
        // The error that stopped the writing is the one worth telling.
        let _ = match self {
            Self::Nothing(target) => fs::remove_file(target),
            Self::Kept(target, kept) => kept.rename_to(&target),
            Self::Device => Ok(()),
        };
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn all_are_written_or_none() {
        let folder = tempfile::tempdir().unwrap();
        let at = |name: &str| folder.path().join(name);
        write_group(&[(&at("a"), b"1"), (&at("b"), b"2")]).unwrap();
        fs::create_dir(at("c")).unwrap();
        let refused = write_group(&[(&at("a"), b"3"), (&at("new"), b"3"), (&at("c"), b"3")]);
        assert_eq!(refused.unwrap_err().found(), "a folder");
        assert!(write_group(&[(&at("a"), b"3"), (&folder.path().join("./a"), b"4")]).is_err());
        assert_eq!(fs::read(at("a")).unwrap(), b"1");
        assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 3);
    }

    #[test]
    fn a_file_that_was_replaced_is_put_back() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a");
        fs::write(&path, b"before").unwrap();
        let before = Before::of(&path).unwrap();
        fs::write(&path, b"after").unwrap();
        before.restore();
        assert_eq!(fs::read(&path).unwrap(), b"before");
        let none = Before::of(&folder.path().join("b")).unwrap();
        fs::write(folder.path().join("b"), b"after").unwrap();
        none.restore();
        assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 1);
    }
}
