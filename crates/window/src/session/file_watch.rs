//! Watching the files a bench is made of.

use std::fs;
use std::path::PathBuf;
use std::time::SystemTime;

/// What is compared of a file: when it changed and how long it is.
type Stamp = Option<(SystemTime, u64)>;

/// Files, and how they were when last looked at.
#[derive(Clone, Debug, Default)]
pub struct FileWatch {
    files: Vec<(PathBuf, Stamp)>,
}

impl FileWatch {
    /// Watches these files from now on.
    #[must_use]
    pub fn new(files: impl IntoIterator<Item = PathBuf>) -> Self {
        let mut files: Vec<(PathBuf, Stamp)> = files.into_iter().map(|path| (path.clone(), stamp(&path))).collect();
        files.sort();
        files.dedup();
        Self { files }
    }

    /// The files.
    pub fn files(&self) -> impl Iterator<Item = &PathBuf> {
        self.files.iter().map(|(path, _)| path)
    }

    /// Whether a file changed, came or went since the last look.
    pub fn changed(&mut self) -> bool {
        let mut changed = false;
        for (path, before) in &mut self.files {
            let now = stamp(path);
            changed |= now != *before;
            *before = now;
        }
        changed
    }
}

fn stamp(path: &PathBuf) -> Stamp {
    let data = fs::metadata(path).ok()?;
    Some((data.modified().ok()?, data.len()))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_file_that_changes_comes_or_goes_is_noticed_once() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a.bench.ron");
        let mut watch = FileWatch::new([path.clone()]);
        assert!(!watch.changed());
        fs::write(&path, "one").unwrap();
        assert!(watch.changed());
        assert!(!watch.changed());
        fs::write(&path, "three").unwrap();
        assert!(watch.changed());
        fs::remove_file(&path).unwrap();
        assert!(watch.changed());
        assert!(!watch.changed());
    }
}
