//! The rack: the quirks at hand, on or off.

use std::path::Path;

use backporch_bench::{Bench, BenchFile, QuirkRef, Wishes};
use backporch_quirk::{Family, Quirk};

use super::save::renamed;

/// A quirk fitted to the faulty board, or taken off it for now.
#[derive(Clone, Debug)]
pub struct Fitted {
    pub(crate) quirk: Quirk,
    /// As a bench file names it, its path a whole one.
    pub(crate) written: QuirkRef,
    /// Whether it acts.
    pub on: bool,
}

impl Fitted {
    /// Its name.
    #[must_use]
    pub fn name(&self) -> &str {
        self.quirk.name()
    }
}

/// The bench's quirks, all of them on, with how they were written.
pub(crate) fn fitted(bench: &Bench, file: &BenchFile, wishes: &Wishes, folder: &Path) -> Vec<Fitted> {
    let built_in = |name: &str| Family::built_in(name).is_some();
    let of_file = file.quirks.iter().filter(|_| !wishes.no_quirks).map(|quirk| QuirkRef {
        name: renamed(&quirk.name, folder, built_in(&quirk.name)),
        parameters: quirk.parameters.clone(),
    });
    let wished = wishes
        .quirks
        .iter()
        .map(|name| QuirkRef { name: renamed(name, Path::new(""), built_in(name)), parameters: Default::default() });
    // The bench took its quirks from the same two lists, in the same order.
    let quirks = bench.quirks().iter().cloned();
    quirks.zip(of_file.chain(wished)).map(|(quirk, written)| Fitted { quirk, written, on: true }).collect()
}
