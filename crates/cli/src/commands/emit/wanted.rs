//! The registers that are to be emitted, and the start addresses that go with them.

use std::collections::BTreeMap;

use anyhow::Result;
use backporch_adapter::Registers;
use backporch_answer::DiagnoseAnswer;
use backporch_bench::Bench;
use backporch_emit::SteppedStarts;
use backporch_input::{InputError, Range};
use backporch_workaround::StepTable;

use super::args::EmitArgs;
use crate::commands::{suspects, workaround};
use crate::output::Output;

/// The registers to be emitted, and the start addresses that go with them.
pub struct Wanted {
    pub registers: Registers,
    pub sweep: SteppedStarts,
    pub table: Option<StepTable>,
}

/// The one of that number, from 1 on; the reason where there is none.
fn numbered<'a, T>(found: &'a [T], number: usize, what: &str) -> Result<&'a T, String> {
    let chosen = number.checked_sub(1).and_then(|at| found.get(at));
    chosen.ok_or_else(|| format!("there are {} {what}, none with number {number}", found.len()))
}

/// What is to be emitted; of a search without a result, the reason.
pub fn wanted(args: &EmitArgs, output: &Output) -> Result<Result<(Bench, Wanted), String>> {
    let (bench, need) = args.need.open(&args.bench)?;
    let diagnosis = suspects::read(args.diagnosis.as_deref())?;
    let adapter = bench.adapter();
    let mut registers = bench.registers().clone();
    let mut sweep = SteppedStarts { from: adapter.get(&registers, adapter.start_address()), stride: 1, count: 1 };
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
        sweep =
            SteppedStarts { from: candidate.origin, stride: candidate.stride, count: candidate.of_starts.min(0xFFFF) };
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

fn over(range: &Range) -> Result<SteppedStarts> {
    let mut values = range.iter();
    let wrong = || InputError::new("--over", range, "1 to 65535 start addresses of at most 65535");
    let from = values.next().and_then(|from| u32::try_from(from).ok()).ok_or_else(wrong)?;
    let stride = values.next().map_or(0, |next| next - u64::from(from));
    let count = range.iter().take(0x1_0000).count() as u32;
    let last = range.iter().next_back().unwrap_or(0);
    if count > 0xFFFF || last > 0xFFFF {
        return Err(wrong().into());
    }
    Ok(SteppedStarts { from, stride: stride as u32, count })
}
