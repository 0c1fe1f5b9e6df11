//! The counters of the MC6845 data sheet, one character clock at a time.

use backporch_adapter::{RowTiming, Timing, Vertical};

use super::{Ended, Outputs, StepperPosition};

/// Counters, latches and flip-flops of the controller.
#[derive(Clone, Debug)]
pub(super) struct Mc6845 {
    /// Horizontal counter, 8 bits.
    horizontal: u8,
    /// Scan-line counter, 5 bits.
    scan: u8,
    /// Character-row counter.
    row: u16,
    /// Counter of the vertical adjust, running.
    adjust: Option<u8>,
    /// Horizontal sync width counter: clocks to come.
    sync_width: u16,
    /// The board's blanking around horizontal sync: clocks to come.
    blank_width: u16,
    /// Vertical sync width counter: lines to come.
    sync_lines: u8,
    /// The board's blanking after vertical sync: lines to come.
    blank_lines: u8,
    /// Display enable, along the line and down the frame.
    horizontal_enable: bool,
    down: bool,
    /// Linear address generator: running, at this row's start, at the next one's.
    address: u32,
    row_start: u32,
    next_row: u32,
    first_clock: bool,
}

impl Mc6845 {
    pub fn new(timing: &Timing) -> Self {
        let mut controller = Self {
            horizontal: 0,
            scan: 0,
            row: 0,
            adjust: None,
            sync_width: 0,
            blank_width: 0,
            sync_lines: 0,
            blank_lines: 0,
            horizontal_enable: false,
            down: true,
            address: 0,
            row_start: 0,
            next_row: 0,
            first_clock: true,
        };
        if let Vertical::Rows(rows) = &timing.vertical {
            controller.begin_line(rows);
        }
        controller
    }

    /// The start address goes into the generator.
    pub fn restart(&mut self, start: u32) {
        self.address = start;
        self.row_start = start;
        self.next_row = start;
    }

    /// The comparators, at this character clock.
    pub fn compare(&mut self, timing: &Timing, units_per_char: u32) -> Outputs {
        if !self.first_clock {
            self.address = self.address.wrapping_add(units_per_char);
        }
        self.first_clock = false;
        let horizontal = u16::from(self.horizontal);
        if horizontal == 0 {
            self.horizontal_enable = true;
        }
        if horizontal == timing.displayed {
            self.horizontal_enable = false;
            if self.scan == timing.last_scan {
                self.next_row = self.address;
            }
        }
        if horizontal == timing.blank_start && timing.blank_width > 0 {
            self.blank_width = timing.blank_width;
        }
        if horizontal == timing.sync_start && timing.sync_width > 0 {
            self.sync_width = timing.sync_width;
        }
        Outputs {
            display: self.horizontal_enable && self.down,
            horizontal_sync: self.sync_width > 0,
            vertical_sync: self.sync_lines > 0,
            blank: self.blank_width > 0 || self.blank_lines > 0,
        }
    }

    /// The character clock's edge.
    pub fn clock(&mut self, timing: &Timing) -> Option<Ended> {
        self.sync_width = self.sync_width.saturating_sub(1);
        self.blank_width = self.blank_width.saturating_sub(1);
        let end = u16::from(self.horizontal) == timing.last_char;
        self.horizontal = if end { 0 } else { self.horizontal.wrapping_add(1) };
        match &timing.vertical {
            Vertical::Rows(rows) if end => Some(self.end_line(timing.last_scan, rows)),
            _ => None,
        }
    }

    /// Nothing but the address is counted from a cut.
    pub fn begin_cut_line(&mut self) {
        self.address = self.row_start;
        self.first_clock = true;
    }

    fn end_line(&mut self, last_scan: u8, timing: &RowTiming) -> Ended {
        let mut ended = Ended { vertical_sync_end: self.sync_lines == 1, ..Ended::default() };
        self.sync_lines = self.sync_lines.saturating_sub(1);
        self.blank_lines = self.blank_lines.saturating_sub(1);
        self.first_clock = true;
        if timing.frozen {
            self.address = self.row_start;
            return ended;
        }
        let row_ends = self.scan == last_scan;
        if let Some(count) = self.adjust {
            let count = (count + 1) & 31;
            self.adjust = Some(count);
            self.scan = (self.scan + 1) & 31;
            ended.frame = count == timing.adjust;
        } else if !row_ends {
            self.scan = (self.scan + 1) & 31;
        } else if self.row == u16::from(timing.last_row) && timing.adjust == 0 {
            ended.frame = true;
        } else {
            if self.row == u16::from(timing.last_row) {
                self.adjust = Some(0);
            }
            self.row = (self.row + 1) % timing.row_values;
            self.scan = 0;
            self.row_start = self.next_row;
        }
        if ended.frame {
            self.adjust = None;
            self.row = 0;
            self.scan = 0;
            self.row_start = self.next_row;
            self.down = true;
        }
        self.address = self.row_start;
        ended.vertical_sync = self.begin_line(timing);
        ended
    }

    /// The vertical comparators, at a line's start.
    fn begin_line(&mut self, timing: &RowTiming) -> bool {
        if self.scan != 0 {
            return false;
        }
        if self.row == u16::from(timing.rows_displayed) {
            self.down = false;
        }
        let sync = self.row == u16::from(timing.sync_row);
        if sync {
            self.sync_lines = timing.sync_lines;
            self.blank_lines = timing.blank_lines;
        }
        sync
    }

    pub fn place(&self) -> StepperPosition {
        StepperPosition {
            row: u32::from(self.row),
            scan: self.scan,
            row_start: self.row_start,
            first_row: self.row == 0 && self.adjust.is_none(),
            below_split: false,
            new_row: self.scan == 0,
            new_scan: true,
        }
    }
}
