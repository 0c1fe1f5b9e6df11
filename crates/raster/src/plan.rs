//! Plans: which bytes a quiet frame fetches, without a pixel being drawn.
//!
//! A frame is quiet while no register changes in it. Then every row begins one
//! pitch after the one before, and a plan is a few additions a line: searching
//! millions of register settings costs no more than that.

use backporch_adapter::{Adapter, Format, Registers, Timing};

use crate::fetch::{self, Span};
use crate::tap::{LatchMoment, Line, Stages, Tap};

/// Fetch of one line of the picture.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PlanLine {
    /// How it is fetched.
    pub line: Line,
    /// Its spans among the plan's, left to right.
    pub first_span: u32,
    /// Number of its spans.
    pub spans: u32,
}

/// The fetch plan of a frame: for each picture line, the memory it shows.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Plan {
    /// Picture lines from the top.
    pub lines: Vec<PlanLine>,
    /// Spans of all lines.
    pub spans: Vec<Span>,
}

impl Plan {
    /// The spans of a picture line.
    #[must_use]
    pub fn spans_of(&self, line: &PlanLine) -> &[Span] {
        let first = line.first_span as usize;
        &self.spans[first..first + line.spans as usize]
    }

    /// The spans of every picture line, from the top.
    pub fn rows(&self) -> impl Iterator<Item = &[Span]> {
        self.lines.iter().map(|line| self.spans_of(line))
    }
}

/// What a quiet frame depends on: the registers, decoded once.
#[derive(Clone, Debug)]
pub struct QuietFrame {
    timing: Timing,
    format: Format,
    format_index: usize,
    start: u32,
}

impl QuietFrame {
    /// Decodes registers; a tap may bend the comparands.
    #[must_use]
    pub fn new<T: Tap>(adapter: &Adapter, registers: &Registers, tap: &T) -> Self {
        let mut timing = adapter.timing(registers);
        if tap.stages().has(Stages::SYNC) {
            tap.timing(&mut timing);
        }
        let format_index = adapter.format_index(registers);
        Self {
            timing,
            format: adapter.format(format_index).clone(),
            format_index,
            start: adapter.get(registers, adapter.start_address()),
        }
    }

    /// The same frame at another start address, in address units.
    #[must_use]
    pub fn at(&self, start: u32) -> Self {
        Self { start, ..self.clone() }
    }

    /// The same frame with another number of displayed character clocks.
    #[must_use]
    pub fn displaying(&self, displayed: u16) -> Self {
        let timing = Timing { displayed, ..self.timing };
        Self { timing, ..self.clone() }
    }

    /// Comparands of the counters.
    #[must_use]
    pub fn timing(&self) -> &Timing {
        &self.timing
    }

    /// Display format.
    #[must_use]
    pub fn format(&self) -> &Format {
        &self.format
    }

    /// Start address, in address units.
    #[must_use]
    pub fn start(&self) -> u32 {
        self.start
    }

    /// Character clocks of a line that are shown: up to the end of display,
    /// or of the line where that comes first.
    fn shown(&self) -> u32 {
        u32::from(self.timing.displayed).min(self.timing.chars())
    }

    /// Picture lines of the frame.
    #[must_use]
    pub fn picture_lines(&self) -> u32 {
        let rows = u32::from(self.timing.rows_displayed).min(u32::from(self.timing.last_row) + 1);
        match self.format.uses_row_address() {
            true => rows * self.timing.lines_per_row(),
            false => rows,
        }
    }

    /// How picture line `index` is fetched in frame `frame`.
    ///
    /// `start` is the start address the counters were given.
    #[must_use]
    pub fn line(&self, frame: u64, start: u32, index: u32) -> Line {
        let per_row = self.timing.lines_per_row();
        let (row, scan) = match self.format.uses_row_address() {
            true => (index / per_row, index % per_row),
            false => (index, 0),
        };
        let address = &self.format.address;
        let shown = self.shown();
        let bytes = shown * address.bytes_per_char();
        // Where the counter never meets `displayed`, no row start is ever taken over.
        let pitch = if shown < self.timing.chars() { bytes } else { 0 };
        let linear = start.wrapping_mul(address.unit).wrapping_add(row * pitch);
        Line {
            frame,
            scan_line: row * per_row + scan,
            picture_line: index,
            row,
            row_address: scan as u8,
            start,
            linear: linear & address.mask,
            pitch,
            displayed: u32::from(self.timing.displayed),
            bytes,
            unit: address.unit,
            mask: address.mask,
            bank: address.bank(scan as u8),
            format: self.format_index as u32,
            char_bytes: address.bytes_per_char(),
            char_pixels: self.format.pixels_per_char(),
            pixel_bits: self.format.serialise.pixel_bits(),
        }
    }

    /// The start address a tap lets the counters have.
    #[must_use]
    pub fn latched<T: Tap + Clone>(&self, tap: &T, frame: u64) -> u32 {
        if !tap.stages().has(Stages::LATCH) {
            return self.start;
        }
        tap.clone().latch(&LatchMoment { dot: 0, frame, start: self.start, shown: self.start, since_write: None })
    }

    /// The plan of the frame under a tap.
    #[must_use]
    pub fn plan<T: Tap + Clone>(&self, tap: &T) -> Plan {
        let mut plan = Plan::default();
        self.plan_into(tap, &mut plan);
        plan
    }

    /// The plan of the frame, written over `plan`, whose memory is reused.
    pub fn plan_into<T: Tap + Clone>(&self, tap: &T, plan: &mut Plan) {
        plan.lines.clear();
        plan.spans.clear();
        let start = self.latched(tap, 0);
        for index in 0..self.picture_lines() {
            let line = self.line(0, start, index);
            let first_span = plan.spans.len() as u32;
            let stages = fetch::stages_on(tap, &line);
            fetch::spans(tap, &line, stages, 0, line.bytes, |span| plan.spans.push(span));
            let spans = plan.spans.len() as u32 - first_span;
            plan.lines.push(PlanLine { line, first_span, spans });
        }
    }
}
