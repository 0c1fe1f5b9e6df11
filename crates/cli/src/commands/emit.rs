//! `emit`: register settings as tables and test programs for the real machine, and waveforms of what the board does.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use anyhow::{Result, anyhow};
use backporch_adapter::Registers;
use backporch_answer::{DiagnoseAnswer, EmitAnswer, EmitsAnswer, NothingToEmitAnswer};
use backporch_bench::Bench;
use backporch_drive::{Driver, Keep, Start};
use backporch_emit::{Routine, Sweep, Table, TestProgram};
use backporch_hazards::write_vcd;
use backporch_input::{InputError, Range};
use backporch_workaround::StepTable;
use clap::{Args, ValueEnum};

use super::{suspects, workaround};
use crate::args::{BenchArgs, NeedArgs, range};
use crate::files::{self, Files};
use crate::output::{Found, Output};

#[derive(Debug, Args)]
pub struct EmitArgs {
    #[command(flatten)]
    pub bench: BenchArgs,
    #[command(flatten)]
    pub need: NeedArgs,
    /// Form of what is emitted
    #[arg(long = "as", value_name = "FORM", value_enum, default_value_t = EmitForm::C)]
    pub form: EmitForm,
    /// Take the registers of this workaround, counted from 1
    #[arg(long, value_name = "NUMBER", conflicts_with = "probe")]
    pub workaround: Option<usize>,
    /// Take this table of start addresses, counted from 1
    #[arg(long, value_name = "NUMBER", conflicts_with_all = ["workaround", "probe"])]
    pub table: Option<usize>,
    /// Take the registers of this probe of the diagnosis, counted from 1
    #[arg(long, value_name = "NUMBER", requires = "diagnosis")]
    pub probe: Option<usize>,
    /// A diagnosis, as `diagnose --format json` gives it
    #[arg(long, value_name = "JSON")]
    pub diagnosis: Option<PathBuf>,
    /// Start addresses a test program steps through [default: those of the workaround, or the bench's own]
    #[arg(long, value_name = "RANGE", value_parser = range)]
    pub over: Option<Range>,
    /// Frames of a waveform
    #[arg(long, value_name = "NUMBER", default_value_t = 2, value_parser = clap::value_parser!(u64).range(1..=600))]
    pub frames: u64,
    /// Name of the table in C and assembly
    #[arg(long, value_name = "NAME", default_value = "scroll_registers")]
    pub name: String,
    /// Where it goes; `-` for standard output [default: standard output, BENCH.com for a program, BENCH.vcd for a waveform]
    #[arg(long, value_name = "PATH")]
    pub out: Option<PathBuf>,
}

/// Form of what is emitted.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum EmitForm {
    /// A C header
    C,
    /// An include for assemblers that put the destination first
    Assembly,
    /// Comma-separated values
    Csv,
    /// A write trace, to be fed back to a bench
    Trace,
    /// A flat real-mode test program with its listing beside it
    Program,
    /// A scroller by a table of start addresses, with a demonstration: a flat program in assembly
    Routine,
    /// The same in C
    RoutineC,
    /// A value change dump (IEEE 1364): sync, display enable, addresses, take-over and writes under the bench's routine
    Vcd,
}

impl EmitForm {
    /// Endings of files of this form.
    fn endings(self) -> &'static [&'static str] {
        match self {
            Self::C => &["h", "c"],
            Self::Assembly => &["inc", "asm"],
            Self::Routine => &["asm"],
            Self::RoutineC => &["c"],
            Self::Csv | Self::Trace => &["csv"],
            Self::Program => &["com"],
            Self::Vcd => &["vcd"],
        }
    }
}

/// The registers to be emitted, and the start addresses that go with them.
struct Wanted {
    registers: Registers,
    sweep: Sweep,
    table: Option<StepTable>,
}

