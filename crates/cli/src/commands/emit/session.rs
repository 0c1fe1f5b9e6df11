//! `emit --as session`: what a test session asks, its program, and all that goes beside it.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use anyhow::{Result, anyhow};
use backporch_analysis::{Conditions, WhichFrame};
use backporch_answer::{DiagnoseAnswer, EmitAnswer, EmitsAnswer, NothingToEmitAnswer};
use backporch_bench::{Bench, Overrides};
use backporch_emit::{SessionError, SessionProgram};
use backporch_evidence::{Experiment, MOST_LOOKS, SessionLook, TestSession};
use backporch_input::{InputError, Source};

use super::args::EmitArgs;
use super::wanted::{Wanted, wanted};
use crate::commands::suspects;
use crate::files::OutputFiles;
use crate::output::{CheckResult, Output};

/// Where it goes if nothing is said.
const USUAL: &str = "session.com";

/// A session, and what was left out of it.
type Asked = (TestSession, Vec<String>);

/// Writes a session's program and, beside it, its listing, its sheet and, where it needs one, its data file.
pub fn run(args: &EmitArgs, output: &mut Output) -> Result<CheckResult> {
    args.bench.refuse_routine("no routine: a session steps by itself")?;
    let (session, left_out) = match asked(args, output)? {
        Ok(asked) => asked,
        Err(reason) => {
            output.answer(&EmitsAnswer::Nothing(NothingToEmitAnswer { reason }), EmitsAnswer::text)?;
            return Ok(CheckResult::Something);
        }
    };
    let path = args.out.clone().unwrap_or_else(|| PathBuf::from(USUAL));
    let name = path.file_stem().map(|stem| stem.to_string_lossy().into_owned()).unwrap_or_default();
    let program = SessionProgram::new(&session, &name).map_err(|error| match error {
        SessionError::Name(name) => {
            InputError::new("--out", name, "a name of at most eight letters and digits, as the machine's system has it")
                .into()
        }
        error => anyhow!("{error}"),
    })?;
    let bench = session.bench();
    let mut answer = EmitAnswer {
        board: bench.adapter().name().to_string(),
        mode: bench.mode().name.clone(),
        registers: Default::default(),
        writes: Vec::new(),
        out: Vec::new(),
        steps: None,
        looks: Some(session.looks().len()),
        modes: None,
        left_out,
        caution: program.caution.map(str::to_string),
        text: None,
    };
    if path.as_os_str() == "-" {
        return Err(InputError::new("--out", "-", "a file: others go beside it").into());
    }
    let mut written = OutputFiles::default();
    let mut add = |path: &Path, bytes: Vec<u8>| {
        written.add(path, bytes);
        answer.out.push(path.display().to_string());
    };
    add(&path, program.code.bytes().to_vec());
    add(&path.with_extension("lst"), program.code.listing().as_bytes().to_vec());
    add(&path.with_extension("txt"), program.sheet.into_bytes());
    if let Some(data) = program.data {
        add(&path.with_extension("dat"), data);
    }
    written.write(output)?;
    output.answer(&EmitsAnswer::Emitted(Box::new(answer)), EmitsAnswer::text)?;
    Ok(CheckResult::Nothing)
}

/// What is asked; of a search without a result, the reason.
fn asked(args: &EmitArgs, output: &Output) -> Result<Result<Asked, String>> {
    if let Some(path) = &args.plan {
        let bench = Arc::new(args.bench.open()?);
        let in_mode = |mode: &str| {
            let overrides = Overrides { mode: Some(mode.to_string()), ..args.bench.overrides() };
            Bench::open(&args.bench.bench, &overrides).map(Arc::new)
        };
        return Ok(Ok((TestSession::from_plan(&Source::read(path)?, &bench, &in_mode)?, Vec::new())));
    }
    let probes = args.diagnosis.is_some() && args.workaround.is_none() && args.table.is_none() && args.over.is_none();
    if probes {
        let bench = Arc::new(args.bench.open()?);
        let diagnosis = suspects::read(args.diagnosis.as_deref())?;
        let diagnosis = diagnosis.map(|read| read.answer);
        return Ok(diagnosis.map_or_else(|| Err("no diagnosis".to_string()), |found| of_probes(args, &bench, &found)));
    }
    let (bench, Wanted { registers, sweep, .. }) = match wanted(args, output)? {
        Ok(wanted) => wanted,
        Err(reason) => return Ok(Err(reason)),
    };
    if sweep.count as usize > MOST_LOOKS {
        let found = format!("{} start addresses", sweep.count);
        return Err(InputError::new("--over", found, format!("1 to {MOST_LOOKS}")).into());
    }
    let bench = Arc::new(bench);
    let adapter = bench.adapter();
    let differs = |field| adapter.get(&registers, field) != adapter.get(bench.registers(), field);
    let changed = adapter.fields().map(|(field, _)| field).filter(|field| differs(*field));
    let own = Experiment::on(Arc::clone(&bench));
    let experiment = changed
        .filter(|field| *field != own.over)
        .fold(own.clone(), |experiment, field| experiment.with(field, adapter.get(&registers, field)));
    let look = |number: u32| SessionLook { experiment: experiment.clone(), step: sweep.from + number * sweep.stride };
    let title = if args.workaround.is_some() { "a workaround, step by step" } else { "start addresses, step by step" };
    Ok(Ok((TestSession::new(title, &bench, (0..sweep.count).map(look)), Vec::new())))
}

/// The looks that a diagnosis asks for next; those at a moving picture are a person's with a routine.
fn of_probes(args: &EmitArgs, bench: &Arc<Bench>, diagnosis: &DiagnoseAnswer) -> Result<Asked, String> {
    let (mut looks, mut left_out) = (Vec::new(), Vec::new());
    let chosen = (1..).zip(&diagnosis.probes).filter(|(number, _)| args.probe.is_none_or(|one| one == *number));
    for (number, probe) in chosen {
        if probe.look == WhichFrame::Moving {
            left_out.push(format!(
                "probe {number}, {}: a picture that moves has to be seen under your routine",
                probe.do_this
            ));
            continue;
        }
        let mut experiment = Experiment::on(Arc::clone(bench));
        experiment.title = format!("Probe {number} of the diagnosis");
        experiment.conditions = Conditions { moment: probe.moment, specimen: probe.specimen, ..Conditions::default() };
        for (name, value) in &probe.registers {
            let field = bench.field(name).map_err(|error| error.to_string())?;
            experiment = experiment.with(field, *value);
        }
        let step = experiment.own_step();
        experiment.settings.retain(|(field, _)| *field != experiment.over);
        looks.push(SessionLook { experiment, step });
    }
    if looks.is_empty() {
        let of = diagnosis.probes.len();
        let reason = match left_out.first() {
            Some(_) => format!("none of the {of} probes is a look at a picture at rest"),
            None => format!("the diagnosis names {of} probes, and none that was asked for"),
        };
        return Err(reason);
    }
    Ok((TestSession::new("the probes of a diagnosis", bench, looks), left_out))
}
