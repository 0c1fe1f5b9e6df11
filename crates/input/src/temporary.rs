//! Files and folders that wait for their name: gone again when their program is, however it ends.
//!
//! Each is locked by the program that makes it. A program that ends as it should removes its own; one that is asked to
//! end calls [`abandon_unfinished`]; what is left by one that was killed has no lock any more, and the next program that
//! writes into the same folder removes it.

use std::collections::BTreeSet;
use std::fs::{self, File, OpenOptions, TryLockError};
use std::io;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Mutex, MutexGuard, PoisonError};

/// How many temporary names are tried before giving up.
const NAMES_TRIED: usize = 100;

/// What the names of temporary files and folders begin and end with.
const NAME: (&str, &str) = (".backporch-", ".tmp");

/// The file in a temporary folder that is locked while the folder is filled, and lists what the program put there.
pub(crate) const LIST: &str = ".backporch-made";

/// What this process has under way, and the folders it has looked through for what others left.
#[derive(Debug)]
struct UnderWay {
    paths: BTreeSet<PathBuf>,
    swept: BTreeSet<PathBuf>,
}

static UNDER_WAY: Mutex<UnderWay> = Mutex::new(UnderWay { paths: BTreeSet::new(), swept: BTreeSet::new() });

fn under_way() -> MutexGuard<'static, UnderWay> {
    UNDER_WAY.lock().unwrap_or_else(PoisonError::into_inner)
}

/// Removes every file and folder that is still waiting for its name, for a program that is about to end.
///
/// Whoever begins or ends another one from now on waits for ever: the caller has to end the program.
pub fn abandon_unfinished() {
    let under_way = under_way();
    under_way.paths.iter().for_each(|path| remove(path));
    std::mem::forget(under_way);
}

fn remove(path: &Path) {
    // What made the writing fail is the error worth telling.
    let _ = fs::remove_file(path);
    let _ = fs::remove_dir_all(path);
}

/// A file or folder under a name of its own, gone again unless it is renamed.
#[derive(Debug)]
pub(crate) struct Temporary {
    path: PathBuf,
    /// Holds the lock.
    _lock: File,
}

impl Temporary {
    /// A new file in `folder`, open for writing.
    pub(crate) fn file(folder: &Path) -> io::Result<(Self, File)> {
        let made = Self::make(folder, |path| OpenOptions::new().write(true).create_new(true).open(path))?;
        let file = made._lock.try_clone()?;
        Ok((made, file))
    }

    /// A new folder in `folder`, with an empty [`LIST`] in it.
    pub(crate) fn folder(folder: &Path) -> io::Result<(Self, File)> {
        let made = Self::make(folder, |path| {
            fs::create_dir(path)?;
            OpenOptions::new().write(true).create_new(true).open(path.join(LIST))
        })?;
        let list = made._lock.try_clone()?;
        Ok((made, list))
    }

    fn make(folder: &Path, open: impl Fn(&Path) -> io::Result<File>) -> io::Result<Self> {
        sweep(folder);
        let mut refused = io::Error::from(io::ErrorKind::AlreadyExists);
        for _ in 0..NAMES_TRIED {
            let path = folder.join(temporary_name());
            let mut under_way = under_way();
            match open(&path) {
                Ok(lock) => {
                    // Where files cannot be locked what is left is not removed, but all else works.
                    let taken = matches!(lock.try_lock(), Err(TryLockError::WouldBlock));
                    // Another program may have looked in between making and locking.
                    if !taken && path.exists() {
                        under_way.paths.insert(path.clone());
                        return Ok(Self { path, _lock: lock });
                    }
                }
                Err(error) if matches!(error.kind(), io::ErrorKind::AlreadyExists) => refused = error,
                Err(error) => return Err(error),
            }
        }
        Err(refused)
    }

    pub(crate) fn path(&self) -> &Path {
        &self.path
    }

    /// Gives it its name.
    pub(crate) fn rename_to(self, target: &Path) -> io::Result<()> {
        fs::rename(&self.path, target)
    }
}

impl Drop for Temporary {
    fn drop(&mut self) {
        // Gone already where it has its name.
        remove(&self.path);
        under_way().paths.remove(&self.path);
    }
}

/// A name no other thread or running program takes; it does not grow with the target's, which may be as long as names get.
pub(crate) fn temporary_name() -> String {
    static COUNT: AtomicU64 = AtomicU64::new(0);
    let count = COUNT.fetch_add(1, Ordering::Relaxed);
    format!("{}{}-{count}{}", NAME.0, std::process::id(), NAME.1)
}

/// Removes what programs that were killed left in `folder`; each folder is looked through once.
fn sweep(folder: &Path) {
    let mut under_way = under_way();
    if !under_way.swept.insert(folder.to_owned()) {
        return;
    }
    for entry in fs::read_dir(folder).into_iter().flatten().flatten() {
        let name = entry.file_name();
        let is_temporary = name.to_str().is_some_and(|name| name.starts_with(NAME.0) && name.ends_with(NAME.1));
        let path = folder.join(name);
        if is_temporary && !under_way.paths.contains(&path) && is_left(&path) {
            remove(&path);
        }
    }
}

/// Whether no process holds the lock of a temporary file or folder.
fn is_left(path: &Path) -> bool {
    let Ok(data) = fs::symlink_metadata(path) else { return false };
    let locked = if data.is_dir() { path.join(LIST) } else { path.to_owned() };
    (data.is_dir() || data.is_file()) && File::open(locked).is_ok_and(|file| file.try_lock().is_ok())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_a_killed_program_left_is_removed_and_what_is_under_way_stays() {
        let folder = tempfile::tempdir().unwrap();
        let at = |name: &str| folder.path().join(name);
        fs::write(at(".backporch-1-0.tmp"), b"left").unwrap();
        fs::create_dir(at(".backporch-1-1.tmp")).unwrap();
        fs::write(at(".backporch-1-1.tmp").join(LIST), b"").unwrap();
        fs::write(at(".backporch-1-2.tmp"), b"being written").unwrap();
        let held = File::open(at(".backporch-1-2.tmp")).unwrap();
        held.lock().unwrap();
        fs::write(at(".backporch-notes"), b"mine").unwrap();
        let (made, _) = Temporary::file(folder.path()).unwrap();
        assert!(!at(".backporch-1-0.tmp").exists() && !at(".backporch-1-1.tmp").exists());
        assert!(at(".backporch-1-2.tmp").exists() && at(".backporch-notes").exists());
        assert!(made.path().exists());
        drop(made);
        assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 2);
    }
}
