//! One board run through a motion, frame by frame against what was meant.

use std::sync::Arc;

use backporch_adapter::Registers;
use backporch_bench::{Bench, Scroll};
use backporch_raster::{Board, Frame, Healthy, QuietFrame, Tap};

use super::{Difference, Motion};
use crate::outcome::Outcome;
use crate::scene::driven::redraw;

/// A quarter down the frame: far from any latch, in the active area of every mode.
pub(super) const EARLY: f64 = 0.25;
/// Moments tried, as shares of the frame.
pub(super) const MOMENTS: [f64; 8] = [0.05, EARLY, 0.4, 0.55, 0.7, 0.85, 0.93, 0.98];

/// The bench's board under its quirks.
pub(super) fn faulty(bench: &Bench, motion: Motion) -> (Vec<Outcome>, Option<Difference>) {
    through(bench, bench.faulty(bench.registers()), motion)
}

/// A healthy board of the bench's class.
pub(super) fn healthy(bench: &Bench, motion: Motion) -> Vec<Outcome> {
    through(bench, bench.healthy(bench.registers()), motion).0
}

fn through<T: Tap>(bench: &Bench, mut board: Board<T>, motion: Motion) -> (Vec<Outcome>, Option<Difference>) {
    let mut outcomes = Vec::new();
    let mut first = None;
    let redrawn = bench.with_scroll(Scroll::Redrawn);
    let frame_dots = Board::healthy(Arc::clone(bench.adapter()), bench.registers().clone()).run_frame_dots();
    for number in 0..motion.frames.max(1) {
        let from = board.beam().dot;
        if motion.step != 0 {
            board.run_to(from + (motion.moment.clamp(0.0, 1.0) * frame_dots as f64) as u64);
            write(bench, &mut board, &registers(bench, motion, number + 1));
        }
        // Writes late in the frame may have run over its end.
        let over = board.beam().frame > u64::from(number);
        let shown = match over {
            true => board.take_frame().unwrap_or_default(),
            false => board.run_frame(),
        };
        let meant = meant(&redrawn, &registers(bench, motion, number));
        let outcome = Outcome::between(size(bench, &registers(bench, motion, number)), &meant, &shown);
        if first.is_none() && !outcome.is_clean() {
            first = Some(Difference { frame: number, outcome: outcome.clone(), meant, shown });
        }
        outcomes.push(outcome);
    }
    (outcomes, first)
}

/// Dots of a frame.
trait FrameDots {
    fn run_frame_dots(self) -> u64;
}

impl FrameDots for Board<Healthy> {
    fn run_frame_dots(mut self) -> u64 {
        self.run_frame();
        self.beam().dot
    }
}

/// The registers of frame `number`.
fn registers(bench: &Bench, motion: Motion, number: u32) -> Registers {
    let adapter = bench.adapter();
    let field = adapter.start_address();
    let values = i64::from(adapter.field_info(field).max()) + 1;
    let start = i64::from(adapter.get(bench.registers(), field));
    let moved = (start + motion.step.rem_euclid(values) * i64::from(number)).rem_euclid(values);
    let mut registers = bench.registers().clone();
    // The remainder fits the register.
    let _ = adapter.set(&mut registers, field, moved as u64);
    registers
}

/// What a routine does each frame: start address, then what enters the window.
fn write<T: Tap>(bench: &Bench, board: &mut Board<T>, wanted: &Registers) {
    let adapter = bench.adapter();
    let field = adapter.start_address();
    for (port, byte) in adapter.programming(board.registers(), field, adapter.get(wanted, field)) {
        board.write_port(port, byte);
    }
    redraw(board, &bench.memory(wanted));
}

/// A healthy board at rest under these registers, all of its window redrawn.
fn meant(bench: &Bench, registers: &Registers) -> Frame {
    bench.healthy(registers).run_frame()
}

/// Pixels of a line and lines of the picture.
pub(super) fn size(bench: &Bench, registers: &Registers) -> (u32, u32) {
    let quiet = QuietFrame::new(bench.adapter(), registers, &Healthy);
    (quiet.line(0, 0, 0).pixels(), quiet.picture_lines())
}
