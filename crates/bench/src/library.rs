//! Finding what a bench names: built in, or a file beside the bench.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use backporch_adapter::Adapter;
use backporch_input::{InputError, file_beside};
use backporch_quirk::Family;
use backporch_signal::Monitor;

/// Where names are looked up: first among what is built in, then as paths
/// from one folder.
#[derive(Clone, Debug, Default)]
pub struct Library {
    folder: PathBuf,
}

impl Library {
    /// Paths are taken from `folder`.
    #[must_use]
    pub fn beside(folder: impl Into<PathBuf>) -> Self {
        Self { folder: folder.into() }
    }

    /// The whole path of a file named in a bench; from a case no name leads out.
    #[must_use]
    pub fn path(&self, name: &str) -> PathBuf {
        file_beside(&self.folder, name)
    }

    /// Paths are taken from the folder of a file named here.
    #[must_use]
    pub fn beside_file(&self, name: &str) -> Self {
        Self::beside(folder_of(&self.path(name)))
    }

    /// An adapter by name or path.
    ///
    /// # Errors
    /// Where there is none, or its profile does not hold together.
    pub fn adapter(&self, name: &str) -> Result<Arc<Adapter>, InputError> {
        Adapter::open(name, &self.folder)
    }

    /// A quirk family by name or path.
    ///
    /// # Errors
    /// Where there is none, or its file does not hold together.
    pub fn family(&self, name: &str) -> Result<Family, InputError> {
        Family::open(name, &self.folder)
    }

    /// A monitor by name or path.
    ///
    /// # Errors
    /// Where there is none, or its file does not hold together.
    pub fn monitor(&self, name: &str) -> Result<Monitor, InputError> {
        Monitor::open(name, &self.folder)
    }

    /// The folder that paths are taken from.
    #[must_use]
    pub fn folder(&self) -> &Path {
        &self.folder
    }
}

/// The folder a file lies in.
pub(crate) fn folder_of(path: &Path) -> PathBuf {
    path.parent().map(Path::to_path_buf).unwrap_or_default()
}
