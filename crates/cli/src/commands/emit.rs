//! `emit`: register settings as tables and test programs for the real machine, and waveforms of what the board does.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use anyhow::{Result, anyhow};
use backporch_adapter::Registers;
use backporch_bench::Bench;
use backporch_drive::{Driver, Keep, Start};
use backporch_hazards::write_vcd;
use backporch_input::InputError;
use backporch_report::emit::{Sweep, Table, TestProgram};
use serde::Serialize;

use super::{suspects, workaround};
use crate::answer::{Answer, Found};
use crate::args::{EmitArgs, EmitForm};
use crate::files;

/// The JSON form; the table itself stands in it where it goes nowhere else.
#[derive(Debug, Serialize)]
struct EmitAnswer {
    board: String,
    mode: String,
    registers: BTreeMap<String, u32>,
    writes: Vec<(u16, u8)>,
    out: Vec<String>,
    steps: Option<u32>,
    caution: Option<&'static str>,
    #[serde(skip_serializing_if = "Option::is_none")]
    text: Option<String>,
}

/// The registers to be emitted, and the start addresses that go with them.
struct Wanted {
    registers: Registers,
    sweep: Sweep,
}

pub fn run(args: &EmitArgs, answer: &mut Answer) -> Result<Found> {
    let (bench, wanted) = match wanted(args, answer)? {
        Ok(wanted) => wanted,
        Err(reason) => {
            answer.give(&serde_json::json!({ "reason": reason }), |_| format!("Nothing to emit: {reason}.\n"))?;
            return Ok(Found::Something);
        }
    };
    let (adapter, mode) = (bench.adapter(), bench.mode());
    let table = Table::new(adapter, mode, &wanted.registers);
    let start = adapter.start_up(mode);
    let differs = |field| adapter.get(&wanted.registers, field) != adapter.get(&start, field);
    let mut told = EmitAnswer {
        board: adapter.name().to_string(),
        mode: mode.name.clone(),
        registers: adapter
            .fields()
            .filter(|(field, _)| differs(*field))
            .map(|(field, info)| (info.name.clone(), adapter.get(&wanted.registers, field)))
            .collect(),
        writes: table.passage().ports().collect(),
        out: Vec::new(),
        steps: None,
        caution: table.caution(),
        text: None,
    };
    let text = match args.form {
        EmitForm::C => table.to_c(&args.name),
        EmitForm::Assembly => table.to_assembly(&args.name),
        EmitForm::Csv => table.to_csv(),
        EmitForm::Trace => table.to_trace(),
        EmitForm::Vcd => return vcd(args, &bench, &wanted, told, answer),
        EmitForm::Program => return program(args, &bench, &wanted, told, answer),
    };
    match &args.out {
        Some(path) => {
            files::write(answer, path, text.as_bytes())?;
            told.out.push(path.display().to_string());
            if path.as_os_str() != "-" {
                answer.give(&told, EmitAnswer::text)?;
            }
        }
        None if answer.is_json() => {
            told.text = Some(text);
            answer.give(&told, EmitAnswer::text)?;
        }
        None => answer.bytes(text.as_bytes())?,
    }
    Ok(Found::Nothing)
}

/// Writes a waveform of the board under the bench's routine, or alone where it has none.
fn vcd(args: &EmitArgs, bench: &Bench, wanted: &Wanted, mut told: EmitAnswer, answer: &mut Answer) -> Result<Found> {
    let alone = || Driver::Trace(Arc::default());
    let driver = Driver::of(&bench)?.unwrap_or_else(alone);
    let mut records = Vec::new();
    let run = (Start::default(), args.frames, Keep { trace: false, signals: true });
    let board = bench.faulty(&wanted.registers);
    let watch = driver.watch(bench, board, run, &mut |record| records.push(record))?;
    let mut dump = Vec::new();
    write_vcd(&mut dump, bench.adapter(), &watch.signals, &records)?;
    let path = args.out.clone().unwrap_or_else(|| files::beside(&args.bench.bench, ".vcd"));
    files::write(answer, &path, &dump)?;
    if path.as_os_str() != "-" {
        told.out.push(path.display().to_string());
        answer.give(&told, EmitAnswer::text)?;
    }
    Ok(Found::Nothing)
}

