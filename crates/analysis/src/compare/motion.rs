//! Motion: what every board of a comparison is made to do.

use backporch_adapter::Registers;
use backporch_bench::Bench;
use backporch_raster::{Board, Frame, Tap};

use crate::redraw::MemoryRedraw;

/// A quarter down the frame: far from any latch, in the active area of every mode.
const EARLY: f64 = 0.25;
/// Scan lines after the start of vertical sync from which on columns are redrawn.
const LINES_INTO_RETRACE: u64 = 2;

/// What every board is made to do.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Motion {
    /// Frames shown, at least 1.
    pub frames: u32,
    /// Start address units by which the picture moves each frame; 0 holds it still.
    pub step: i64,
    /// When in the frame the registers are written, 0 to below 1.
    pub moment: f64,
    /// Dots from one byte of the start address to the next.
    pub apart: u64,
}

impl Default for Motion {
    /// Eight frames, one unit each, written at one go a quarter down the frame.
    fn default() -> Self {
        Self { frames: 8, step: 1, moment: EARLY, apart: 0 }
    }
}

impl Motion {
    /// Moments tried, as shares of the frame.
    const MOMENTS: [f64; 8] = [0.05, EARLY, 0.4, 0.55, 0.7, 0.85, 0.93, 0.98];

    /// The same with the writes at other moments; none where nothing is written.
    pub(super) fn at_other_moments(self) -> impl Iterator<Item = Self> {
        let moments = if self.step == 0 { &[] } else { &Self::MOMENTS[..] };
        moments.iter().map(move |moment| Self { moment: *moment, ..self })
    }

    /// The registers of frame `number`.
    pub(super) fn registers(self, bench: &Bench, number: u32) -> Registers {
        let adapter = bench.adapter();
        let field = adapter.start_address();
        let values = i64::from(adapter.field_info(field).max()) + 1;
        let start = i64::from(adapter.get(bench.registers(), field));
        let moved = (start + self.step.rem_euclid(values) * i64::from(number)).rem_euclid(values);
        let mut registers = bench.registers().clone();
        // The remainder fits the register.
        let _ = adapter.set(&mut registers, field, moved as u64);
        registers
    }

    /// The frames that a board of the bench shows.
    pub(super) fn play<'a, T: Tap + 'a>(
        self,
        bench: &'a Bench,
        mut board: Board<T>,
    ) -> impl Iterator<Item = Frame> + 'a {
        let dots = FrameDots::of(bench);
        (0..self.frames.max(1)).map(move |number| {
            if self.step != 0 {
                self.write(bench, &mut board, &self.registers(bench, number + 1), dots);
            }
            // Writes late in the frame may have run over its end.
            let over = board.beam().frame > u64::from(number);
            if over { board.take_frame().unwrap_or_default() } else { board.run_frame() }
        })
    }

    /// What a routine does each frame: the start address at its moment, and what
    /// enters the window once the beam has left the picture.
    fn write<T: Tap>(self, bench: &Bench, board: &mut Board<T>, wanted: &Registers, frame: FrameDots) {
        let from = board.beam().dot;
        board.run_to(from + (self.moment.clamp(0.0, 1.0) * frame.all as f64) as u64);
        let adapter = bench.adapter();
        let field = adapter.start_address();
        let writes = adapter.programming(board.registers(), field, adapter.get(wanted, field));
        let (first, second) = writes.split_at(writes.len() / 2);
        first.iter().for_each(|(port, byte)| board.write_port(*port, *byte));
        board.run_to(board.beam().dot + self.apart);
        second.iter().for_each(|(port, byte)| board.write_port(*port, *byte));
        board.run_to(from + frame.retrace);
        let memory = bench.memory(wanted);
        MemoryRedraw::between(board.memory(), &memory).run(board, &memory, Board::run_to);
    }
}

/// Dots of a plain board's frame, and from its start to where the retrace is well under way.
#[derive(Clone, Copy)]
struct FrameDots {
    all: u64,
    retrace: u64,
}

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
