//! Fields: what a monitor shows from one vertical sync to the next.
//!
//! A routine may restart the controller several times before vertical sync is due, to split the screen or to show any
//! memory row on any line. The monitor sees one picture: it goes back to the top at vertical sync alone. A frame of the
//! [board](crate::Board) is therefore a field, and ends with the first restart of the counters after vertical sync.
//! Where no sync comes, each run of the counters is a frame by itself, as a monitor that rolls would show it.

use backporch_adapter::{Timing, Vertical};

/// Scan lines a monitor waits for vertical sync before its picture rolls (common practice: at 31.5 kHz these are 31 Hz,
/// below every monitor of the time).
const MOST_LINES: u32 = 1024;

/// The field under way.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(crate) struct FieldProgress {
    /// Whether vertical sync came in the field before, so that the next one is waited for.
    locked: bool,
    /// Whether vertical sync has begun in this one.
    synced: bool,
    /// Scan lines of it before the counters last restarted.
    before_restart: u32,
}

impl FieldProgress {
    /// The first field of a board.
    pub fn first(timing: &Timing) -> Self {
        Self { locked: meets_sync(timing), ..Self::default() }
    }

    /// The counters restart after this many scan lines of the field: whether it goes on all the same.
    pub fn goes_on(&mut self, lines: u32) -> bool {
        let goes_on = self.locked && !self.synced && lines < MOST_LINES;
        if goes_on {
            self.before_restart = lines;
        }
        goes_on
    }

    /// Vertical sync begins.
    pub fn sync(&mut self) {
        self.synced = true;
    }

    /// The next field begins.
    pub fn end(&mut self) {
        *self = Self { locked: self.synced, ..Self::default() };
    }

    /// Scan lines since the counters restarted, after this many of the field.
    pub fn since_restart(&self, lines: u32) -> u32 {
        lines - self.before_restart
    }
}

/// Whether the counters meet vertical sync before they restart.
fn meets_sync(timing: &Timing) -> bool {
    match &timing.vertical {
        Vertical::Rows(rows) => {
            // The adjust lines stand where one row more would.
            let adjust_row = (u16::from(rows.last_row) + 1) % rows.row_values;
            let met = rows.sync_row <= rows.last_row || (rows.adjust > 0 && u16::from(rows.sync_row) == adjust_row);
            met && rows.sync_lines > 0
        }
        Vertical::Lines(lines) => lines.sync_lines > 0 && lines.sync_line <= lines.last_line,
    }
}
