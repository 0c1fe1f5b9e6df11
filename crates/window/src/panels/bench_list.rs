//! What the list of benches to open holds while it is open.

use std::path::{Path, PathBuf};

use crate::session::{Session, names_sightings};

/// Benches listed of a folder at most.
const MOST: usize = 64;

/// The list while it is open.
#[derive(Clone, Debug, Default)]
pub(crate) struct BenchList {
    /// What was typed.
    pub text: String,
    /// Files of benches and sightings of the working folder; looked for when the list opens.
    pub files: Vec<PathBuf>,
    /// Whether it was just opened.
    pub fresh: bool,
}

impl BenchList {
    /// A list of what lies in the working folder and beside the bench.
    pub(crate) fn of(session: &Session) -> Self {
        let beside = Path::new(session.name()).parent().map(Path::to_path_buf).unwrap_or_default();
        let mut files = benches_in(Path::new("."));
        if !beside.as_os_str().is_empty() && beside != Path::new(".") {
            files.extend(benches_in(&beside));
        }
        Self { text: String::new(), files, fresh: true }
    }
}

/// Files of benches and sightings of a folder, by name; none where it cannot be read.
fn benches_in(folder: &Path) -> Vec<PathBuf> {
    let entries = std::fs::read_dir(folder).into_iter().flatten().flatten();
    let paths = entries.map(|entry| entry.path());
    let is_listed = |path: &PathBuf| {
        let name = path.to_string_lossy();
        name.ends_with(".bench.ron") || names_sightings(&name)
    };
    let mut files: Vec<PathBuf> = paths.filter(is_listed).collect();
    files.sort();
    files.truncate(MOST);
    files
}
