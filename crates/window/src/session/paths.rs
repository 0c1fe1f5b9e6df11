//! Paths and names in bench files.

use std::path::{Path, PathBuf};

use backporch_input::file_beside;

pub(crate) use backporch_bench::folder_of_bench as folder_of;

/// A name as a file written elsewhere has to give it: a path from the old file's
/// folder becomes a whole one, what is built in keeps its name.
pub(crate) fn absolute_name(name: &str, folder: &Path, built_in: bool) -> String {
    if built_in {
        return name.to_string();
    }
    let path: PathBuf = file_beside(folder, name);
    std::path::absolute(&path).unwrap_or(path).display().to_string()
}
