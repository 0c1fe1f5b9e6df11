//! `emit`: register settings as tables and test programs for the real machine, and waveforms of what the board does.

mod args;
mod session;
mod survey;
mod wanted;

use std::path::{Path, PathBuf};
use std::sync::Arc;

use anyhow::{Result, anyhow};
use backporch_answer::{EmitAnswer, EmitsAnswer, NothingToEmitAnswer};
use backporch_bench::Bench;
use backporch_drive::{Driver, Keep, Start};
use backporch_emit::{Routine, TestProgram, WriteTable};
use backporch_hazards::write_vcd;
use backporch_input::InputError;

pub use self::args::EmitArgs;
use self::args::EmitForm;
use self::wanted::{Wanted, wanted};
use crate::files::{self, OutputFiles};
use crate::output::{CheckResult, Output};

pub fn run(args: &EmitArgs, output: &mut Output) -> Result<CheckResult> {
    files::expect_ending("--out", args.out.as_deref(), args.form.endings())?;
    if args.form == EmitForm::Session {
        return session::run(args, output);
    }
    if args.form == EmitForm::Survey {
        return survey::run(args, output);
    }
    if args.plan.is_some() {
        return Err(InputError::new("--plan", "a plan", "one with --as session only").into());
    }
    if args.form != EmitForm::Vcd {
        args.bench.refuse_routine("a routine with --as vcd only")?;
    }
    let (bench, wanted) = match wanted(args, output)? {
        Ok(wanted) => wanted,
        Err(reason) => {
            output.answer(&EmitsAnswer::Nothing(NothingToEmitAnswer { reason }), EmitsAnswer::text)?;
            return Ok(CheckResult::Something);
        }
    };
    let (adapter, mode) = (bench.adapter(), bench.mode());
    let table = WriteTable::new(adapter, mode, &wanted.registers, bench.monitor());
    let start = adapter.start_up(mode);
    let differs = |field| adapter.get(&wanted.registers, field) != adapter.get(&start, field);
    let mut answer = EmitAnswer {
        board: adapter.name().to_string(),
        mode: mode.name.clone(),
        registers: adapter
            .fields()
            .filter(|(field, _)| differs(*field))
            .map(|(field, info)| (info.name.clone(), adapter.get(&wanted.registers, field)))
            .collect(),
        writes: table.transition().ports().collect(),
        out: Vec::new(),
        steps: None,
        looks: None,
        modes: None,
        left_out: Vec::new(),
        caution: table.caution().map(str::to_string),
        passing: table.passing(),
        text: None,
    };
    let text = match args.form {
        EmitForm::C => table.to_c(&args.name),
        EmitForm::Assembly => table.to_assembly(&args.name),
        EmitForm::Csv => table.to_csv(),
        EmitForm::Trace => table.to_trace(),
        EmitForm::Vcd => return vcd(args, &bench, &wanted, answer, output),
        EmitForm::Program => return program(args, &bench, &wanted, answer, output),
        // It was made before.
        EmitForm::Session => return session::run(args, output),
        EmitForm::Survey => return survey::run(args, output),
        EmitForm::Routine if files::ends_in(args.out.as_deref(), "com") => {
            return scroller(args, &bench, &wanted, answer, output);
        }
        EmitForm::Routine => routine(&bench, &wanted)?.to_assembly(),
        EmitForm::RoutineC => routine(&bench, &wanted)?.to_c(),
    };
    match &args.out {
        Some(path) => {
            files::write(output, path, text.as_bytes())?;
            answer.out.push(path.display().to_string());
            if path.as_os_str() != "-" {
                output.answer(&EmitsAnswer::Emitted(Box::new(answer)), EmitsAnswer::text)?;
            }
        }
        None if output.is_json() => {
            answer.text = Some(text);
            output.answer(&EmitsAnswer::Emitted(Box::new(answer)), EmitsAnswer::text)?;
        }
        None => output.bytes(text.as_bytes())?,
    }
    Ok(CheckResult::Nothing)
}

/// Writes a waveform of the board under the bench's routine, or alone where it has none.
fn vcd(
    args: &EmitArgs,
    bench: &Bench,
    wanted: &Wanted,
    mut answer: EmitAnswer,
    output: &mut Output,
) -> Result<CheckResult> {
    let alone = || Driver::Trace(Arc::default());
    let driver = Driver::of(bench)?.unwrap_or_else(alone);
    let mut records = Vec::new();
    let run = (Start::default(), args.frames, Keep { trace: false, signals: true });
    let board = bench.faulty(&wanted.registers);
    let watch = driver.watch(bench, board, run, &mut |record| records.push(record))?;
    let mut dump = Vec::new();
    write_vcd(&mut dump, bench.adapter(), &watch.signals, &records)?;
    let path = args.out.clone().unwrap_or_else(|| files::beside(&args.bench.bench, ".vcd"));
    files::write(output, &path, &dump)?;
    if path.as_os_str() != "-" {
        answer.out.push(path.display().to_string());
        output.answer(&EmitsAnswer::Emitted(Box::new(answer)), EmitsAnswer::text)?;
    }
    Ok(CheckResult::Nothing)
}

/// Writes a test program and, beside it, its listing.
fn program(
    args: &EmitArgs,
    bench: &Bench,
    wanted: &Wanted,
    mut answer: EmitAnswer,
    output: &mut Output,
) -> Result<CheckResult> {
    let program = TestProgram {
        adapter: bench.adapter(),
        mode: bench.mode(),
        registers: &wanted.registers,
        sweep: wanted.sweep,
        monitor: bench.monitor(),
    };
    let code = program.assemble().map_err(|error| anyhow!("{error}"))?;
    let path = args.out.clone().unwrap_or_else(|| files::beside(&args.bench.bench, ".com"));
    if path.as_os_str() == "-" {
        output.bytes(code.bytes())?;
        return Ok(CheckResult::Nothing);
    }
    let listing = beside(&path);
    let mut written = OutputFiles::default();
    written.add(&path, code.bytes());
    written.add(&listing, code.listing());
    written.write(output)?;
    answer.out = vec![path.display().to_string(), listing.display().to_string()];
    answer.steps = Some(wanted.sweep.count);
    output.answer(&EmitsAnswer::Emitted(Box::new(answer)), EmitsAnswer::text)?;
    Ok(CheckResult::Nothing)
}

/// Writes the scroller's demonstration as a program.
fn scroller(
    args: &EmitArgs,
    bench: &Bench,
    wanted: &Wanted,
    mut answer: EmitAnswer,
    output: &mut Output,
) -> Result<CheckResult> {
    let program = routine(bench, wanted)?.to_program(None).map_err(|error| anyhow!("{error}"))?;
    if let Some(path) = &args.out {
        files::write(output, path, &program)?;
        answer.out.push(path.display().to_string());
    }
    output.answer(&EmitsAnswer::Emitted(Box::new(answer)), EmitsAnswer::text)?;
    Ok(CheckResult::Nothing)
}

/// The scroller by the table that was asked for.
fn routine(bench: &Bench, wanted: &Wanted) -> Result<Routine> {
    let needs = || InputError::new("--as", "a routine without a table", "a routine with --table NUMBER");
    let table = wanted.table.as_ref().ok_or_else(needs)?;
    Routine::new(bench.adapter(), bench.mode(), table, bench.monitor()).map_err(|error| anyhow!("{error}"))
}

/// The listing's path; never the program's own.
fn beside(program: &Path) -> PathBuf {
    let taken = program.extension().is_some_and(|ending| ending == "lst");
    program.with_extension(if taken { "listing" } else { "lst" })
}
