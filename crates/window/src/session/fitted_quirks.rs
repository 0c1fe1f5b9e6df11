//! Fitted quirks: those of the bench and those added, each on or off.

use std::collections::BTreeMap;
use std::path::Path;

use backporch_bench::{Bench, BenchFile, Overrides, QuirkRef};
use backporch_quirk::{Family, Quirk};

use super::paths::absolute_name;

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

/// The quirks of a session, in the order in which they were fitted.
#[derive(Clone, Debug, Default)]
pub struct FittedQuirks {
    list: Vec<FittedQuirk>,
}

impl FittedQuirks {
    /// The bench's quirks, all of them on, with how they were written.
    pub(crate) fn of(bench: &Bench, file: &BenchFile, overrides: &Overrides, folder: &Path) -> Self {
        let named = |name: &str, folder: &Path| absolute_name(name, folder, Family::built_in(name).is_some());
        let of_file = file
            .quirks
            .iter()
            .filter(|_| !overrides.no_quirks)
            .map(|quirk| QuirkRef { name: named(&quirk.name, folder), parameters: quirk.parameters.clone() });
        let none = BTreeMap::default;
        let wished = overrides.quirks.iter();
        let wished = wished.map(|name| QuirkRef { name: named(name, Path::new("")), parameters: none() });
        // The bench took its quirks from the same two lists, in the same order.
        let quirks = bench.quirks().iter().cloned().zip(of_file.chain(wished));
        Self { list: quirks.map(|(quirk, written)| FittedQuirk { quirk, written, on: true }).collect() }
    }

    /// The same with each quirk that was read anew as it is now, its parameters and switch as they are here.
    pub(crate) fn as_read_in(&self, now: &Self) -> Self {
        let renewed = |old: &FittedQuirk| {
            let known = now.list.iter().find(|read| read.written.name == old.written.name);
            let mut fitted = known.unwrap_or(old).clone();
            fitted.choose_values(&old.quirk.parameters());
            FittedQuirk { on: old.on, ..fitted }
        };
        Self { list: self.list.iter().map(renewed).collect() }
    }

    /// All of them.
    #[must_use]
    pub fn list(&self) -> &[FittedQuirk] {
        &self.list
    }

    /// Those switched on.
    pub fn on(&self) -> impl Iterator<Item = &FittedQuirk> {
        self.list.iter().filter(|fitted| fitted.on)
    }

    /// Their names, in a few words.
    #[must_use]
    pub fn words(&self) -> String {
        let names: Vec<&str> = self.on().map(FittedQuirk::name).collect();
        if names.is_empty() { "no quirk is switched on".to_string() } else { format!("quirks: {}", names.join(", ")) }
    }

    /// Switches one of them on or off; `false` where there is none at `at`.
    pub(crate) fn toggle(&mut self, at: usize) -> bool {
        let fitted = self.list.get_mut(at);
        fitted.map(|fitted| fitted.on = !fitted.on).is_some()
    }

    /// Leaves one of them on, alone; `false` where there is none at `at`.
    pub(crate) fn leave_on(&mut self, at: usize) -> bool {
        let there = at < self.list.len();
        if there {
            self.list.iter_mut().enumerate().for_each(|(other, fitted)| fitted.on = other == at);
        }
        there
    }

    /// Switches all of them off, or all on where none is.
    pub(crate) fn toggle_all(&mut self) {
        let any = self.on().next().is_some();
        self.list.iter_mut().for_each(|fitted| fitted.on = !any);
    }

    /// Chooses another value of a parameter; `false` where there is none at `at`.
    pub(crate) fn choose(&mut self, at: usize, parameter: &str, position: u64) -> bool {
        self.list.get_mut(at).map(|fitted| fitted.choose(parameter, position)).is_some()
    }

    /// Fits a built-in quirk; `false` where there is none of that name.
    pub(crate) fn add(&mut self, name: &str) -> bool {
        FittedQuirk::built_in(name).map(|fitted| self.list.push(fitted)).is_some()
    }

    /// Removes one of them; `false` where there is none at `at`.
    pub(crate) fn remove(&mut self, at: usize) -> bool {
        let there = at < self.list.len();
        if there {
            self.list.remove(at);
        }
        there
    }

    /// Switches on one quirk alone, fitted before or built in, with these values; `false` where there is none.
    pub(crate) fn switch_to(&mut self, name: &str, values: &BTreeMap<String, i64>) -> bool {
        let known = self.list.iter().position(|fitted| fitted.name() == name);
        if known.is_none() && !self.add(name) {
            return false;
        }
        let at = known.unwrap_or(self.list.len() - 1);
        self.list[at].choose_values(values);
        self.leave_on(at)
    }
}
