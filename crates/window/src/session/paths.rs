//! Paths and names in bench files.

use std::path::{Path, PathBuf};

/// The folder that paths in a bench are taken from; the working folder for one that is built in.
pub(crate) fn folder_of(name: &str) -> PathBuf {
    match backporch_bench::built_in(name) {
        Some(_) => PathBuf::new(),
        None => Path::new(name).parent().map(Path::to_path_buf).unwrap_or_default(),
    }
}

/// A name as a file written elsewhere has to give it: a path from the old file's
/// folder becomes a whole one, what is built in keeps its name.
pub(crate) fn absolute_name(name: &str, folder: &Path, built_in: bool) -> String {
    if built_in {
        return name.to_string();
    }
    let path: PathBuf = folder.join(name);
    std::path::absolute(&path).unwrap_or(path).display().to_string()
}
