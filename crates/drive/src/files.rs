//! The files of a bench together with those of its driver.

use std::path::PathBuf;

use backporch_bench::{Bench, BenchFile, Overrides, Packed, pack};
use backporch_input::InputError;
use backporch_script::{CpuModel, PROCESSORS};

use crate::driver::{Driver, script_model};

/// Every file that the bench of that name and what drives it are made of, with what `overrides` lay over it: to be
/// watched for changes.
#[must_use]
pub fn files_of(name: &str, file: &BenchFile, overrides: &Overrides) -> Vec<PathBuf> {
    let mut files = backporch_bench::files_of(name, file, overrides);
    // A bench that cannot be read names no more than its file does.
    let bench = Bench::open(name, overrides).ok();
    let model = bench.and_then(|bench| script_model(&bench)).filter(|(name, _)| !PROCESSORS.contains(name));
    files.extend(model.map(|(name, folder)| folder.join(name)));
    files
}

/// Packs the bench of that name, every file in the pack read and checked as what it is meant to be.
///
/// # Errors
/// As [`pack`] and [`Driver::of`].
pub fn checked_pack(name: &str, overrides: &Overrides) -> Result<Vec<Packed>, InputError> {
    let bench = Bench::open(name, overrides)?;
    Driver::of(&bench)?;
    // A trace and a program need no processor model, but one that is named goes into the pack.
    let settings = bench.driver_settings();
    if let Some(cpu) = &settings.cpu {
        settings.placed(cpu.field, "--cpu", CpuModel::open(&cpu.name, cpu.library.folder()))?;
    }
    pack(name, overrides)
}
