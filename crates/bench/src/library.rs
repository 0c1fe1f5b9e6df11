//! Finding what a bench names: built in, or a file beside the bench.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use backporch_adapter::{Adapter, BUILT_IN_ADAPTERS};
use backporch_input::{InputError, Source, nearest};
use backporch_quirk::Family;
use backporch_signal::{BUILT_IN_MONITORS, Monitor};

/// Names of the built-in adapters.
pub fn adapter_names() -> impl Iterator<Item = &'static str> {
    BUILT_IN_ADAPTERS.iter().map(|(name, _)| *name)
}

/// Names of the built-in monitors.
pub fn monitor_names() -> impl Iterator<Item = &'static str> {
    BUILT_IN_MONITORS.iter().map(|(name, _)| *name)
}

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

    /// The whole path of a file named in a bench.
    #[must_use]
    pub fn path(&self, name: &str) -> PathBuf {
        self.folder.join(name)
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
        match Adapter::built_in(name) {
            Some(adapter) => Ok(adapter),
            None => Adapter::from_source(&self.source(name, "adapter", adapter_names())?),
        }
    }

    /// A quirk family by name or path.
    ///
    /// # Errors
    /// Where there is none, or its file does not hold together.
    pub fn family(&self, name: &str) -> Result<Family, InputError> {
        match Family::built_in(name) {
            Some(family) => Ok(family),
            None => Family::from_source(&self.source(name, "quirk", Family::built_in_names())?),
        }
    }

    /// A monitor by name or path.
    ///
    /// # Errors
    /// Where there is none, or its file does not hold together.
    pub fn monitor(&self, name: &str) -> Result<Monitor, InputError> {
        match Monitor::built_in(name) {
            Some(monitor) => Ok(monitor),
            None => Monitor::from_source(&self.source(name, "monitor", monitor_names())?),
        }
    }

    /// The text of a file; a name that looks like no path is refused with the
    /// names that are built in.
    fn source(&self, name: &str, what: &str, known: impl Iterator<Item = &'static str>) -> Result<Source, InputError> {
        let looks_like_path = name.contains(['/', '\\', '.']);
        if looks_like_path || self.path(name).exists() {
            return Source::read(&self.path(name));
        }
        let known: Vec<&str> = known.collect();
        let guess = nearest(name, known.iter().copied()).map(|guess| format!("did you mean {guess}?"));
        let allowed = format!("{}, or the path of a file", known.join(", "));
        let error = InputError::new(what, name, allowed);
        Err(match guess {
            Some(guess) => error.with_help(guess),
            None => error,
        })
    }
}

/// The folder a file lies in.
pub(crate) fn folder_of(path: &Path) -> PathBuf {
    path.parent().map(Path::to_path_buf).unwrap_or_default()
}
