//! VerticalCounters a frame in rows of scan lines: the 6845 (MC6845 CRT Controller data sheet).
//!
//! An address counter runs along the line; its value at the end of display, on
//! the last scan line of a row, becomes the start of the next row. After the
//! last row come the adjust lines. Comparisons are for equality: a comparand
//! below a running count is met only after the counter has wrapped.

use backporch_adapter::{RowTiming, Timing};

use super::LineEnd;

/// Values of the 5-bit scan-line counter.
const SCANS: u8 = 32;

/// Scan-line and row counters.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Rows {
    /// Scan line of the row.
    pub scan: u8,
    /// Character row.
    pub row: u16,
    /// Adjust lines done, once the last row is over.
    pub adjusting: Option<u8>,
    /// Scan lines of vertical sync to come, this one included.
    pub sync_lines_left: u8,
    /// Scan lines of vertical blanking to come, this one included.
    pub blank_lines_left: u8,
    /// Between the first row and the last one displayed.
    pub shown: bool,
    /// Address counter at the start of this row, in address units.
    pub row_start: u32,
    /// Address counter at the start of the next row.
    pub next_row: u32,
}

impl Rows {
    /// At the first scan line of a frame.
    #[must_use]
    pub fn at_frame_start(timing: &RowTiming) -> Self {
        let mut rows = Self {
            scan: 0,
            row: 0,
            adjusting: None,
            sync_lines_left: 0,
            blank_lines_left: 0,
            shown: true,
            row_start: 0,
            next_row: 0,
        };
        rows.arrive(timing);
        rows
    }

    pub(super) fn restart(&mut self, start: u32) {
        self.row_start = start;
        self.next_row = start;
    }

    /// Display ends on this scan line, `along` address units from its start.
    pub(super) fn end_display(&mut self, timing: &Timing, along: u32) {
        if self.scan == timing.last_scan {
            self.next_row = self.row_start.wrapping_add(along);
        }
    }

    pub(super) fn end_line(&mut self, last_scan: u8, timing: &RowTiming) -> LineEnd {
        let vertical_sync_end = self.sync_lines_left == 1;
        self.sync_lines_left = self.sync_lines_left.saturating_sub(1);
        self.blank_lines_left = self.blank_lines_left.saturating_sub(1);
        if timing.frozen {
            return LineEnd { vertical_sync_end, ..LineEnd::default() };
        }
        let frame = match self.adjusting {
            Some(done) if (done + 1) % SCANS == timing.adjust => true,
            Some(done) => {
                self.adjusting = Some((done + 1) % SCANS);
                self.next_scan();
                false
            }
            None if self.scan != last_scan => {
                self.next_scan();
                false
            }
            None if self.row != u16::from(timing.last_row) => {
                self.begin_row((self.row + 1) % timing.row_values);
                false
            }
            None if timing.adjust == 0 => true,
            None => {
                self.begin_row((self.row + 1) % timing.row_values);
                self.adjusting = Some(0);
                false
            }
        };
        if frame {
            self.adjusting = None;
            self.begin_row(0);
            self.shown = true;
        }
        let vertical_sync = self.arrive(timing);
        LineEnd { frame, vertical_sync, vertical_sync_end }
    }

    /// Meets the comparisons that hold at a row's first scan line; answers
    /// whether vertical sync begins.
    fn arrive(&mut self, timing: &RowTiming) -> bool {
        let row_begins = self.scan == 0;
        if row_begins && self.row == u16::from(timing.rows_displayed) {
            self.shown = false;
        }
        let sync = row_begins && self.row == u16::from(timing.sync_row);
        if sync {
            self.sync_lines_left = timing.sync_lines;
            self.blank_lines_left = timing.blank_lines;
        }
        sync
    }

    fn next_scan(&mut self) {
        self.scan = (self.scan + 1) % SCANS;
    }

    fn begin_row(&mut self, row: u16) {
        self.row = row;
        self.scan = 0;
        self.row_start = self.next_row;
    }
}
