//! The files a bench is made of.

use std::path::PathBuf;

use backporch_adapter::Adapter;
use backporch_bench::{BenchFile, Overrides};
use backporch_drive::is_built_in_routine;
use backporch_quirk::Family;
use backporch_signal::Monitor;

use super::paths::folder_of;

/// Every file a bench is made of.
pub(crate) fn files_of(name: &str, file: &BenchFile, overrides: &Overrides) -> Vec<PathBuf> {
    let folder = folder_of(name);
    let mut files = Vec::new();
    if !backporch_bench::BENCHES.contains(name) {
        files.push(PathBuf::from(name));
    }
    let mut beside = |name: &str, built_in: bool| {
        if !built_in {
            files.push(folder.join(name));
        }
    };
    beside(&file.adapter, Adapter::built_in(&file.adapter).is_some());
    file.quirks.iter().for_each(|quirk| beside(&quirk.name, Family::built_in(&quirk.name).is_some()));
    file.picture.iter().for_each(|picture| beside(&picture.source, picture.source == "harbour"));
    file.memory.iter().for_each(|name| beside(name, false));
    file.routine.iter().for_each(|name| beside(name, is_built_in_routine(name)));
    file.monitor.iter().for_each(|name| beside(name, Monitor::built_in(name).is_some()));
    let wished = overrides.quirks.iter().filter(|name| Family::built_in(name).is_none()).map(PathBuf::from);
    let pictured = overrides.picture.iter().cloned();
    let routine = overrides.routine.iter().filter(|name| !is_built_in_routine(name)).map(PathBuf::from);
    files.extend(wished.chain(pictured).chain(routine));
    files
}
