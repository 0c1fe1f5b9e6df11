//! Budgets: how many bytes a processor moves in the time a board gives it.

use backporch_adapter::{Adapter, Registers};
use backporch_raster::{Plain, QuietFrame};
use backporch_script::{Cpu, Event, FrameRecord, Width};
use backporch_signal::AxisError;

/// How bytes are moved.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum MoveKind {
    /// `REP MOVS` from system memory.
    Copy,
    /// `REP STOS`.
    Fill,
}

/// Bytes that can be moved one way.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct MoveBudget {
    /// How.
    pub kind: MoveKind,
    /// Bytes at a time.
    pub width: Width,
    /// Clocks of each repetition to an even address, on average.
    pub clocks_each: f64,
    /// Bytes from the end of the last line shown to the start of the next frame.
    pub in_blanking: u64,
    /// Bytes between two display ends of a line, once set up: horizontal blanking.
    pub in_line_blanking: u64,
    /// Bytes in a whole frame.
    pub in_frame: u64,
    /// Bytes from the top of the picture that can be moved behind the beam:
    /// each after this frame has shown it, before the next one does.
    pub behind_beam: u64,
}

/// What a processor can move on a board.
#[derive(Clone, Debug, PartialEq)]
pub struct Budget {
    /// Clocks of a frame.
    pub frame_clocks: u64,
    /// Clocks from the end of the last line shown to the start of the next frame.
    pub blanking_clocks: u64,
    /// Clocks of the part of a line that is not shown.
    pub line_blanking_clocks: u64,
    /// Bytes of the picture shown.
    pub picture_bytes: u64,
    /// Copies and fills, by bytes and by words.
    pub moves: Vec<MoveBudget>,
}

impl Budget {
    /// The budget under these registers.
    ///
    /// # Errors
    /// Where the registers make no stable signal.
    pub fn new(adapter: &Adapter, registers: &Registers, cpu: &Cpu) -> Result<Self, AxisError> {
        let signal = adapter.signal(registers)?;
        let (across, down) = (signal.horizontal, signal.vertical);
        let line = u64::from(across.total());
        let frame = line * u64::from(down.total());
        let blanking = line * u64::from(down.total() - down.active());
        let cpu = &cpu.clone().beside(adapter, registers);
        let base = cpu.base();
        let reads = reads(adapter, registers, line);
        let mut budget = Self {
            frame_clocks: base.clocks_in(frame),
            blanking_clocks: base.clocks_in(blanking),
            line_blanking_clocks: base.clocks_in(line - u64::from(across.active())),
            picture_bytes: reads.iter().map(|line| u64::from(line.bytes)).sum(),
            moves: Vec::new(),
        };
        for kind in [MoveKind::Copy, MoveKind::Fill] {
            for width in [Width::Byte, Width::Word] {
                let (start, clocks_each) = match kind {
                    MoveKind::Copy => (cpu.clocks().rep_movs.start, cpu.copy_each(width, 0)),
                    MoveKind::Fill => (cpu.clocks().rep_stos.start, cpu.fill_each(width, 0)),
                };
                let one = Rate { start: u64::from(start), each: clocks_each, width };
                budget.moves.push(MoveBudget {
                    kind,
                    width,
                    clocks_each,
                    in_blanking: one.bytes_in(budget.blanking_clocks),
                    in_line_blanking: one.bytes_in(budget.line_blanking_clocks),
                    in_frame: one.bytes_in(budget.frame_clocks),
                    behind_beam: one.behind_beam(cpu, &reads, frame),
                });
            }
        }
        Ok(budget)
    }
}

/// A repeated string instruction.
struct Rate {
    start: u64,
    each: f64,
    width: Width,
}

/// When the beam reads a line of the picture.
struct LineRead {
    /// First dot of its first scan line.
    first: u64,
    /// First dot of its last scan line, where it is repeated.
    last: u64,
    bytes: u32,
    dots_per_char: u64,
    bytes_per_char: u64,
}

impl LineRead {
    fn dots_to(&self, offset: u32) -> u64 {
        u64::from(offset) / self.bytes_per_char * self.dots_per_char
    }
}

impl Rate {
    fn bytes_in(&self, clocks: u64) -> u64 {
        (clocks.saturating_sub(self.start) as f64 / self.each) as u64 * u64::from(self.width.bytes())
    }

    /// Moves the picture from its top, each unit as soon as the beam has left it.
    fn behind_beam(&self, cpu: &Cpu, reads: &[LineRead], frame: u64) -> u64 {
        let base = cpu.base();
        let mut moved = 0;
        let mut clock = (reads.first().map_or(0, |line| base.clocks_to(line.last)) + self.start) as f64;
        for line in reads {
            for offset in (0..line.bytes).step_by(self.width.bytes() as usize) {
                let end = offset + self.width.bytes() - 1;
                // Written once the beam has read its last byte, and in time for its first.
                let left = base.clocks_to(line.last + line.dots_to(end) + line.dots_per_char);
                clock = (clock + self.each).max(left as f64);
                if clock > base.clocks_in(line.first + line.dots_to(offset) + frame) as f64 {
                    return moved;
                }
                moved += u64::from(self.width.bytes());
            }
        }
        moved
    }
}

fn reads(adapter: &Adapter, registers: &Registers, line_dots: u64) -> Vec<LineRead> {
    let quiet = QuietFrame::new(adapter, registers, &Plain);
    let format = quiet.format();
    let repeats = if format.uses_row_address() { 1 } else { quiet.timing().lines_per_row() };
    let line = |index| {
        let line = quiet.line(0, quiet.start(), index);
        LineRead {
            first: u64::from(line.scan_line) * line_dots,
            last: u64::from(line.scan_line + repeats - 1) * line_dots,
            bytes: line.bytes,
            dots_per_char: u64::from(format.char_dots),
            bytes_per_char: u64::from(format.address.bytes_per_char().max(1)),
        }
    };
    (0..quiet.picture_lines()).map(line).collect()
}

/// Whether a routine's passes fit into their frames.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct BudgetFit {
    /// Most clocks of work in a pass, waiting left out.
    pub busiest_pass: u64,
    /// Clocks it may take.
    pub allowed: u64,
}

impl BudgetFit {
    /// Measures the passes that ended in these frames.
    #[must_use]
    pub fn of(records: &[FrameRecord], cpu: &Cpu) -> Option<Self> {
        let fit = |record: &FrameRecord, event: &Event| match event {
            Event::Passed(passed) => {
                let frame = record.end_dot() - record.frame.first_dot;
                let allowed = cpu.base().clocks_in(frame * u64::from(passed.frames_meant));
                Some(Self { busiest_pass: passed.busy_clocks, allowed })
            }
            _ => None,
        };
        let fits = records.iter().flat_map(|record| record.events.iter().filter_map(move |event| fit(record, event)));
        fits.max_by_key(|fit| fit.busiest_pass)
    }

    /// Whether the work fits.
    #[must_use]
    pub fn fits(&self) -> bool {
        self.busiest_pass <= self.allowed
    }
}
