//! `pack`: a bench and all that belongs to it in one file.

mod handed;

use std::path::{Path, PathBuf};

use anyhow::Result;
use backporch_answer::{CaseFileAnswer, PackAnswer};
use backporch_bench::{
    Bench, BenchFile, Library, Outside, Overrides, ResourceKind, case_name, folder_of_bench, source_of,
};
use backporch_drive::checked_pack;
use backporch_input::{InputError, InputErrorKind, leads_outside, parse};
use clap::Args;

use self::handed::Handing;
use crate::args::BenchArgs;
use crate::files;
use crate::output::{CheckResult, Output};

#[derive(Debug, Args)]
pub struct PackArgs {
    #[command(flatten)]
    pub bench: BenchArgs,
    /// Hand a file along: sightings, answers, a survey, notes (again for more); what the bench names outside its folder is
    /// packed where it lies here
    #[arg(long, value_name = "FILE")]
    pub with: Vec<PathBuf>,
    /// Where the case goes; `-` for standard output [default: BENCH.case.zip]
    #[arg(long, value_name = "CASE")]
    pub out: Option<PathBuf>,
}

pub fn run(args: &PackArgs, output: &mut Output) -> Result<CheckResult> {
    files::expect_ending("--out", args.out.as_deref(), &["zip"])?;
    let name = &args.bench.bench;
    let mut overrides = args.bench.overrides();
    overrides.allow.extend(args.with.iter().cloned());
    let bench = Bench::open(name, &overrides)?;
    output.notes(&bench)?;
    let handing = Handing { name, overrides: &overrides };
    let mut handed = Vec::new();
    for path in &args.with {
        if path.is_dir() {
            check_named_below(name, &overrides, path)?;
        } else {
            handed.extend(handing.of(path)?);
        }
    }
    let pack = checked_pack(name, &overrides, &Outside::Allowed(args.with.clone()), handed)?;
    let path = args.out.clone().unwrap_or_else(|| PathBuf::from(case_name(name)));
    let bytes = pack.case(&path.display().to_string())?;
    files::write(output, &path, &bytes)?;
    if path.as_os_str() != "-" {
        let listed = pack.files.iter().map(|file| CaseFileAnswer::from(&file.listed()));
        let answer = PackAnswer { file: path.display().to_string(), bytes: bytes.len(), files: listed.collect() };
        output.answer(&answer, PackAnswer::text)?;
    }
    Ok(CheckResult::Nothing)
}

/// Refuses a folder in which nothing lies that the bench names: only files are handed along.
fn check_named_below(name: &str, overrides: &Overrides, folder: &Path) -> Result<(), InputError> {
    let file: BenchFile = parse(&source_of(name)?)?;
    let named = file.resources(&Library::beside(folder_of_bench(name)), overrides);
    let below = |path: PathBuf| path.exists() && !leads_outside(folder, &path);
    if named.iter().any(|one| one.path().is_some_and(below)) {
        return Ok(());
    }
    let error = InputError::new(
        "--with",
        format!("{}, a folder", folder.display()),
        "a file, or a folder that the bench names",
    );
    let is_folder = named.iter().any(|one| one.kind == ResourceKind::Folder);
    let error = error.of_kind(InputErrorKind::Unreadable);
    Err(if is_folder {
        error
    } else {
        error.with_help("machine: (folder: …) in the bench file names a program's folder")
    })
}
