//! Profiles that are another one but for a few things.

use backporch_input::{InputError, Source, Version1, parse};
use serde::{Deserialize, Serialize};

use crate::basis::Fact;
use crate::built_in::ADAPTERS;
use crate::by_design::ByDesign;
use crate::memory_bus::MemoryBus;
use crate::profile::{AdapterProfile, MemoryRule};
use crate::timing::{StartLoad, TimingRule};

/// The file form of a profile that is based on a built-in one; what is left
/// out is as there.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct DerivedProfile {
    /// Version of the file form.
    pub version: Version1,
    /// Name used on the command line and in bench files.
    pub name: String,
    /// What it is, for people.
    pub title: String,
    /// Name of the built-in profile it is based on.
    pub based_on: String,
    /// What is known of it, before what is known of the other.
    #[serde(default)]
    pub facts: Vec<Fact>,
    /// What its boards do by design.
    #[serde(default)]
    pub by_design: Option<Vec<ByDesign>>,
    /// When the start address is taken over.
    #[serde(default)]
    pub start_load: Option<StartLoad>,
    /// Dots a second of its only crystal.
    #[serde(default)]
    pub dot_clock_hz: Option<f64>,
    /// Dots a second of each of its crystals, where there are several.
    #[serde(default)]
    pub dot_clocks_hz: Option<Vec<f64>>,
    /// Bytes of its memory.
    #[serde(default)]
    pub memory_bytes: Option<u32>,
    /// How the processor's bus meets its memory, whatever registers hold.
    #[serde(default)]
    pub bus: Option<MemoryBus>,
}

/// What tells the two file forms apart.
#[derive(Deserialize)]
struct Head {
    #[serde(default)]
    based_on: Option<String>,
}

/// Reads a profile of either form.
pub(crate) fn profile(source: &Source) -> Result<AdapterProfile, InputError> {
    if parse::<Head>(source).is_ok_and(|head| head.based_on.is_some()) {
        parse::<DerivedProfile>(source)?.profile(source)
    } else {
        parse(source)
    }
}

impl DerivedProfile {
    fn profile(self, source: &Source) -> Result<AdapterProfile, InputError> {
        let base = ADAPTERS.source(&self.based_on).filter(|_| self.based_on != self.name);
        let unknown = || source.fault(&["based_on"], &self.based_on, ADAPTERS.names().collect::<Vec<_>>().join(", "));
        let base = profile(&base.ok_or_else(unknown)?)?;
        let mut timing = base.timing;
        if let Some(wanted) = self.start_load {
            let (TimingRule::Vga { start_load }
            | TimingRule::DoubledLines { start_load, .. }
            | TimingRule::Mc6845 { start_load, .. }) = &mut timing;
            *start_load = wanted;
        }
        let only_clock = base.dot_clocks_hz.is_empty();
        if let Some(hertz) = self.dot_clock_hz.filter(|_| !only_clock) {
            return Err(source.fault(&["dot_clock_hz"], hertz, "a class with one crystal"));
        }
        let clocks = self.dot_clocks_hz.unwrap_or_else(|| base.dot_clocks_hz.clone());
        if clocks.len() != base.dot_clocks_hz.len() {
            let allowed = format!("{}, one for each of the class", base.dot_clocks_hz.len());
            return Err(source.fault(&["dot_clocks_hz"], format!("{} clocks", clocks.len()), allowed));
        }
        let memory = MemoryRule {
            bytes: self.memory_bytes.unwrap_or(base.memory.bytes),
            bus: self.bus.unwrap_or(base.memory.bus),
            ..base.memory
        };
        Ok(AdapterProfile {
            version: self.version,
            name: self.name,
            title: self.title,
            facts: self.facts.into_iter().chain(base.facts).collect(),
            by_design: self.by_design.unwrap_or(base.by_design),
            timing,
            dot_clock_hz: self.dot_clock_hz.or(clocks.first().copied()).unwrap_or(base.dot_clock_hz),
            dot_clocks_hz: clocks,
            memory,
            bus_cases: if self.bus.is_some() { Vec::new() } else { base.bus_cases },
            ..base
        })
    }
}
