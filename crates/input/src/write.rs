//! Writing a file whole or not at all.
//!
//! The bytes go to a new file in the same folder, which then takes the name. Whoever reads the name sees the old
//! file or the new one, never half of one, and a failure leaves the old one as it was.

use std::fs::{self, File, Metadata, OpenOptions};
use std::io::{self, BufWriter, Write};
use std::path::{Path, PathBuf};

use crate::file::refuse_waiting;
use crate::temporary::Temporary;
use crate::{InputError, InputErrorKind};

/// Writes `bytes` to `path`, replacing what was there.
///
/// A file that stood there keeps its permissions; a new one gets those of any new file. A symbolic link stays, and
/// the file it leads to is replaced. A device is written to as it is.
///
/// # Errors
/// Kind [`Unreadable`](InputErrorKind::Unreadable) for a path that cannot be a file: a folder, or in a folder that
/// does not exist (it is not created). Kind [`Machine`](InputErrorKind::Machine) for all that the system refuses:
/// not permitted, disk full, name too long.
pub fn write_whole(path: &Path, bytes: &[u8]) -> Result<(), InputError> {
    let mut file = WholeFile::create(path)?;
    file.write_all(bytes).map_err(|error| cannot_write(path, &error))?;
    file.finish()
}

/// A file that is written bit by bit and takes its name at the end, for what is too long to be held in memory.
///
/// Dropped without [`finish`](Self::finish), it leaves nothing behind, and what stood under the name stays. All else
/// is as with [`write_whole`].
#[derive(Debug)]
pub struct WholeFile {
    path: PathBuf,
    file: BufWriter<File>,
    /// Where the bytes wait until they are all there; a device has no such place.
    waiting: Option<Waiting>,
}

#[derive(Debug)]
struct Waiting {
    temporary: Temporary,
    target: PathBuf,
    replaces: bool,
}

impl WholeFile {
    /// Begins a file.
    ///
    /// # Errors
    /// As [`write_whole`].
    pub fn create(path: &Path) -> Result<Self, InputError> {
        let target = resolved(path);
        refuse_dangling(path)?;
        let opened = match fs::metadata(&target) {
            Ok(old) if old.is_dir() => return Err(unusable(path, "a folder", "a file")),
            Ok(old) if old.is_file() => begin(target, Some(&old)),
            Ok(other) => {
                refuse_waiting(path, &other)?;
                OpenOptions::new().write(true).open(&target).map(|device| (device, None))
            }
            Err(error) if error.kind() == io::ErrorKind::NotFound => {
                check_folder(path, &target)?;
                begin(target, None)
            }
            Err(error) => Err(error),
        };
        let (file, waiting) = opened.map_err(|error| cannot_write(path, &error))?;
        Ok(Self { path: path.to_owned(), file: BufWriter::new(file), waiting })
    }

    /// Gives the file its name.
    ///
    /// # Errors
    /// What the system refuses.
    pub fn finish(self) -> Result<(), InputError> {
        let Self { path, file, waiting } = self;
        let finished = file.into_inner().map_err(io::IntoInnerError::into_error).and_then(|file| {
            let Some(Waiting { temporary, target, replaces }) = waiting else {
                return Ok(());
            };
            if replaces {
                // The new bytes must be on the disk before the good old ones go.
                file.sync_all()?;
            }
            temporary.rename_to(&target)
        });
        finished.map_err(|error| cannot_write(&path, &error))
    }
}

impl Write for WholeFile {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        self.file.write(bytes)
    }

    fn flush(&mut self) -> io::Result<()> {
        self.file.flush()
    }
}

/// Opens the place where the bytes wait, for a new file or in place of an `old` one.
fn begin(target: PathBuf, old: Option<&Metadata>) -> io::Result<(File, Option<Waiting>)> {
    // Renaming needs no permission on the old file, but whoever protected it did not want it replaced.
    if old.is_some_and(|old| old.permissions().readonly()) {
        return Err(io::ErrorKind::PermissionDenied.into());
    }
    let (temporary, file) = Temporary::file(folder_of(&target))?;
    if let Some(old) = old {
        file.set_permissions(old.permissions())?;
    }
    Ok((file, Some(Waiting { temporary, target, replaces: old.is_some() })))
}

