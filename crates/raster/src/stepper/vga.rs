//! The counters of the EGA and VGA controllers, one character clock at a time
//! (VGA register documentation).

use backporch_adapter::{LineTiming, Pitch, PulseEnd, Timing, Vertical};

use super::{Ended, Outputs, StepperPosition};

/// Counters and flip-flops of the controller.
#[derive(Clone, Debug)]
pub(super) struct Vga {
    /// Character counter.
    horizontal: u16,
    /// Line counter.
    line: u16,
    /// Row-scan counter, 5 bits.
    scan: u8,
    /// Divides the row-scan counter's clock by two.
    odd: bool,
    /// Rows since the frame or the lower part began.
    row: u32,
    below_split: bool,
    new_row: bool,
    new_scan: bool,
    horizontal_retrace: bool,
    horizontal_blank: bool,
    vertical_retrace: bool,
    vertical_blank: bool,
    horizontal_enable: bool,
    down: bool,
    row_start: u32,
}

impl Vga {
    pub fn new(timing: &Timing) -> Self {
        let mut controller = Self {
            horizontal: 0,
            line: 0,
            scan: 0,
            odd: false,
            row: 0,
            below_split: false,
            new_row: true,
            new_scan: true,
            horizontal_retrace: false,
            horizontal_blank: false,
            vertical_retrace: false,
            vertical_blank: false,
            horizontal_enable: false,
            down: true,
            row_start: 0,
        };
        if let Vertical::Lines(lines) = &timing.vertical {
            controller.scan = lines.preset_scan;
            controller.begin_line(lines);
        }
        controller
    }

    /// The start address, byte panning added, goes into the address counter.
    pub fn restart(&mut self, start: u32, timing: &Timing) {
        if let Vertical::Lines(lines) = &timing.vertical {
            self.row_start = start.wrapping_add(u32::from(lines.byte_pan));
        }
    }

    /// The comparators, at this character clock.
    pub fn compare(&mut self, timing: &Timing) -> Outputs {
        let PulseEnd::LowBits { sync, blank, first_compares_as } = timing.pulse_end else {
            return Outputs::default();
        };
        let now = self.horizontal;
        if now == 0 {
            self.horizontal_enable = true;
        }
        if now == timing.displayed {
            self.horizontal_enable = false;
        }
        // The pulses' comparators may take the first character clock for the second.
        let now = if now == 0 { first_compares_as } else { now };
        let meets = |bits: u16, at: u16| now & bits == at & bits;
        if meets(blank, timing.blank_start.wrapping_add(timing.blank_width)) {
            self.horizontal_blank = false;
        }
        if now == timing.blank_start && timing.blank_width > 0 {
            self.horizontal_blank = true;
        }
        if meets(sync, timing.sync_start.wrapping_add(timing.sync_width)) {
            self.horizontal_retrace = false;
        }
        if now == timing.sync_start && timing.sync_width > 0 {
            self.horizontal_retrace = true;
        }
        Outputs {
            display: self.horizontal_enable && self.down,
            horizontal_sync: self.horizontal_retrace,
            vertical_sync: self.vertical_retrace,
            blank: self.horizontal_blank || self.vertical_blank,
        }
    }

    /// The character clock's edge.
    pub fn clock(&mut self, timing: &Timing) -> Option<Ended> {
        let end = self.horizontal == timing.last_char;
        self.horizontal = if end { 0 } else { (self.horizontal + 1) % timing.char_values };
        match &timing.vertical {
            Vertical::Lines(lines) if end => Some(self.end_line(timing, lines)),
            _ => None,
        }
    }

    fn end_line(&mut self, whole: &Timing, timing: &LineTiming) -> Ended {
        let was_in_retrace = self.vertical_retrace;
        let finished = self.line;
        let frame = finished == timing.last_line;
        self.line = (finished + 1) % timing.line_values;
        (self.new_row, self.new_scan) = (false, false);
        if frame {
            self.line = 0;
            self.below_split = false;
            self.down = true;
            self.begin_part(timing.preset_scan);
        } else if finished == timing.line_compare {
            self.below_split = true;
            self.row_start = 0;
            self.begin_part(0);
        } else if timing.double_scan && !self.odd {
            self.odd = true;
        } else {
            self.odd = false;
            self.new_scan = true;
            if self.scan == whole.last_scan {
                self.scan = 0;
                self.row += 1;
                let further = match timing.pitch {
                    Pitch::Units(units) => units,
                    Pitch::PerCharacter(units) => units * u32::from(whole.displayed),
                };
                self.row_start = self.row_start.wrapping_add(further);
                self.new_row = true;
            } else {
                self.scan = (self.scan + 1) & 31;
            }
        }
        let vertical_sync = self.begin_line(timing);
        Ended { frame, vertical_sync, vertical_sync_end: was_in_retrace && !self.vertical_retrace }
    }

    fn begin_part(&mut self, scan: u8) {
        self.scan = scan;
        self.row = 0;
        self.odd = false;
        self.new_row = true;
        self.new_scan = true;
    }

    /// The vertical comparators, at a line's start.
    fn begin_line(&mut self, timing: &LineTiming) -> bool {
        let line = self.line;
        let meets = |bits: u16, at: u16| line & bits == at & bits;
        if line == timing.lines_displayed {
            self.down = false;
        }
        if meets(timing.blank_bits, timing.blank_line.wrapping_add(timing.blank_lines)) {
            self.vertical_blank = false;
        }
        if line == timing.blank_line {
            self.vertical_blank = true;
        }
        if meets(timing.sync_bits, timing.sync_line.wrapping_add(timing.sync_lines)) {
            self.vertical_retrace = false;
        }
        if line == timing.sync_line {
            self.vertical_retrace = timing.sync_on;
        }
        line == timing.sync_line
    }

    pub fn place(&self) -> StepperPosition {
        StepperPosition {
            row: self.row,
            scan: self.scan,
            row_start: self.row_start,
            first_row: self.row == 0 && !self.below_split,
            below_split: self.below_split,
            new_row: self.new_row,
            new_scan: self.new_scan,
        }
    }
}
