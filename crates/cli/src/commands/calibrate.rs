//! `calibrate`: a survey of a real machine, held against profiles; a processor model and an adapter profile come out.

use std::path::{Path, PathBuf};

use anyhow::Result;
use backporch_answer::CalibrateAnswer;
use backporch_bench::{Bench, Overrides};
use backporch_calibration::{Calibration, CalibrationError};
use backporch_evidence::survey::Survey;
use backporch_input::{Case, Holds, InputError, Source};
use backporch_script::CpuModel;
use clap::Args;

use crate::args::BenchArgs;
use crate::files::OutputFiles;
use crate::output::{CheckResult, Output};

#[derive(Debug, Args)]
pub struct CalibrateArgs {
    /// The survey, as its program wrote it, or a case with one in it
    #[arg(value_name = "SURVEY")]
    pub survey: PathBuf,
    #[command(flatten)]
    pub bench: BenchArgs,
    /// Name of the files it writes: NAME.cpu.ron and NAME.adapter.ron
    #[arg(long, value_name = "NAME", default_value = "surveyed")]
    pub out: PathBuf,
}

/// The path of the survey: of a case, that of the one handed along in it.
fn survey_in(path: &Path) -> Result<PathBuf, InputError> {
    if !Case::is_case(path) {
        return Ok(path.to_owned());
    }
    survey_of(&Case::open(path)?)?
        .ok_or_else(|| InputError::new(path.display().to_string(), "0 surveys", "a case packed with one"))
}

/// The path of the survey that was handed along in a case; `None` where there is none, refused where there are several.
pub fn survey_of(case: &Case) -> Result<Option<PathBuf>, InputError> {
    let mut surveys: Vec<PathBuf> = case.holding(Holds::Survey).map(|file| case.path_of(&file.name)).collect();
    if surveys.len() > 1 {
        let names: Vec<String> = surveys.iter().map(|path| path.display().to_string()).collect();
        let found = format!("{} surveys", surveys.len());
        return Err(InputError::new(case.path().display().to_string(), found, names.join(" or ")));
    }
    Ok(surveys.pop())
}

pub fn run(args: &CalibrateArgs, output: &mut Output) -> Result<CheckResult> {
    let source = Source::read(&survey_in(&args.survey)?)?;
    let survey = Survey::from_source(&source)?;
    let overrides = Overrides { routine: None, cpu: None, ..args.bench.overrides() };
    let named = args.bench.bench != BenchArgs::USUAL || args.bench.board.is_some();
    // A survey names its class; a bench or a board that is named goes before it.
    let board = (!named).then(|| survey.board.clone());
    let overrides = Overrides { board: board.or(overrides.board.clone()), ..overrides };
    let bench = Bench::open(&args.bench.bench, &overrides)
        .map_err(|error| if named { error } else { error.in_field("board") })?;
    let settings = bench.driver_settings();
    let against = match (&args.bench.cpu, &settings.cpu) {
        (Some(name), _) => Some(CpuModel::open(name, Path::new(""))?),
        (None, Some(cpu)) if named => Some(CpuModel::open(&cpu.name, cpu.library.folder())?),
        _ => None,
    };
    let calibration = Calibration::new(&survey, bench.adapter(), against.as_ref()).map_err(|error| {
        let field = match &error {
            CalibrationError::Board { .. } => "board",
            CalibrationError::Mode(_) => "mode",
            CalibrationError::Missing(_) | CalibrationError::Clock { .. } => "time",
        };
        InputError::new(source.name(), error.found(), error.allowed()).in_field(field)
    })?;
    let name = args.out.file_name().map(|name| name.to_string_lossy().into_owned()).unwrap_or_default();
    let beside = |ending: &str| args.out.with_file_name(format!("{name}.{ending}.ron"));
    let (cpu, adapter) = (beside("cpu"), beside("adapter"));
    let mut files = OutputFiles::default();
    files.add(&cpu, calibration.processor_model(&name));
    files.add(&adapter, calibration.adapter_profile(&name));
    files.write(output)?;
    let (cpu, adapter) = (cpu.display().to_string(), adapter.display().to_string());
    let answer = CalibrateAnswer::new(&calibration, bench.adapter().name(), cpu, adapter);
    output.answer(&answer, CalibrateAnswer::text)?;
    Ok(if calibration.differs() { CheckResult::Something } else { CheckResult::Nothing })
}
