//! Fitted quirks: those of the bench and those added, each on or off.

use std::collections::BTreeMap;
use std::path::Path;

use backporch_bench::{Bench, BenchFile, Overrides, QuirkRef};
use backporch_quirk::{Family, Quirk};

use super::absolute_name::absolute_name;

/// A quirk fitted to the faulty board, or taken off it for now.
#[derive(Clone, Debug)]
pub struct FittedQuirk {
    pub(crate) quirk: Quirk,
    /// As a bench file names it, its path a whole one.
    pub(crate) written: QuirkRef,
    /// Whether it is switched on.
    pub on: bool,
}

impl FittedQuirk {
    /// Its name.
    #[must_use]
    pub fn name(&self) -> &str {
        self.quirk.name()
    }

    /// The quirk with its parameters chosen.
    #[must_use]
    pub fn quirk(&self) -> &Quirk {
        &self.quirk
    }

    /// A member of a built-in family with its first values; `None` where there is no such family.
    pub(crate) fn built_in(name: &str) -> Option<Self> {
        let quirk = Family::built_in(name)?.close_default();
        let written = QuirkRef { name: name.to_string(), parameters: quirk.parameters() };
        Some(Self { quirk, written, on: true })
    }

    /// Chooses values of parameters by name; those it does not know stay as they are.
    pub(crate) fn choose_values(&mut self, chosen: &BTreeMap<String, i64>) {
        let mut values = self.quirk.parameters();
        values.extend(chosen.iter().map(|(name, value)| (name.clone(), *value)));
        if let Ok(quirk) = self.quirk.family().close(&values) {
            self.quirk = quirk;
            self.written.parameters = values;
        }
    }

    /// Chooses another value of one parameter, by its position in the family's listing.
    pub(crate) fn choose(&mut self, parameter: &str, position: u64) {
        let family = self.quirk.family().clone();
        let value = family.parameters().find(parameter).and_then(|(_, choices)| choices.at(position));
        let Some(value) = value else {
            return;
        };
        let mut values = self.quirk.parameters();
        values.insert(parameter.to_string(), value);
        if let Ok(quirk) = family.close(&values) {
            self.quirk = quirk;
            self.written.parameters = values;
        }
    }
}

/// The bench's quirks, all of them on, with how they were written.
pub(crate) fn fitted(bench: &Bench, file: &BenchFile, overrides: &Overrides, folder: &Path) -> Vec<FittedQuirk> {
    let built_in = |name: &str| Family::built_in(name).is_some();
    let of_file = file.quirks.iter().filter(|_| !overrides.no_quirks).map(|quirk| QuirkRef {
        name: absolute_name(&quirk.name, folder, built_in(&quirk.name)),
        parameters: quirk.parameters.clone(),
    });
    let wished = overrides.quirks.iter().map(|name| QuirkRef {
        name: absolute_name(name, Path::new(""), built_in(name)),
        parameters: Default::default(),
    });
    // The bench took its quirks from the same two lists, in the same order.
    let quirks = bench.quirks().iter().cloned();
    quirks.zip(of_file.chain(wished)).map(|(quirk, written)| FittedQuirk { quirk, written, on: true }).collect()
}
