//! Proving a table by rendering: every distinct step on the suspected board, held against what was meant.
//!
//! The picture laid for the proof is noise, so that a byte from the wrong
//! place is seen; the rest of memory is other noise. What the table says is right has
//! to be right to the pixel, and no more may be wrong than it says.

use std::sync::Arc;

use backporch_adapter::Registers;
use backporch_bench::Bench;
use backporch_raster::{Board, Frame, QuietFrame, Plain, Tap};
use rayon::prelude::*;

use super::{StepTable, TableStep};

/// Steps that one board shows after another.
const STRETCH: usize = 64;

/// Whether every step shows what the table says, under a tap.
pub(crate) fn holds_rendered<T: Tap + Clone + Send + Sync>(bench: &Bench, table: &StepTable, tap: &T) -> bool {
    let shown: Vec<&TableStep> = table.steps.iter().filter(|step| !step.skipped).collect();
    shown.par_chunks(STRETCH).all(|steps| steps.iter().all(|step| holds(bench, table, tap, step)))
}

fn holds<T: Tap + Clone>(bench: &Bench, table: &StepTable, tap: &T, step: &TableStep) -> bool {
    let adapter = bench.adapter();
    let at = |start: u32| {
        let mut registers = table.registers.clone();
        adapter.set(&mut registers, adapter.start_address(), u64::from(start)).ok().map(|()| registers)
    };
    let (Some(meant), Some(shown)) = (at(step.position), at(table.start(step))) else {
        return false;
    };
    let memory = memory(bench, table, &meant, step.position);
    let mut plain = Board::plain(Arc::clone(adapter), meant);
    let mut suspected = Board::new(Arc::clone(adapter), shown, tap.clone());
    plain.load(&memory);
    suspected.load(&memory);
    let wrong = wrong_pixels(&plain.run_frame(), &suspected.run_frame(), table.height);
    wrong.is_some_and(|wrong| wrong <= step.wrong.pixels)
}

/// Pixels of the first `height` picture lines that differ; `None` where the frames are not of one shape.
fn wrong_pixels(meant: &Frame, shown: &Frame, height: u32) -> Option<u32> {
    let values = |frame: &Frame| -> Vec<Vec<u8>> {
        let lines = frame.picture_lines().take(height as usize);
        let of_line = |line| frame.segments_of(line).iter().flat_map(|one| frame.values_of(one.kind).to_vec()).collect();
        lines.map(of_line).collect()
    };
    let (meant, shown) = (values(meant), values(shown));
    let alike = meant.len() == shown.len() && meant.iter().zip(&shown).all(|(one, other)| one.len() == other.len());
    let differing = |(one, other): (&Vec<u8>, &Vec<u8>)| one.iter().zip(other).filter(|(one, other)| one != other).count();
    alike.then(|| meant.iter().zip(&shown).map(differing).sum::<usize>() as u32)
}

/// Video memory with every copy of a picture of noise laid for a position, inside its border.
fn memory(bench: &Bench, table: &StepTable, registers: &Registers, position: u32) -> Vec<u8> {
    let adapter = bench.adapter();
    let bytes = adapter.memory().bytes;
    let mut memory: Vec<u8> = (0..bytes).map(|at| noise(at, 0x2545_F491)).collect();
    let quiet = QuietFrame::new(adapter, registers, &Plain);
    let border = |pixels: u32, line_bytes: u32| pixels * line_bytes / table.width.max(1);
    for copy in &table.copies {
        let start = position.wrapping_add(*copy) & (table.ring - 1);
        for index in 0..table.height {
            let line = quiet.line(0, start, index);
            let (left, right) = (border(table.border.left, line.bytes), border(table.border.right, line.bytes));
            for at in 0..line.bytes {
                let edge = at < left || at >= line.bytes - right;
                let value = if edge { 0 } else { noise(index * line.bytes + at, 0x9E37_79B1) };
                put(&mut memory, line.memory(line.plain_address(at)), value);
            }
        }
        // The rows above and below have a border, too.
        let (first, last) = (quiet.line(0, start, 0), quiet.line(0, start, table.height.saturating_sub(1)));
        for (line, row, rows) in [(first, -1i64, table.border.rows_above), (last, 1, table.border.rows_below)] {
            let (left, right) = (border(table.border.left, line.bytes), border(table.border.right, line.bytes));
            let columns = (0..left).chain(line.bytes - right..line.bytes);
            for at in columns.filter(|_| rows > 0) {
                let linear = i64::from(line.plain_address(at)) + row * i64::from(line.pitch);
                put(&mut memory, line.memory(linear as u32), 0);
            }
        }
    }
    memory
}

fn put(memory: &mut [u8], address: u32, value: u8) {
    if let Some(byte) = memory.get_mut(address as usize) {
        *byte = value;
    }
}

fn noise(at: u32, by: u32) -> u8 {
    let mixed = (at ^ at >> 15).wrapping_add(1).wrapping_mul(by);
    (mixed ^ mixed >> 13).wrapping_mul(0x85EB_CA6B).to_be_bytes()[0]
}
