//! Adapters made: from a text, or from the profiles that are part of the library.

use std::sync::Arc;

use backporch_input::{InputError, Source, parse};

use crate::adapter::Adapter;
use crate::check::Checker;
use crate::profile::AdapterProfile;

/// Built-in adapter profiles: name and RON text.
pub const BUILT_IN_ADAPTERS: &[(&str, &str)] = &[
    ("colour-graphics", include_str!("../../../assets/adapters/colour-graphics.ron")),
    ("ega", include_str!("../../../assets/adapters/ega.ron")),
    ("linear-256", include_str!("../../../assets/adapters/linear-256.ron")),
    ("monochrome", include_str!("../../../assets/adapters/monochrome.ron")),
    ("vga", include_str!("../../../assets/adapters/vga.ron")),
];

impl Adapter {
    /// Reads and checks a profile.
    ///
    /// # Errors
    /// Names the file, line, field, what was found and what is allowed.
    pub fn from_source(source: &Source) -> Result<Arc<Self>, InputError> {
        let profile: AdapterProfile = parse(source)?;
        Checker::new(source).adapter(profile).map(Arc::new)
    }

    /// The built-in adapter of that name.
    #[must_use]
    pub fn built_in(name: &str) -> Option<Arc<Self>> {
        let (name, text) = BUILT_IN_ADAPTERS.iter().find(|(known, _)| *known == name)?;
        Self::from_source(&Source::built_in(*name, *text)).ok()
    }
}
