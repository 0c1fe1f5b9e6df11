//! Adapters made: from a text, or from the profiles that are part of the library.

use std::path::Path;
use std::sync::Arc;

use backporch_input::{Catalogue, InputError, Source};

use crate::adapter::Adapter;
use crate::check::Checker;
use crate::derived;
use crate::profile::{AdapterProfile, MemoryRule};

/// Built-in adapter profiles, as RON texts.
pub const ADAPTERS: Catalogue = Catalogue::new(
    "adapter",
    &[
        ("colour-graphics", include_str!("../../../assets/adapters/colour-graphics.ron")),
        ("ega", include_str!("../../../assets/adapters/ega.ron")),
        ("linear-256", include_str!("../../../assets/adapters/linear-256.ron")),
        ("linear-256-plain", include_str!("../../../assets/adapters/linear-256-plain.ron")),
        ("monochrome", include_str!("../../../assets/adapters/monochrome.ron")),
        ("monochrome-16", include_str!("../../../assets/adapters/monochrome-16.ron")),
        ("vga", include_str!("../../../assets/adapters/vga.ron")),
        ("vga-late-load", include_str!("../../../assets/adapters/vga-late-load.ron")),
        ("vga-quick", include_str!("../../../assets/adapters/vga-quick.ron")),
        ("vga-slow", include_str!("../../../assets/adapters/vga-slow.ron")),
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

    /// Whether boards of the other class show the same and differ only in what an access of the processor costs: other cards
    /// of one class.
    #[must_use]
    pub fn is_another_card_of(&self, other: &Self) -> bool {
        let (one, two) = (self.profile(), other.profile());
        let alike = AdapterProfile {
            name: two.name.clone(),
            title: two.title.clone(),
            facts: two.facts.clone(),
            memory: MemoryRule { bus: two.memory.bus, ..one.memory },
            bus_cases: two.bus_cases.clone(),
            ..one.clone()
        };
        alike == *two && one.memory.bus != two.memory.bus
    }

    /// The built-in classes whose boards show the same as this one's and differ only in what an access costs.
    pub fn other_cards(&self) -> impl Iterator<Item = Arc<Self>> + '_ {
        ADAPTERS.names().filter_map(Self::built_in).filter(|other| self.is_another_card_of(other))
    }

    /// Names of the other built-in classes, and of cards that show the same the first alone.
    #[must_use]
    pub fn other_classes(&self) -> Vec<&'static str> {
        let others = ADAPTERS.names().filter(|name| *name != self.name());
        let mut known: Vec<(&str, Arc<Self>)> = Vec::new();
        for (name, adapter) in others.filter_map(|name| Some((name, Self::built_in(name)?))) {
            let is_known = |other: &Self| adapter.is_another_card_of(other);
            if !is_known(self) && !known.iter().any(|(_, other)| is_known(other)) {
                known.push((name, adapter));
            }
        }
        known.into_iter().map(|(name, _)| name).collect()
    }

    /// The adapter of that name: built in, or else the file of that path, from `folder`.
    ///
    /// # Errors
    /// A name that is neither; otherwise as [`from_source`](Self::from_source).
    pub fn open(name: &str, folder: &Path) -> Result<Arc<Self>, InputError> {
        Self::from_source(&ADAPTERS.open(name, folder)?)
    }
}