pub fn run(args: &EmitArgs, output: &mut Output) -> Result<Found> {
    files::expect_ending("--out", args.out.as_deref(), args.form.endings())?;
    if args.form != EmitForm::Vcd {
        args.bench.refuse_routine("a routine with --as vcd only")?;
    }
    let (bench, wanted) = match wanted(args, output)? {
        Ok(wanted) => wanted,
        Err(reason) => {
            output.answer(&EmitsAnswer::Nothing(NothingToEmitAnswer { reason }), EmitsAnswer::text)?;
            return Ok(Found::Something);
        }
    };
    let (adapter, mode) = (bench.adapter(), bench.mode());
    let table = Table::new(adapter, mode, &wanted.registers);
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
        caution: table.caution().map(str::to_string),
        text: None,
    };
    let text = match args.form {
        EmitForm::C => table.to_c(&args.name),
        EmitForm::Assembly => table.to_assembly(&args.name),
        EmitForm::Csv => table.to_csv(),
        EmitForm::Trace => table.to_trace(),
        EmitForm::Vcd => return vcd(args, &bench, &wanted, answer, output),
        EmitForm::Program => return program(args, &bench, &wanted, answer, output),
        EmitForm::Routine => routine(&bench, &wanted)?.to_assembly(),
        EmitForm::RoutineC => routine(&bench, &wanted)?.to_c(),
    };
    match &args.out {
        Some(path) => {
            files::write(output, path, text.as_bytes())?;
            answer.out.push(path.display().to_string());
            if path.as_os_str() != "-" {
                output.answer(&EmitsAnswer::Emitted(answer), EmitsAnswer::text)?;
            }
        }
        None if output.is_json() => {
            answer.text = Some(text);
            output.answer(&EmitsAnswer::Emitted(answer), EmitsAnswer::text)?;
        }
        None => output.bytes(text.as_bytes())?,
    }
    Ok(Found::Nothing)
}

/// Writes a waveform of the board under the bench's routine, or alone where it has none.
fn vcd(args: &EmitArgs, bench: &Bench, wanted: &Wanted, mut answer: EmitAnswer, output: &mut Output) -> Result<Found> {
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
        output.answer(&EmitsAnswer::Emitted(answer), EmitsAnswer::text)?;
    }
    Ok(Found::Nothing)
}

/// Writes a test program and, beside it, its listing.
fn program(
    args: &EmitArgs,
    bench: &Bench,
    wanted: &Wanted,
    mut answer: EmitAnswer,
    output: &mut Output,
) -> Result<Found> {
    let program =
        TestProgram { adapter: bench.adapter(), mode: bench.mode(), registers: &wanted.registers, sweep: wanted.sweep };
    let code = program.assemble().map_err(|error| anyhow!("{error}"))?;
    let path = args.out.clone().unwrap_or_else(|| files::beside(&args.bench.bench, ".com"));
    if path.as_os_str() == "-" {
        output.bytes(code.bytes())?;
        return Ok(Found::Nothing);
    }
    let listing = beside(&path);
    let mut written = Files::default();
    written.add(&path, code.bytes());
    written.add(&listing, code.listing());
    written.write(output)?;
    answer.out = vec![path.display().to_string(), listing.display().to_string()];
    answer.steps = Some(wanted.sweep.count);
    output.answer(&EmitsAnswer::Emitted(answer), EmitsAnswer::text)?;
    Ok(Found::Nothing)
}

/// The scroller by the table that was asked for.
fn routine(bench: &Bench, wanted: &Wanted) -> Result<Routine> {
    let needs = || InputError::new("--as", "a routine without a table", "a routine with --table NUMBER");
    let table = wanted.table.as_ref().ok_or_else(needs)?;
    Routine::new(bench.adapter(), bench.mode(), table).map_err(|error| anyhow!("{error}"))
}

/// The listing's path; never the program's own.
fn beside(program: &Path) -> PathBuf {
    let taken = program.extension().is_some_and(|ending| ending == "lst");
    program.with_extension(if taken { "listing" } else { "lst" })
}

