//! VerticalCounters a frame in scan lines: the EGA and VGA controllers (VGA register
//! documentation).
//!
//! The line counter is compared for equality with the ends of display, retrace
//! and blanking; a row-scan counter beside it counts the scan lines of a row
//! and moves the address by the offset at row ends. After the line compare the
//! address and the row-scan counter restart at 0.

use backporch_adapter::{LineTiming, Timing};

use super::LineEnd;

/// Values of the 5-bit row-scan counter.
const SCANS: u8 = 32;

/// Line and row-scan counters.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Lines {
    /// Scan line of the frame.
    pub line: u16,
    /// Scan line of the row.
    pub scan: u8,
    /// Rows since the frame or the part below the line compare began.
    pub row: u32,
    /// Scan lines since the row began.
    pub since_row: u32,
    /// Scan lines since the row-scan counter moved.
    pub since_scan: u32,
    /// Vertical sync.
    pub sync: bool,
    /// Vertical blanking.
    pub blank: bool,
    /// Between the first scan line and the last one displayed.
    pub shown: bool,
    /// Whether the line compare has been met in this frame.
    pub below_split: bool,
    /// Address counter at the start of this row, in address units.
    pub row_start: u32,
}

impl Lines {
    /// At the first scan line of a frame.
    #[must_use]
    pub fn at_frame_start(timing: &LineTiming) -> Self {
        let mut lines = Self {
            line: 0,
            scan: timing.preset_scan,
            row: 0,
            since_row: 0,
            since_scan: 0,
            sync: false,
            blank: false,
            shown: true,
            below_split: false,
            row_start: 0,
        };
        lines.arrive(timing);
        lines
    }

    pub(super) fn restart(&mut self, start: u32, timing: &LineTiming) {
        self.row_start = start.wrapping_add(u32::from(timing.byte_pan));
    }

    pub(super) fn end_line(&mut self, of_line: &Timing, timing: &LineTiming) -> LineEnd {
        let was_in_sync = self.sync;
        let frame = self.line == timing.last_line;
        let split = self.line == timing.line_compare;
        self.line = if frame { 0 } else { (self.line + 1) % timing.line_values };
        match (frame, split) {
            (true, _) => {
                self.begin_part(timing.preset_scan, self.row_start);
                self.below_split = false;
                self.shown = true;
            }
            (false, true) => {
                self.begin_part(0, 0);
                self.below_split = true;
            }
            (false, false) => self.next_line(of_line, timing),
        }
        let vertical_sync = self.arrive(timing);
        LineEnd { frame, vertical_sync, vertical_sync_end: was_in_sync && !self.sync }
    }

    fn begin_part(&mut self, scan: u8, row_start: u32) {
        self.row = 0;
        self.scan = scan;
        self.since_row = 0;
        self.since_scan = 0;
        self.row_start = row_start;
    }

    fn next_line(&mut self, of_line: &Timing, timing: &LineTiming) {
        self.since_row += 1;
        self.since_scan += 1;
        if timing.double_scan && self.since_scan % 2 == 1 {
            return;
        }
        self.since_scan = 0;
        if self.scan == of_line.last_scan {
            self.scan = 0;
            self.row += 1;
            self.since_row = 0;
            self.row_start = self.row_start.wrapping_add(of_line.pitch_units().unwrap_or(0));
        } else {
            self.scan = (self.scan + 1) % SCANS;
        }
    }

    /// Meets the comparisons that hold at this scan line; answers whether
    /// vertical sync begins.
    fn arrive(&mut self, timing: &LineTiming) -> bool {
        if self.line == timing.lines_displayed {
            self.shown = false;
        }
        let ends = |start: u16, length: u16, bits: u16| start.wrapping_add(length) & bits;
        if self.line & timing.blank_bits == ends(timing.blank_line, timing.blank_lines, timing.blank_bits) {
            self.blank = false;
        }
        if self.line == timing.blank_line {
            self.blank = true;
        }
        if self.line & timing.sync_bits == ends(timing.sync_line, timing.sync_lines, timing.sync_bits) {
            self.sync = false;
        }
        let begins = self.line == timing.sync_line;
        if begins {
            self.sync = timing.sync_on;
        }
        begins
    }
}
