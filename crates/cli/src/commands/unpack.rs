//! `unpack`: what lies in a case, in a folder.

use std::fs;
use std::path::{Path, PathBuf};

use anyhow::Result;
use backporch_answer::{CaseFileAnswer, UnpackAnswer};
use backporch_input::{
    Case, InputError, InputErrorKind, MOST_CASE_FILE_BYTES, Overwrite, WholeFolder, cannot_write, leads_outside,
};
use clap::Args;

use crate::files::{self, OutputFiles};
use crate::output::{CheckResult, Output};

#[derive(Debug, Args)]
pub struct UnpackArgs {
    /// The case
    #[arg(value_name = "CASE")]
    pub case: PathBuf,
    /// Folder for what lies in it; one that is there is replaced only if all of it was unpacked there and is as it was
    /// [default: the case's name]
    #[arg(long, value_name = "FOLDER")]
    pub out: Option<PathBuf>,
}

pub fn run(args: &UnpackArgs, output: &mut Output) -> Result<CheckResult> {
    let case = Case::open(&args.case)?;
    let folder = args.out.clone().unwrap_or_else(|| files::beside(&args.case.to_string_lossy(), ""));
    match WholeFolder::create(&folder) {
        Ok(whole) => fill(&case, whole)?,
        Err(_) if output.overwrite() == Overwrite::AnyFile && folder.is_dir() => write_over(&case, &folder, output)?,
        Err(error) if folder.is_dir() => {
            return Err(error.with_help("--force writes into it, over files of the same names").into());
        }
        Err(error) => return Err(error.into()),
    }
    output.wrote(&folder)?;
    let bench = case.bench().strip_prefix(case.path()).map(|bench| folder.join(bench)).unwrap_or_default();
    let answer = UnpackAnswer {
        case: args.case.display().to_string(),
        folder: folder.display().to_string(),
        bench: bench.display().to_string(),
        files: case.files().iter().map(CaseFileAnswer::from).collect(),
    };
    output.answer(&answer, UnpackAnswer::text)?;
    Ok(CheckResult::Nothing)
}

/// Fills a new folder, which takes its name when all of it is there.
fn fill(case: &Case, mut whole: WholeFolder) -> Result<(), InputError> {
    for file in case.files() {
        whole.write(&file.name, &case.read(&file.name, MOST_CASE_FILE_BYTES)?)?;
    }
    case.empty_folders().iter().try_for_each(|folder| whole.write_folder(folder))?;
    whole.finish()
}

/// Writes into a folder that holds files of others, over those of the same names; all files or none.
fn write_over(case: &Case, folder: &Path, output: &mut Output) -> Result<()> {
    let mut written = OutputFiles::default();
    for file in case.files() {
        let path = folder.join(&file.name);
        make_folder(folder, path.parent().unwrap_or(folder))?;
        written.add(&path, case.read(&file.name, MOST_CASE_FILE_BYTES)?);
    }
    case.empty_folders().iter().try_for_each(|empty| make_folder(folder, &folder.join(empty)))?;
    written.write(output)
}

/// Makes a folder below another one, no link on the way leading out of it.
fn make_folder(root: &Path, folder: &Path) -> Result<(), InputError> {
    let below = folder.strip_prefix(root).unwrap_or(Path::new(""));
    let mut here = root.to_owned();
    for part in below {
        here.push(part);
        if !here.exists() {
            fs::create_dir(&here).map_err(|error| cannot_write(&here, &error))?;
        }
        if leads_outside(root, &here) {
            let error = InputError::new(here.display().to_string(), "a link out of the folder", "a folder in it");
            return Err(error.of_kind(InputErrorKind::Unreadable));
        }
    }
    Ok(())
}
