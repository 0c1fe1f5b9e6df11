//! Video memory with every copy of a table's picture in it, and the frames boards show of it.

use std::sync::Arc;

use backporch_adapter::Spread;
use backporch_bench::Bench;
use backporch_raster::{Board, Frame, Line, Plain, QuietFrame, Tap};

use super::timed_register::{Moments, TimedRegister};
use super::{StepTable, TableStep};

/// A picture that is laid where the steps of a table want it.
pub(super) struct LaidCopies<'a> {
    bench: &'a Bench,
    pub table: &'a StepTable,
    /// How the plain board fetches.
    quiet: QuietFrame,
    /// What memory holds besides the picture.
    around: Vec<u8>,
    /// The picture, line by line, its border in it.
    lines: Vec<Vec<u8>>,
    /// Bytes of a line in the border at the left and at the right.
    border: (usize, usize),
}

impl<'a> LaidCopies<'a> {
    /// A picture of one `Vec` of bytes for each picture line, in which the table's border is cleared, with other memory around it.
    pub fn new(bench: &'a Bench, table: &'a StepTable, mut lines: Vec<Vec<u8>>, around: Vec<u8>) -> Self {
        let quiet = QuietFrame::new(bench.adapter(), &table.registers, &Plain);
        let bytes = quiet.line(0, 0, 0).bytes;
        let of_pixels = |pixels: u32| (pixels * bytes / table.width.max(1)) as usize;
        let border = (of_pixels(table.border.left), of_pixels(table.border.right));
        for line in &mut lines {
            let right = line.len().saturating_sub(border.1);
            line.iter_mut().take(border.0).for_each(|byte| *byte = 0);
            line.iter_mut().skip(right).for_each(|byte| *byte = 0);
        }
        Self { bench, table, quiet, around, lines, border }
    }

    /// The bench's own picture, as it lies in memory for a position; `None` where no start address says it.
    pub fn of_bench(bench: &'a Bench, table: &'a StepTable, position: u32) -> Option<Self> {
        let registers = table.registers_at(bench.adapter(), position)?;
        let (memory, quiet) =
            (bench.memory(&registers).into_owned(), QuietFrame::new(bench.adapter(), &registers, &Plain));
        let line = |index: u32| {
            let line = quiet.line(0, position, index);
            let byte = |at: u32| memory.get(line.memory(line.plain_address(at)) as usize).copied().unwrap_or(0);
            (0..line.bytes).map(byte).collect()
        };
        let lines = (0..table.height).map(line).collect();
        Some(Self::new(bench, table, lines, memory))
    }

    /// The plain board's frame of the first copy, laid for a position; `None` where no start address says it.
    pub fn meant(&self, position: u32) -> Option<Frame> {
        self.frame(position, position, &Plain)
    }

    /// What a board shows of a step; `None` where no start address says it.
    pub fn shown<T: Tap + Clone>(&self, step: &TableStep, tap: &T) -> Option<Frame> {
        self.shown_at(step, tap, None)
    }

    /// The same with the writes beside the beam at these moments, or at their nominal ones.
    pub fn shown_at<T: Tap + Clone>(&self, step: &TableStep, tap: &T, moments: Option<Moments>) -> Option<Frame> {
        let start = self.table.start(step);
        match (&self.table.schedule, self.table.writes_of(step)) {
            (Some(schedule), Some(writes)) if !writes.lines.is_empty() => {
                let register = TimedRegister::new(self.bench.adapter(), &self.table.registers, schedule.field)?;
                let moments = moments.unwrap_or(register.nominal());
                register.frame((start, &self.memory(step.position)), tap.clone(), &writes.lines, moments)
            }
            _ => self.frame(step.position, start, tap),
        }
    }

    fn frame<T: Tap + Clone>(&self, position: u32, start: u32, tap: &T) -> Option<Frame> {
        let adapter = self.bench.adapter();
        let mut board = Board::new(Arc::clone(adapter), self.table.registers_at(adapter, start)?, tap.clone());
        board.load(&self.memory(position));
        Some(board.run_frame())
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