/// The error for what the system said while `path` was written.
#[must_use]
pub fn cannot_write(path: &Path, error: &io::Error) -> InputError {
    InputError::from_io(path.display().to_string(), error, "a file that can be written", InputErrorKind::Machine)
}

/// The file or folder a path stands for, links followed; the path itself where nothing is there.
pub(crate) fn resolved(path: &Path) -> PathBuf {
    fs::canonicalize(path).unwrap_or_else(|_| {
        let folder = fs::canonicalize(folder_of(path));
        folder.ok().zip(path.file_name()).map_or_else(|| path.to_owned(), |(folder, name)| folder.join(name))
    })
}

/// Refuses a link that leads nowhere: it is not known what was to be written.
pub(crate) fn refuse_dangling(path: &Path) -> Result<(), InputError> {
    let is_link = fs::symlink_metadata(path).is_ok_and(|data| data.is_symlink());
    if is_link && fs::metadata(path).is_err_and(|error| error.kind() == io::ErrorKind::NotFound) {
        return Err(unusable(path, "a link that leads nowhere", "a file, or a link to one"));
    }
    Ok(())
}

pub(crate) fn unusable(path: &Path, found: &str, allowed: &str) -> InputError {
    InputError::new(path.display().to_string(), found, allowed).of_kind(InputErrorKind::Unreadable)
}

/// Says plainly that the folder is missing, which the system reports like a missing file.
pub(crate) fn check_folder(path: &Path, target: &Path) -> Result<(), InputError> {
    if target.file_name().is_none() {
        return Err(unusable(path, "a path without a file name", "a file"));
    }
    if folder_of(target).is_dir() {
        return Ok(());
    }
    let found = format!("no folder {}", folder_of(target).display());
    Err(unusable(path, &found, "a file in a folder that exists").with_help("create the folder first"))
}

