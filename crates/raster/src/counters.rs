//! The controller's counters, moved by stretches of equal state.
//!
//! The counters follow the MC6845 data sheet: a horizontal counter compared
//! for equality with displayed, sync position and total; a scan-line and a row
//! counter that move at line ends; an address counter that runs along the line
//! and whose value at the end of display, on the last scan line of a row,
//! becomes the start of the next row.
//!
//! [`Counters::stretch`] first meets the comparisons that hold at this
//! character clock, then says for how many character clocks nothing changes;
//! [`Counters::advance`] moves on. A stretch of one, repeated, is the data
//! sheet's own description.

use backporch_adapter::Timing;

/// Number of values of the 8-bit horizontal counter.
const HORIZONTAL: u16 = 256;
/// Values of the 7- or 8-bit row counter.
const ROWS: u16 = 256;
/// Values of the 5-bit scan-line counter.
const SCANS: u8 = 32;

/// Character-clock state of the controller.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Counters {
    /// Horizontal counter, 0 to 255.
    pub char: u16,
    /// Character clocks since the line began (equals `char` until the counter
    /// runs past its total).
    pub along: u32,
    /// Scan line of the row.
    pub scan: u8,
    /// Character row.
    pub row: u16,
    /// Adjust lines done, once the last row is over.
    pub adjusting: Option<u8>,
    /// Character clocks of horizontal sync to come.
    pub sync_left: u16,
    /// Character clocks of horizontal blanking to come.
    pub blank_left: u16,
    /// Scan lines of vertical sync to come, this one included.
    pub sync_lines_left: u8,
    /// Scan lines of vertical blanking to come, this one included.
    pub blank_lines_left: u8,
    /// Between the start of the line and the end of display.
    pub across: bool,
    /// Between the first row and the last one displayed.
    pub down: bool,
    /// Address counter at the start of this row, in address units.
    pub row_start: u32,
    /// Address counter at the start of the next row.
    pub next_row: u32,
}

/// What a line's end brought.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct LineEnd {
    /// A new frame begins.
    pub frame: bool,
    /// Vertical sync begins.
    pub vertical_sync: bool,
}

impl Counters {
    /// At the first character clock of a frame.
    #[must_use]
    pub fn at_frame_start(start: u32, timing: &Timing) -> Self {
        Self {
            char: 0,
            along: 0,
            scan: 0,
            row: 0,
            adjusting: None,
            sync_left: 0,
            blank_left: 0,
            sync_lines_left: if timing.sync_row == 0 { timing.sync_lines } else { 0 },
            blank_lines_left: if timing.sync_row == 0 { timing.blank_lines } else { 0 },
            across: false,
            down: timing.rows_displayed != 0,
            row_start: start,
            next_row: start,
        }
    }

    /// Meets the comparisons that hold at this character clock and gives the
    /// number of character clocks, at most `most`, for which the state stays.
    pub fn stretch(&mut self, timing: &Timing, units_per_char: u32, most: u32) -> u32 {
        self.arrive(timing, units_per_char);
        let ahead = |point: u16| match (point + HORIZONTAL - self.char) % HORIZONTAL {
            0 => HORIZONTAL,
            distance => distance,
        };
        let left = |count: u16| if count == 0 { HORIZONTAL } else { count };
        let point = |at: u16| if at < HORIZONTAL { ahead(at) } else { HORIZONTAL };
        let to_end = (timing.last_char + HORIZONTAL - self.char) % HORIZONTAL + 1;
        let stays = to_end
            .min(ahead(0))
            .min(point(timing.displayed))
            .min(point(timing.sync_start))
            .min(point(timing.blank_start))
            .min(left(self.sync_left))
            .min(left(self.blank_left));
        u32::from(stays).min(most)
    }

    fn arrive(&mut self, timing: &Timing, units_per_char: u32) {
        if self.char == 0 {
            self.across = true;
        }
        if self.char == timing.displayed {
            self.across = false;
            if self.scan == timing.last_scan {
                self.next_row = self.row_start.wrapping_add(self.along * units_per_char);
            }
        }
        if self.char == timing.blank_start {
            self.blank_left = timing.blank_width;
        }
        if self.char == timing.sync_start {
            self.sync_left = timing.sync_width;
        }
    }

    /// Moves `count` character clocks on, as far as [`Counters::stretch`] said
    /// at most. Answers where that ended the line.
    pub fn advance(&mut self, timing: &Timing, count: u32) -> Option<LineEnd> {
        let last = (u32::from(self.char) + count.saturating_sub(1)) % u32::from(HORIZONTAL);
        let count16 = count as u16;
        self.sync_left = self.sync_left.saturating_sub(count16);
        self.blank_left = self.blank_left.saturating_sub(count16);
        self.along += count;
        self.char = ((last + 1) % u32::from(HORIZONTAL)) as u16;
        (last == u32::from(timing.last_char)).then(|| self.end_line(timing))
    }

    pub(crate) fn end_line(&mut self, timing: &Timing) -> LineEnd {
        let mut end = LineEnd::default();
        self.char = 0;
        self.along = 0;
        self.sync_lines_left = self.sync_lines_left.saturating_sub(1);
        self.blank_lines_left = self.blank_lines_left.saturating_sub(1);

        let row_over = self.scan == timing.last_scan;
        match self.adjusting {
            Some(done) if done + 1 >= timing.adjust => end.frame = true,
            Some(done) => {
                self.adjusting = Some(done + 1);
                self.scan = (self.scan + 1) % SCANS;
            }
            None if !row_over => self.scan = (self.scan + 1) % SCANS,
            None if self.row != u16::from(timing.last_row) => self.begin_row((self.row + 1) % ROWS),
            None if timing.adjust == 0 => end.frame = true,
            None => {
                self.begin_row((self.row + 1) % ROWS);
                self.adjusting = Some(0);
            }
        }
        if end.frame {
            self.adjusting = None;
            self.begin_row(0);
            self.down = true;
        }
        if self.row == u16::from(timing.rows_displayed) && self.scan == 0 {
            self.down = false;
        }
        if self.row == u16::from(timing.sync_row) && self.scan == 0 {
            end.vertical_sync = true;
            self.sync_lines_left = timing.sync_lines;
            self.blank_lines_left = timing.blank_lines;
        }
        end
    }

    fn begin_row(&mut self, row: u16) {
        self.row = row;
        self.scan = 0;
        self.row_start = self.next_row;
    }

    /// Whether this character clock shows memory.
    #[must_use]
    pub fn shows(&self) -> bool {
        self.across && self.down
    }

    /// Whether horizontal or vertical sync is on.
    #[must_use]
    pub fn in_sync(&self) -> bool {
        self.sync_left > 0 || self.sync_lines_left > 0
    }

    /// Whether horizontal or vertical blanking is on.
    #[must_use]
    pub fn in_blanking(&self) -> bool {
        self.blank_left > 0 || self.blank_lines_left > 0
    }
}
