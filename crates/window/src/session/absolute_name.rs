//! Names as a file that is written elsewhere has to give them.

use std::path::{Path, PathBuf};

/// A name as the new file has to give it: paths from the old file's folder
/// become whole ones, what is built in keeps its name.
pub(crate) fn absolute_name(name: &str, folder: &Path, built_in: bool) -> String {
    if built_in {
        return name.to_string();
    }
    let path: PathBuf = folder.join(name);
    std::path::absolute(&path).unwrap_or(path).display().to_string()
}