/// The one of that number, from 1 on; the reason where there is none.
fn numbered<'a, T>(found: &'a [T], number: usize, what: &str) -> Result<&'a T, String> {
    let chosen = number.checked_sub(1).and_then(|at| found.get(at));
    chosen.ok_or_else(|| format!("there are {} {what}, none with number {number}", found.len()))
}

/// What is to be emitted; of a search without a result, the reason.
fn wanted(args: &EmitArgs, output: &Output) -> Result<Result<(Bench, Wanted), String>> {
    let (bench, need) = args.need.open(&args.bench)?;
    let diagnosis = suspects::read(args.diagnosis.as_deref())?;
    let adapter = bench.adapter();
    let mut registers = bench.registers().clone();
    let mut sweep = Sweep { from: adapter.get(&registers, adapter.start_address()), stride: 1, count: 1 };
    if let Some(number) = args.workaround {
        let faults = suspects::faults(&bench, diagnosis.as_ref())?;
        let found = match workaround::searched(&bench, &need, &faults, output) {
            Ok(found) => found,
            Err(reason) => return Ok(Err(reason)),
        };
        let candidate = match numbered(&found.candidates, number, "workarounds") {
            Ok(candidate) => candidate,
            Err(reason) => return Ok(Err(reason)),
        };
        registers = candidate.registers.clone();
        sweep = Sweep { from: candidate.origin, stride: candidate.stride, count: candidate.of_starts.min(0xFFFF) };
    }
    let mut table = None;
    if let Some(number) = args.table {
        let faults = suspects::faults(&bench, diagnosis.as_ref())?;
        let found = match workaround::tabled(&bench, &need, &faults, output) {
            Ok(found) => found,
            Err(reason) => return Ok(Err(reason)),
        };
        let chosen = match numbered(&found.tables, number, "tables") {
            Ok(chosen) => chosen,
            Err(reason) => return Ok(Err(reason)),
        };
        registers = chosen.registers.clone();
        sweep.from = adapter.get(&registers, adapter.start_address());
        table = Some(chosen.clone());
    }
    if let (Some(number), Some(diagnosis)) = (args.probe, &diagnosis) {
        for (name, value) in probe(&diagnosis.answer, number)? {
            let field = bench.field(name)?;
            adapter.set(&mut registers, field, u64::from(*value)).map_err(|error| {
                InputError::new("--probe", error.found, format!("0..={}", error.max)).in_field(name)
            })?;
        }
        sweep.from = adapter.get(&registers, adapter.start_address());
    }
    if let Some(range) = &args.over {
        sweep = over(range)?;
    }
    let first = u64::from(sweep.from);
    let field = adapter.start_address();
    adapter
        .set(&mut registers, field, first)
        .map_err(|error| InputError::new("--over", error.found, format!("0..={}", error.max)))?;
    Ok(Ok((bench, Wanted { registers, sweep, table })))
}

/// The registers of a diagnosis's probe, counted from 1.
fn probe(diagnosis: &DiagnoseAnswer, number: usize) -> Result<&BTreeMap<String, u32>> {
    let probe = number.checked_sub(1).and_then(|at| diagnosis.probes.get(at));
    let allowed = || format!("1..={} of the diagnosis", diagnosis.probes.len());
    Ok(&probe.ok_or_else(|| InputError::new("--probe", number, allowed()))?.registers)
}

fn over(range: &Range) -> Result<Sweep> {
    let mut values = range.iter();
    let wrong = || InputError::new("--over", range, "1 to 65535 start addresses of at most 65535");
    let from = values.next().and_then(|from| u32::try_from(from).ok()).ok_or_else(wrong)?;
    let stride = values.next().map_or(0, |next| next - u64::from(from));
    let count = range.iter().take(0x1_0000).count() as u32;
    let last = range.iter().next_back().unwrap_or(0);
    if count > 0xFFFF || last > 0xFFFF {
        return Err(wrong().into());
    }
    Ok(Sweep { from, stride: stride as u32, count })
}