/// Writes a test program and, beside it, its listing.
fn program(
    args: &EmitArgs,
    bench: &Bench,
    wanted: &Wanted,
    mut told: EmitAnswer,
    answer: &mut Answer,
) -> Result<Found> {
    let program =
        TestProgram { adapter: bench.adapter(), mode: bench.mode(), registers: &wanted.registers, sweep: wanted.sweep };
    let code = program.assemble().map_err(|error| anyhow!("{error}"))?;
    let path = args.out.clone().unwrap_or_else(|| files::beside(&args.bench.bench, ".com"));
    if path.as_os_str() == "-" {
        answer.bytes(code.bytes())?;
        return Ok(Found::Nothing);
    }
    let listing = beside(&path);
    files::write(answer, &path, code.bytes())?;
    files::write(answer, &listing, code.listing().as_bytes())?;
    told.out = vec![path.display().to_string(), listing.display().to_string()];
    told.steps = Some(wanted.sweep.count);
    answer.give(&told, EmitAnswer::text)?;
    Ok(Found::Nothing)
}

/// The listing's path; never the program's own.
fn beside(program: &Path) -> PathBuf {
    match program.extension().is_some_and(|ending| ending == "lst") {
        true => program.with_extension("listing"),
        false => program.with_extension("lst"),
    }
}

/// What is to be emitted; a search without a result is told in words.
fn wanted(args: &EmitArgs, answer: &Answer) -> Result<Result<(Bench, Wanted), String>> {
    let (bench, need) = workaround::opened(&args.bench.bench, args.bench.overrides(), &args.need)?;
    let diagnosis = suspects::source(args.diagnosis.as_deref())?;
    let adapter = bench.adapter();
    let mut registers = bench.registers().clone();
    let mut sweep = Sweep { from: adapter.get(&registers, adapter.start_address()), stride: 1, count: 1 };
    if let Some(number) = args.workaround {
        let faults = suspects::faults(&bench, diagnosis.as_ref())?;
        let found = match workaround::searched(&bench, &need, &faults, answer) {
            Ok(found) => found,
            Err(reason) => return Ok(Err(reason)),
        };
        let Some(candidate) = number.checked_sub(1).and_then(|at| found.candidates.get(at)) else {
            return Ok(Err(format!("there are {} workarounds, none with number {number}", found.candidates.len())));
        };
        registers = candidate.registers.clone();
        sweep = Sweep { from: candidate.origin, stride: candidate.stride, count: candidate.of_starts.min(0xFFFF) };
    }
    if let (Some(number), Some(diagnosis)) = (args.probe, &diagnosis) {
        for (name, value) in suspects::probe(diagnosis, number)? {
            let field = bench.field(&name)?;
            adapter.set(&mut registers, field, u64::from(value)).map_err(|error| {
                InputError::new("--probe", error.found, format!("0..={}", error.max)).in_field(&name)
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
    Ok(Ok((bench, Wanted { registers, sweep })))
}

fn over(range: &backporch_input::Range) -> Result<Sweep> {
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

impl EmitAnswer {
    fn text(&self) -> String {
        let registers: Vec<String> = self.registers.iter().map(|(name, value)| format!("{name} {value}")).collect();
        let what = if registers.is_empty() { "the start-up values".to_string() } else { registers.join(", ") };
        let mut text = format!("{} in {}: {what}\n{} port writes\n", self.board, self.mode, self.writes.len());
        if let Some(steps) = self.steps {
            let ending = if steps == 1 { "" } else { "s" };
            text += &format!("{steps} step{ending}; any key goes on, backspace back, escape ends it\n");
        }
        for path in &self.out {
            text += &format!("written: {path}\n");
        }
        if let Some(caution) = self.caution {
            text += &format!("\n{caution}\n");
        }
        text
    }
}
