//! Adapters made: from a text, or from the profiles that are part of the library.

use std::path::Path;
use std::sync::Arc;

use backporch_input::{Catalogue, InputError, Source};

use crate::adapter::Adapter;
use crate::check::Checker;
use crate::derived;

/// Built-in adapter profiles, as RON texts.
pub const ADAPTERS: Catalogue = Catalogue::new(
    "adapter",
    &[
        ("colour-graphics", include_str!("../../../assets/adapters/colour-graphics.ron")),
        ("ega", include_str!("../../../assets/adapters/ega.ron")),
        ("linear-256", include_str!("../../../assets/adapters/linear-256.ron")),
        ("linear-256-plain", include_str!("../../../assets/adapters/linear-256-plain.ron")),
        ("monochrome", include_str!("../../../assets/adapters/monochrome.ron")),
        ("vga", include_str!("../../../assets/adapters/vga.ron")),
        ("vga-late-load", include_str!("../../../assets/adapters/vga-late-load.ron")),
    ],
);

impl Adapter {
    /// Reads and checks a profile.
    ///
    /// # Errors
    /// Names the file, line, field, what was found and what is allowed.
    pub fn from_source(source: &Source) -> Result<Arc<Self>, InputError> {
        Checker::new(source).adapter(derived::profile(source)?).map(Arc::new)
    }

    /// The built-in adapter of that name.
    #[must_use]
    pub fn built_in(name: &str) -> Option<Arc<Self>> {
        Self::from_source(&ADAPTERS.source(name)?).ok()
    }

    /// The adapter of that name: built in, or else the file of that path, from `folder`.
    ///
    /// # Errors
    /// A name that is neither; otherwise as [`from_source`](Self::from_source).
    pub fn open(name: &str, folder: &Path) -> Result<Arc<Self>, InputError> {
        Self::from_source(&ADAPTERS.open(name, folder)?)
    }
}
