//! `emit --as survey`: a program that measures its own machine, and its listing.

use std::path::PathBuf;

use anyhow::{Result, anyhow};
use backporch_adapter::Mode;
use backporch_answer::{EmitAnswer, EmitsAnswer};
use backporch_emit::SurveyProgram;
use backporch_input::InputError;

use super::args::EmitArgs;
use super::beside;
use crate::files::OutputFiles;
use crate::output::{CheckResult, Output};

/// Where it goes if nothing is said.
const USUAL: &str = "survey.com";

/// Writes a survey's program and its listing.
pub fn run(args: &EmitArgs, output: &mut Output) -> Result<CheckResult> {
    args.bench.refuse_routine("no routine: a survey measures by itself")?;
    let bench = args.bench.open()?;
    let adapter = bench.adapter();
    let modes: Vec<&Mode> = match &args.bench.mode {
        Some(_) => vec![bench.mode()],
        None => adapter.profile().modes.iter().collect(),
    };
    let program = SurveyProgram::new(adapter, &modes).map_err(|error| anyhow!("{error}"))?;
    let path = args.out.clone().unwrap_or_else(|| PathBuf::from(USUAL));
    if path.as_os_str() == "-" {
        return Err(InputError::new("--out", "-", "a file: its listing goes beside it").into());
    }
    let listing = beside(&path);
    let mut written = OutputFiles::default();
    written.add(&path, program.code.bytes());
    written.add(&listing, program.code.listing());
    written.write(output)?;
    let answer = EmitAnswer {
        board: adapter.name().to_string(),
        mode: bench.mode().name.clone(),
        registers: Default::default(),
        writes: Vec::new(),
        out: vec![path.display().to_string(), listing.display().to_string()],
        steps: None,
        looks: None,
        modes: Some(program.modes),
        left_out: Vec::new(),
        caution: None,
        text: None,
    };
    output.answer(&EmitsAnswer::Emitted(Box::new(answer)), EmitsAnswer::text)?;
    Ok(CheckResult::Nothing)
}
