//! One board run through a motion, frame by frame against what was meant.

use backporch_adapter::Registers;
use backporch_bench::{Bench, Scroll};
use backporch_raster::{Board, Plain, QuietFrame, Tap};

use super::{Difference, Motion};
use crate::redraw::redraw;
use crate::signature::FrameSignature;

/// A quarter down the frame: far from any latch, in the active area of every mode.
pub(super) const EARLY: f64 = 0.25;
/// Moments tried, as shares of the frame.
pub(super) const MOMENTS: [f64; 8] = [0.05, EARLY, 0.4, 0.55, 0.7, 0.85, 0.93, 0.98];

/// The bench's board under its quirks.
pub(super) fn faulty(bench: &Bench, motion: Motion) -> (Vec<FrameSignature>, Option<Difference>) {
    through(bench, bench.faulty(bench.registers()), motion)
}

/// A healthy board of the bench's class.
pub(super) fn healthy(bench: &Bench, motion: Motion) -> Vec<FrameSignature> {
    through(bench, bench.plain(bench.registers()), motion).0
}

fn through<T: Tap>(bench: &Bench, mut board: Board<T>, motion: Motion) -> (Vec<FrameSignature>, Option<Difference>) {
    let mut signatures = Vec::new();
    let mut first = None;
    let redrawn = bench.with_scroll(Scroll::Redrawn);
    let frame = FrameDots::of(bench);
    for number in 0..motion.frames.max(1) {
        let wanted = registers(bench, motion, number);
        if motion.step != 0 {
            write(bench, &mut board, &registers(bench, motion, number + 1), frame, motion.moment);
        }
        // Writes late in the frame may have run over its end.
        let over = board.beam().frame > u64::from(number);
        let shown = if over { board.take_frame().unwrap_or_default() } else { board.run_frame() };
        let meant = redrawn.plain(&wanted).run_frame();
        let signature = FrameSignature::between(size(bench, &wanted), &meant, &shown);
        if first.is_none() && !signature.is_clean() {
            first = Some(Difference { frame: number, signature: signature.clone(), meant, shown });
        }
        signatures.push(signature);
    }
    (signatures, first)
}

/// Dots of a healthy board's frame, and from its start to where the retrace is well under way.
#[derive(Clone, Copy)]
struct FrameDots {
    all: u64,
    retrace: u64,
}

/// Scan lines after the start of vertical sync from which on columns are redrawn.
const LINES_INTO_RETRACE: u64 = 2;

impl FrameDots {
    fn of(bench: &Bench) -> Self {
        let mut board = bench.plain(bench.registers());
        board.run_frame();
        let all = board.beam().dot;
        let timing = bench.adapter().timing(bench.registers());
        let line = all / u64::from(timing.lines()).max(1);
        let sync = u64::from(timing.sync_line());
        Self { all, retrace: (sync + LINES_INTO_RETRACE) * line }
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

/// What a routine does each frame: the start address at its moment, and what
/// enters the window once the beam has left the picture.
fn write<T: Tap>(bench: &Bench, board: &mut Board<T>, wanted: &Registers, frame: FrameDots, moment: f64) {
    let from = board.beam().dot;
    board.run_to(from + (moment.clamp(0.0, 1.0) * frame.all as f64) as u64);
    let adapter = bench.adapter();
    let field = adapter.start_address();
    for (port, byte) in adapter.programming(board.registers(), field, adapter.get(wanted, field)) {
        board.write_port(port, byte);
    }
    board.run_to(from + frame.retrace);
    redraw(board, &bench.memory(wanted));
}

/// Pixels of a line and lines of the picture.
pub(super) fn size(bench: &Bench, registers: &Registers) -> (u32, u32) {
    let quiet = QuietFrame::new(bench.adapter(), registers, &Plain);
    (quiet.line(0, 0, 0).pixels(), quiet.picture_lines())
}
