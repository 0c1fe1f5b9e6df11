//! The files of a bench together with those of its driver.

use std::path::PathBuf;

use backporch_bench::{Along, Bench, BenchFile, Handed, Outside, Overrides, Pack, pack};
use backporch_input::{InputError, MOST_CASE_FILES, file_beside, file_on_disk, leads_outside};
use backporch_pc::Folder;
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
    files.extend(model.map(|(name, folder)| file_on_disk(&file_beside(&folder, name))));
    files
}

/// Packs the bench of that name with the files that go along, every file of the bench read and checked as what it is
/// meant to be: also those that a program may read, and the processor model that a script asks for.
///
/// # Errors
/// As [`pack`] and [`Driver::of`].
pub fn checked_pack(
    name: &str,
    overrides: &Overrides,
    outside: &Outside,
    handed: Vec<Handed>,
) -> Result<Pack, InputError> {
    let bench = Bench::open(name, overrides)?;
    Driver::of(&bench)?;
    // A trace and a program need no processor model, but one that is named goes into the pack.
    let settings = bench.driver_settings();
    if let Some(cpu) = &settings.cpu {
        settings.placed(cpu.field, "--cpu", CpuModel::open(&cpu.name, cpu.library.folder()))?;
    }
    let mut along = Along { handed, ..Along::default() };
    if let Some(folder) = &settings.machine.folder {
        // What cannot be opened was refused above, where a program reads from it.
        let contents =
            Folder::new(&settings.library.path(folder), false).map(|folder| folder.contents(MOST_CASE_FILES));
        let contents = contents.unwrap_or_default();
        (along.of_folder, along.empty_folders) = (contents.files, contents.empty_folders);
    }
    match own_model(&bench)? {
        Some(OwnModel::Beside(name)) => along.parts.push(name),
        Some(OwnModel::Elsewhere(path)) => {
            return pack(name, &Overrides { cpu: Some(path), ..overrides.clone() }, outside, &along);
        }
        None => {}
    }
    pack(name, overrides, outside, &along)
}

/// Where the file of the processor model lies that a script itself asks for.
enum OwnModel {
    /// In the bench's folder, by its name from there.
    Beside(String),
    /// In the folder of a script that was typed in place of the bench's.
    Elsewhere(String),
}

fn own_model(bench: &Bench) -> Result<Option<OwnModel>, InputError> {
    let settings = bench.driver_settings();
    let (Some(routine), None) = (&settings.routine, &settings.cpu) else { return Ok(None) };
    let Some((model, folder)) = script_model(bench).filter(|(model, _)| !PROCESSORS.contains(model)) else {
        return Ok(None);
    };
    let path = file_beside(&folder, &model);
    let from = if routine.field.is_some() { routine.library.folder() } else { folder.as_path() };
    if leads_outside(from, &path) {
        let error = InputError::new(&routine.name, format!("{model}, outside the bench's folder"), "what lies in it");
        return Err(error.in_field("cpu"));
    }
    let beside = || path.strip_prefix(routine.library.folder()).ok()?.to_str().map(str::to_string);
    Ok(Some(match routine.field.and_then(|_| beside()) {
        Some(name) => OwnModel::Beside(name),
        None => OwnModel::Elsewhere(path.to_string_lossy().into_owned()),
    }))
}