pub(crate) fn folder_of(target: &Path) -> &Path {
    match target.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder,
        _ => Path::new("."),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn names_in(folder: &Path) -> Vec<String> {
        let entries = fs::read_dir(folder).unwrap();
        entries.map(|entry| entry.unwrap().file_name().into_string().unwrap()).collect()
    }

    #[test]
    fn a_file_is_written_and_replaced_alone() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("frame.png");
        for bytes in [&b"first, longer"[..], b"second"] {
            write_whole(&path, bytes).unwrap();
            assert_eq!(fs::read(&path).unwrap(), bytes);
        }
        assert_eq!(names_in(folder.path()), ["frame.png"]);
    }

    #[test]
    fn a_missing_folder_is_named_and_not_created() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("shots").join("frame.png");
        let error = write_whole(&path, b"x").unwrap_err();
        assert!(error.found().starts_with("no folder "), "{error}");
        assert_eq!(error.kind(), InputErrorKind::Unreadable);
        assert!(names_in(folder.path()).is_empty());
    }

    #[test]
    fn what_cannot_be_a_file_is_refused() {
        let folder = tempfile::tempdir().unwrap();
        assert_eq!(write_whole(folder.path(), b"x").unwrap_err().found(), "a folder");
        for path in ["", ".."] {
            let error = write_whole(Path::new(path), b"x").unwrap_err();
            assert_eq!(error.kind(), InputErrorKind::Unreadable);
        }
    }

    #[test]
    fn a_failed_write_leaves_nothing_behind() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("x".repeat(4000));
        let error = write_whole(&path, b"x").unwrap_err();
        assert_eq!(error.kind(), InputErrorKind::Machine);
        assert!(names_in(folder.path()).is_empty());
    }

    #[test]
    fn a_failed_rename_leaves_nothing_behind() {
        let folder = tempfile::tempdir().unwrap();
        let occupied = folder.path().join("occupied");
        let file = WholeFile::create(&occupied).unwrap();
        fs::create_dir(&occupied).unwrap();
        assert!(file.finish().is_err());
        assert_eq!(names_in(folder.path()), ["occupied"]);
    }

    #[test]
    fn a_file_given_up_half_way_leaves_the_old_one() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("run.gif");
        write_whole(&path, b"good").unwrap();
        let mut file = WholeFile::create(&path).unwrap();
        file.write_all(&[0; 100_000]).unwrap();
        assert_eq!(fs::read(&path).unwrap(), b"good");
        drop(file);
        assert_eq!(fs::read(&path).unwrap(), b"good");
        assert_eq!(names_in(folder.path()), ["run.gif"]);
    }

    #[test]
    fn a_write_protected_file_stays() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("kept.ron");
        fs::write(&path, "good").unwrap();
        let mut protected = fs::metadata(&path).unwrap().permissions();
        protected.set_readonly(true);
        fs::set_permissions(&path, protected).unwrap();
        let error = write_whole(&path, b"new").unwrap_err();
        assert_eq!(error.kind(), InputErrorKind::Machine);
        assert_eq!(fs::read(&path).unwrap(), b"good");
        assert_eq!(names_in(folder.path()), ["kept.ron"]);
    }

    #[test]
    fn many_threads_never_share_a_temporary_name() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("frame.png");
        std::thread::scope(|scope| {
            for letter in b'a'..=b'h' {
                let path = &path;
                scope.spawn(move || write_whole(path, &[letter; 5000]).unwrap());
            }
        });
        let bytes = fs::read(&path).unwrap();
        assert_eq!(bytes.len(), 5000);
        assert!(bytes.iter().all(|byte| *byte == bytes[0]));
        assert_eq!(names_in(folder.path()), ["frame.png"]);
    }

    #[cfg(unix)]
    #[test]
    fn permissions_are_those_of_any_file_or_of_the_old_one() {
        use std::os::unix::fs::PermissionsExt;
        let folder = tempfile::tempdir().unwrap();
        let mode = |name: &str| fs::metadata(folder.path().join(name)).unwrap().permissions().mode();
        fs::write(folder.path().join("plain"), "x").unwrap();
        let ours = folder.path().join("ours");
        write_whole(&ours, b"x").unwrap();
        assert_eq!(mode("ours"), mode("plain"));
        fs::set_permissions(&ours, fs::Permissions::from_mode(0o640)).unwrap();
        write_whole(&ours, b"y").unwrap();
        assert_eq!(mode("ours") & 0o777, 0o640);
    }

    #[cfg(unix)]
    #[test]
    fn a_link_stays_a_link() {
        let folder = tempfile::tempdir().unwrap();
        let (real, link) = (folder.path().join("real"), folder.path().join("link"));
        fs::write(&real, "old").unwrap();
        std::os::unix::fs::symlink(&real, &link).unwrap();
        write_whole(&link, b"new").unwrap();
        assert_eq!(fs::read(&real).unwrap(), b"new");
        assert!(fs::symlink_metadata(&link).unwrap().is_symlink());
    }

    #[cfg(target_os = "linux")]
    #[test]
    fn a_full_disk_is_the_machines_fault() {
        let error = write_whole(Path::new("/dev/full"), b"x").unwrap_err();
        assert_eq!(error.kind(), InputErrorKind::Machine);
        write_whole(Path::new("/dev/null"), b"x").unwrap();
        assert!(!fs::metadata("/dev/null").unwrap().is_file());
    }

    proptest! {
        #[test]
        fn any_bytes_come_back(bytes: Vec<u8>) {
            let folder = tempfile::tempdir().unwrap();
            let path = folder.path().join("any");
            write_whole(&path, &bytes).unwrap();
            prop_assert_eq!(fs::read(&path).unwrap(), bytes);
        }
    }
}
