//! Whole lines drawn once and drawn again: where a scan line begins as an
//! earlier one did, under the same registers, its stretches are the same.

use backporch_adapter::Timing;

use crate::counters::Counters;
use crate::frame::Segment;

/// What decides how a whole line is cut into stretches, beside the registers.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct LineStart {
    /// Character clocks of horizontal sync and blanking left over from the line before.
    left: (u16, u16),
    vertical_sync: bool,
    vertical_blanking: bool,
    down: bool,
}

impl LineStart {
    /// Of the counters at the first character clock of a line.
    pub fn of(counters: &Counters) -> Self {
        Self {
            left: (counters.sync_left, counters.blank_left),
            vertical_sync: counters.sync_lines_left > 0,
            vertical_blanking: counters.blank_lines_left > 0,
            down: counters.down,
        }
    }
}

/// A whole line, drawn without a write in between.
#[derive(Clone, Debug)]
pub(crate) struct LineTemplate {
    pub begins: LineStart,
    /// Its segments; the values of active ones are another line's.
    pub segments: Vec<Segment>,
    /// Dots of the line.
    pub dots: u32,
    /// Character clocks of horizontal sync and blanking left over at its end.
    pub ends: (u16, u16),
}

/// The whole lines drawn since registers last changed.
#[derive(Clone, Debug, Default)]
pub(crate) struct Templates {
    writes: u64,
    known: Vec<LineTemplate>,
}

/// Kinds of line kept: shown, border, vertical sync, vertical blanking, and
/// the first of each after a change.
const MOST: usize = 8;

impl Templates {
    /// The template of a line that begins so, if it was drawn since the last write.
    pub fn find(&self, writes: u64, begins: &LineStart) -> Option<&LineTemplate> {
        if self.writes != writes {
            return None;
        }
        self.known.iter().find(|template| template.begins == *begins)
    }

    /// Keeps a line drawn under the registers of `writes`.
    pub fn keep(&mut self, writes: u64, template: LineTemplate) {
        if self.writes != writes {
            self.known.clear();
            self.writes = writes;
        }
        if self.known.len() < MOST {
            self.known.push(template);
        }
    }
}

impl Counters {
    /// Runs from the first character clock of a line to its end, as a line of
    /// the template does; only for lines whose counter does not run past its total.
    pub(crate) fn run_line(&mut self, timing: &Timing, units_per_char: u32, ends: (u16, u16)) -> crate::LineEnd {
        let meets_displayed = timing.displayed <= timing.last_char;
        if meets_displayed && self.scan == timing.last_scan {
            let shown = u32::from(timing.displayed) * units_per_char;
            self.next_row = self.row_start.wrapping_add(shown);
        }
        self.across = !meets_displayed;
        (self.sync_left, self.blank_left) = ends;
        self.end_line(timing)
    }
}
