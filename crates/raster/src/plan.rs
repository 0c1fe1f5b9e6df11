//! Plans: which bytes a quiet frame fetches, without a pixel being drawn.
//!
//! A frame is quiet while no register changes in it. Then every row begins one
//! pitch after the one before, and a plan is a few additions a line: searching
//! millions of register settings costs no more than that.

use backporch_adapter::{Adapter, Format, LineTiming, Registers, Shown, Timing, Vertical};

use crate::fetch;
use crate::line::{Line, LinePosition, pitch};
use crate::line_source::LineSource;
use crate::span::Span;
use crate::stages::Stages;
use crate::tap::{LatchMoment, LineEffects, Tap};

/// Values of the 5-bit row-scan counter.
const SCANS: u32 = 32;

/// Scan lines of a frame that are counted from one start.
#[derive(Clone, Copy, Debug)]
struct Part {
    /// Its first scan line.
    first: u32,
    /// Scan line of the row at which it begins.
    preset: u8,
    picture_lines: u32,
}

/// The scan lines of a quiet frame, counted without running through them.
struct Scans<'a> {
    timing: &'a Timing,
    uses_row_address: bool,
}

impl Scans<'_> {
    /// Scan lines that show memory.
    fn scan_lines(&self) -> u32 {
        match &self.timing.vertical {
            Vertical::Rows(rows) => {
                let shown = u32::from(rows.rows_displayed).min(u32::from(rows.last_row) + 1);
                shown * self.timing.lines_per_row()
            }
            Vertical::Lines(lines) => u32::from(lines.lines_displayed).min(u32::from(lines.last_line) + 1),
        }
    }

    /// The frame's parts: above the line compare, and below it where there is one.
    fn parts(&self) -> [Part; 2] {
        let shown = self.scan_lines();
        let (above, preset) = match &self.timing.vertical {
            Vertical::Rows(_) => (shown, 0),
            Vertical::Lines(LineTiming { line_compare, preset_scan, .. }) => {
                (shown.min(u32::from(*line_compare) + 1), *preset_scan)
            }
        };
        [self.part(0, above, preset), self.part(above, shown - above, 0)]
    }

    fn part(&self, first: u32, lines: u32, preset: u8) -> Part {
        let mut part = Part { first, preset, picture_lines: 0 };
        if let Some(last) = lines.checked_sub(1) {
            let (row, _) = self.row_and_scan(&part, last);
            part.picture_lines = 1 + if self.uses_row_address { self.steps(last) } else { row };
        }
        part
    }

    /// Moves of the row-scan counter in `lines` scan lines of a part.
    fn steps(&self, lines: u32) -> u32 {
        lines / self.timing.lines_per_scan()
    }

    /// Moves of the row-scan counter in the first row of a part: a counter that
    /// begins above its last value runs on to its end first.
    fn first_row(&self, part: &Part) -> u32 {
        (u32::from(self.timing.last_scan) + SCANS - u32::from(part.preset)) % SCANS + 1
    }

    /// Row and scan line of the row, `line` scan lines into a part.
    fn row_and_scan(&self, part: &Part, line: u32) -> (u32, u8) {
        let rows = u32::from(self.timing.last_scan) + 1;
        let steps = self.steps(line);
        let first_row = self.first_row(part);
        match steps.checked_sub(first_row) {
            None => (0, ((u32::from(part.preset) + steps) % SCANS) as u8),
            Some(rest) => (1 + rest / rows, (rest % rows) as u8),
        }
    }

    /// First scan line, row and scan line of the row of a picture line of a part.
    fn place(&self, part: &Part, index: u32) -> (u32, u32, u8) {
        let steps = match (self.uses_row_address, index) {
            (true, index) => index,
            (false, 0) => 0,
            (false, index) => self.first_row(part) + (index - 1) * (u32::from(self.timing.last_scan) + 1),
        };
        let line = steps * self.timing.lines_per_scan();
        let (row, scan) = self.row_and_scan(part, line);
        (part.first + line, row, scan)
    }
}

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

/// A line drawn: what it was fetched from, and its pixel values.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct DrawnLine {
    /// Left to right.
    pub spans: Vec<Span>,
    /// Left to right.
    pub values: Vec<u8>,
    scratch: Vec<u8>,
}

/// Where a picture line stands in its frame.
#[derive(Clone, Copy, Debug)]
struct PlanPosition {
    scan_line: u32,
    row: u32,
    scan: u8,
    below_split: bool,
}

/// What a quiet frame depends on: the registers, decoded once.
#[derive(Clone, Debug)]
pub struct QuietFrame {
    timing: Timing,
    shown: Shown,
    format: Format,
    start: u32,
    /// Above the line compare, and below it where there is one.
    parts: [Part; 2],
}

