//! Proving a table by rendering: every distinct step on the suspected board, held against what was meant.
//!
//! The picture laid for the proof is noise, so that a byte from the wrong
//! place is seen; the rest of memory is other noise. What the table says is right has
//! to be right to the pixel, and no more may be wrong than it says.

use std::sync::Arc;

use backporch_adapter::{Registers, Spread};
use backporch_bench::Bench;
use backporch_raster::{Board, Frame, Line, Plain, QuietFrame, Tap};
use rayon::prelude::*;

use super::{StepTable, TableStep};

/// Steps that one board shows after another.
const STRETCH: usize = 64;

/// Whether every step shows what the table says, under a tap.
pub(crate) fn holds_rendered<T: Tap + Clone + Send + Sync>(bench: &Bench, table: &StepTable, tap: &T) -> bool {
    let shown: Vec<&TableStep> = table.steps.iter().filter(|step| !step.skipped).collect();
    let proof = Proof::new(bench, table);
    shown.par_chunks(STRETCH).all(|steps| steps.iter().all(|step| proof.holds(tap, step)))
}

/// What all steps of a table are laid from.
struct Proof<'a> {
    bench: &'a Bench,
    table: &'a StepTable,
    /// How the plain board fetches.
    quiet: QuietFrame,
    /// What memory holds besides the picture.
    around: Vec<u8>,
    /// The picture, line by line, its border in it.
    lines: Vec<Vec<u8>>,
    /// Bytes of a line in the border at the left and at the right.
    border: (usize, usize),
    /// The same picture as pixel values.
    meant: Vec<Vec<u8>>,
}

impl<'a> Proof<'a> {
    fn new(bench: &'a Bench, table: &'a StepTable) -> Self {
        let quiet = QuietFrame::new(bench.adapter(), &table.registers, &Plain);
        let bytes = quiet.line(0, 0, 0).bytes;
        let of_pixels = |pixels: u32| (pixels * bytes / table.width.max(1)) as usize;
        let border = (of_pixels(table.border.left), of_pixels(table.border.right));
        let line = |index: u32| {
            let mut line: Vec<u8> = (0..bytes).map(|at| noise(index * bytes + at, 0x9E37_79B1)).collect();
            line[..border.0].fill(0);
            line[bytes as usize - border.1..].fill(0);
            line
        };
        let mut proof = Self {
            bench,
            table,
            around: (0..bench.adapter().memory().bytes).map(|at| noise(at, 0x2545_F491)).collect(),
            lines: (0..table.height).map(line).collect(),
            border,
            quiet,
            meant: Vec::new(),
        };
        proof.meant = proof.meant();
        proof
    }

    fn holds<T: Tap + Clone>(&self, tap: &T, step: &TableStep) -> bool {
        let Some(registers) = self.at(self.table.start(step)) else {
            return false;
        };
        let memory = self.memory(step.position);
        let mut board = Board::new(Arc::clone(self.bench.adapter()), registers, tap.clone());
        board.load(&memory);
        let wrong = self.wrong_pixels(&board.run_frame());
        wrong.is_some_and(|wrong| wrong <= step.wrong.pixels)
    }

    /// The table's registers at a start address.
    fn at(&self, start: u32) -> Option<Registers> {
        let (adapter, mut registers) = (self.bench.adapter(), self.table.registers.clone());
        adapter.set(&mut registers, adapter.start_address(), u64::from(start)).ok().map(|()| registers)
    }

    /// What the plain board shows of the picture: the same wherever it lies.
    fn meant(&self) -> Vec<Vec<u8>> {
        let first = self.table.steps.first().map_or(0, |step| step.position);
        let mut plain = Board::plain(Arc::clone(self.bench.adapter()), self.at(first).unwrap_or_default());
        plain.load(&self.memory(first));
        let frame = plain.run_frame();
        values(&frame, self.table.height).map(Iterator::collect).collect()
    }

    /// Pixels that differ from what is meant; `None` where the frame is of another shape.
    fn wrong_pixels(&self, frame: &Frame) -> Option<u32> {
        let mut wrong = 0;
        let mut lines = values(frame, self.table.height);
        for meant in &self.meant {
            let mut shown = lines.next()?;
            wrong += meant.iter().filter(|value| shown.next() != Some(**value)).count();
            if shown.next().is_some() {
                return None;
            }
        }
        Some(wrong as u32)
    }

    /// Video memory with every copy of the picture laid for a position.
    fn memory(&self, position: u32) -> Vec<u8> {
        let table = self.table;
        let mut memory = self.around.clone();
        let quiet = &self.quiet;
        for copy in &table.copies {
            let start = position.wrapping_add(*copy) & (table.ring - 1);
            for (index, bytes) in (0..).zip(&self.lines) {
                lay(&mut memory, &quiet.line(0, start, index), bytes);
            }
            // The rows above and below have a border, too.
            let (first, last) = (quiet.line(0, start, 0), quiet.line(0, start, table.height.saturating_sub(1)));
            let beside = [
                (first, first.pitch.wrapping_neg(), table.border.rows_above),
                (last, last.pitch, table.border.rows_below),
            ];
            for (line, off, _) in beside.into_iter().filter(|(_, _, rows)| *rows > 0) {
                let right = line.bytes.saturating_sub(self.border.1 as u32);
                lay(&mut memory, &moved(&line, off), &vec![0; self.border.0]);
                lay(&mut memory, &moved(&line, off.wrapping_add(right)), &vec![0; self.border.1]);
            }
        }
        memory
    }
}

/// Pixel values of the first `height` picture lines.
fn values(frame: &Frame, height: u32) -> impl Iterator<Item = impl Iterator<Item = u8> + '_> + '_ {
    let lines = frame.picture_lines().take(height as usize);
    lines.map(|line| frame.segments_of(line).iter().flat_map(|one| frame.values_of(one.kind).iter().copied()))
}

/// Writes bytes along a line.
fn lay(memory: &mut [u8], line: &Line, bytes: &[u8]) {
    let first = (line.linear & line.mask) as usize;
    let last = first + bytes.len();
    let simple = line.spread == Spread::Byte && line.holes == 0 && line.bank == 0 && line.repeat == 0;
    if let Some(room) = memory.get_mut(first..last).filter(|_| simple && last <= line.mask as usize + 1) {
        room.copy_from_slice(bytes);
        return;
    }
    for (at, value) in (0..).zip(bytes) {
        if let Some(byte) = memory.get_mut(line.memory(line.plain_address(at)) as usize) {
            *byte = *value;
        }
    }
}

/// The line that begins some bytes further on.
fn moved(line: &Line, bytes: u32) -> Line {
    Line { linear: line.linear.wrapping_add(bytes) & line.mask, ..*line }
}

fn noise(at: u32, by: u32) -> u8 {
    let mixed = (at ^ at >> 15).wrapping_add(1).wrapping_mul(by);
    (mixed ^ mixed >> 13).wrapping_mul(0x85EB_CA6B).to_be_bytes()[0]
}
