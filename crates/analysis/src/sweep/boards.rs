//! The boards of a step.

use std::sync::Arc;

use backporch_adapter::Registers;
use backporch_bench::Bench;
use backporch_quirk::QuirkStack;
use backporch_raster::{Board, Intercept, Plain, Stages, Tap};

use super::SweepAxis;

/// The plain board and the bench's own, about to draw the frames by which a step is judged.
#[derive(Clone, Debug)]
pub struct StepBoards {
    /// The plain board.
    pub healthy: Board<Plain>,
    /// As its class is built, with the bench's quirks.
    pub faulty: Board<QuirkStack>,
}

/// The boards of one step of a sweep, as [`sweep`](fn@crate::sweep) judges it: set to `values`, one a register of `over`; a faulty
/// board whose past counts has shown the step `before` and was set `hold` frames ago. Values that a register cannot
/// hold are left out.
#[must_use]
pub fn step_boards(bench: &Bench, over: &[SweepAxis], before: &[u32], values: &[u32], hold: u32) -> StepBoards {
    Stepped { bench, over, before, values, hold: hold.max(1) }.boards()
}

/// Puts the values of a step into a bench's registers.
pub(super) fn registers_at(bench: &Bench, over: &[SweepAxis], values: &[u32], registers: &mut Registers) {
    for (over, value) in over.iter().zip(values) {
        // Every value was checked when the range was made.
        let _ = bench.adapter().set(registers, over.field, u64::from(*value));
    }
}

/// One step and the one before it.
struct Stepped<'a> {
    bench: &'a Bench,
    over: &'a [SweepAxis],
    before: &'a [u32],
    values: &'a [u32],
    hold: u32,
}

impl Stepped<'_> {
    fn boards(&self) -> StepBoards {
        let settled = self.registers(self.values);
        let memory = self.bench.memory(&settled);
        let stack = self.bench.stack();
        let faulty = if stack.stages().intersects(Stages::PORT | Stages::LATCH | Stages::SYNC) {
            self.settled(self.bench.faulty(&self.registers(self.before)), &memory)
        } else {
            // How it came to these registers makes no difference to this fault.
            self.board(&settled, &memory, stack)
        };
        StepBoards { healthy: self.board(&settled, &memory, Plain), faulty }
    }

    fn board<T: Tap>(&self, registers: &Registers, memory: &[u8], tap: T) -> Board<T> {
        let mut board = Board::new(Arc::clone(self.bench.adapter()), registers.clone(), tap);
        board.load(memory);
        board
    }

    fn registers(&self, values: &[u32]) -> Registers {
        let mut registers = self.bench.registers().clone();
        registers_at(self.bench, self.over, values, &mut registers);
        registers
    }

    /// Shows the step before, sets this one in the active area, and runs on
    /// until it has been shown for `hold` frames.
    fn settled<T: Tap>(&self, mut board: Board<T>, memory: &[u8]) -> Board<T> {
        let adapter = self.bench.adapter();
        board.pass_frame();
        // A quarter down the frame: far from any latch, in the active area of every mode.
        let quarter = board.beam().dot + board.beam().dot / 4;
        board.pass_to(quarter);
        board.load(memory);
        for (over, value) in self.over.iter().zip(self.values) {
            for (port, byte) in adapter.programming(board.registers(), over.field, *value) {
                board.write_port(port, byte);
            }
        }
        for _ in 0..self.hold {
            board.pass_frame();
        }
        board
    }
}