impl QuietFrame {
    /// Decodes registers; a tap may change the comparands.
    #[must_use]
    pub fn new<T: Tap>(adapter: &Adapter, registers: &Registers, tap: &T) -> Self {
        let mut timing = adapter.timing(registers);
        if tap.stages().contains(Stages::SYNC) {
            tap.timing(&mut timing);
        }
        let shown = adapter.shown(registers);
        let scans = Scans { timing: &timing, uses_row_address: shown.uses_row_address };
        Self {
            parts: scans.parts(),
            timing,
            shown,
            format: adapter.format(shown.format as usize).clone(),
            start: adapter.get(registers, adapter.start_address()),
        }
    }

    /// The same frame at another start address, in address units.
    #[must_use]
    pub fn at(&self, start: u32) -> Self {
        Self { start, ..self.clone() }
    }

    /// Moves the frame to another start address, in address units.
    pub fn set_start(&mut self, start: u32) {
        self.start = start;
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

    /// How memory is shown.
    #[must_use]
    pub fn shown(&self) -> &Shown {
        &self.shown
    }

    /// Picture lines of the frame.
    #[must_use]
    pub fn picture_lines(&self) -> u32 {
        self.parts.iter().map(|part| part.picture_lines).sum()
    }

    /// How picture line `index` is fetched in frame `frame`.
    ///
    /// `start` is the start address the counters were given.
    #[must_use]
    pub fn line(&self, frame: u64, start: u32, index: u32) -> Line {
        let PlanPosition { scan_line, row, scan, below_split } = self.place(index);
        let address = &self.shown.addressing;
        let down = row.wrapping_mul(pitch(&self.timing, address));
        let place = LinePosition {
            frame,
            scan_line,
            picture_line: index,
            row,
            row_address: scan,
            start,
            linear: self.part_start(start, below_split).wrapping_mul(address.unit).wrapping_add(down),
            below_split,
        };
        Line::at(place, &self.timing, &self.shown)
    }

    /// How the line of this frame that is fetched as `line` says is fetched under another start address.
    #[must_use]
    pub fn line_from(&self, line: &Line, start: u32) -> Line {
        if line.picture_line >= self.parts[0].picture_lines {
            return Line { start, ..*line };
        }
        let moved = start.wrapping_sub(line.start).wrapping_mul(line.unit);
        Line { start, linear: line.linear.wrapping_add(moved) & line.mask, ..*line }
    }

    fn place(&self, index: u32) -> PlanPosition {
        let [above, below] = self.parts;
        let below_split = index >= above.picture_lines && below.picture_lines > 0;
        let (part, index) = if below_split { (below, index - above.picture_lines) } else { (above, index) };
        let scans = Scans { timing: &self.timing, uses_row_address: self.shown.uses_row_address };
        let (scan_line, row, scan) = scans.place(&part, index);
        PlanPosition { scan_line, row, scan, below_split }
    }

    /// Address counter at the first row of a part, in address units.
    fn part_start(&self, start: u32, below_split: bool) -> u32 {
        match (&self.timing.vertical, below_split) {
            (_, true) => 0,
            (Vertical::Rows(_), false) => start,
            (Vertical::Lines(lines), false) => start.wrapping_add(u32::from(lines.byte_pan)),
        }
    }

    /// Draws a line of this frame from `memory`, over `drawn`; `effects` is what of the tap acts on it.
    pub fn draw_line<T: Tap>(&self, tap: &T, line: &Line, effects: &LineEffects, memory: &[u8], drawn: &mut DrawnLine) {
        let PlanPosition { row, below_split, .. } = self.place(line.picture_line);
        let pitch_units = pitch(&self.timing, &self.shown.addressing) / self.shown.addressing.unit.max(1);
        let row_start = self.part_start(line.start, below_split).wrapping_add(row.wrapping_mul(pitch_units));
        let source = LineSource { tap, shown: &self.shown, line, effects, memory, row_start, snow: None };
        let DrawnLine { spans, values, scratch } = drawn;
        spans.clear();
        values.clear();
        source.draw(0, line.bytes / line.char_bytes.max(1), scratch, values, |row| spans.extend(row.spans()));
    }

    /// The start address a tap lets the counters have.
    #[must_use]
    pub fn latched<T: Tap + Clone>(&self, tap: &T, frame: u64) -> u32 {
        if !tap.stages().contains(Stages::LATCH) {
            return self.start;
        }
        tap.would_latch(&LatchMoment { dot: 0, frame, start: self.start, shown: self.start, since_write: None })
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
            let effects = fetch::line_effects(tap, &line);
            fetch::spans(tap, &line, &effects, 0, line.fetched(), |row| plan.spans.extend(row.spans()));
            let spans = plan.spans.len() as u32 - first_span;
            plan.lines.push(PlanLine { line, first_span, spans });
        }
    }
}
