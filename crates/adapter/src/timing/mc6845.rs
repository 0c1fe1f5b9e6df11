//! The 6845 rule: rows of scan lines, pulses with counters of their own.

use serde::{Deserialize, Serialize};

use super::{PulseEnd, RowTiming, StartLoad, Timing, Vertical};

/// The fields of the rule, in the order in which [`timing`] takes them.
pub(crate) const FIELDS: [&str; 10] = [
    "horizontal_total",
    "displayed",
    "sync_position",
    "sync_width",
    "vertical_total",
    "vertical_adjust",
    "vertical_displayed",
    "vertical_sync_position",
    "max_scan_line",
    "start_address",
];

/// Read where the rule takes the length of vertical sync from a field.
pub(crate) const OPTIONAL: [(&str, u32); 1] = [("vertical_sync_width", 0)];

/// Values of the 8-bit horizontal counter (MC6845 CRT Controller data sheet).
const CHAR_VALUES: u16 = 256;

/// Bits of the row counter of the MC6845 (MC6845 CRT Controller data sheet).
pub(crate) fn row_counter_bits() -> u8 {
    7
}

/// What a sync width of 0 means.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum SyncWidthZero {
    /// Sixteen character clocks.
    Sixteen,
    /// No pulse.
    NoPulse,
}

/// How long vertical sync lasts.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum VerticalSync {
    /// Always this many scan lines.
    Lines(u8),
    /// As many scan lines as a field says; 0 stands for 16.
    Field,
}

/// What differs among boards and makers of the controller.
pub(super) struct Mc6845Board {
    pub start_load: StartLoad,
    pub sync_width_zero: SyncWidthZero,
    pub vertical_sync: VerticalSync,
    pub blank_before_sync: u16,
    pub blank_after_sync: u16,
    pub blank_lines_after_sync: u8,
    pub row_values: u16,
    pub frozen_below: u32,
}

/// Comparands of the 6845 rule.
pub(super) fn timing(board: &Mc6845Board, quantities: &[u32]) -> Timing {
    let quantity = |at: usize| quantities.get(at).copied().unwrap_or(0);
    let [total, displayed, sync_start, width, rows, adjust, shown, sync_row, scan] = std::array::from_fn(quantity);
    let sync_width = match (width, board.sync_width_zero) {
        (0, SyncWidthZero::Sixteen) => 16,
        (width, _) => width as u16,
    };
    let sync_lines = match (board.vertical_sync, quantity(FIELDS.len())) {
        (VerticalSync::Lines(lines), _) => lines,
        (VerticalSync::Field, 0) => 16,
        (VerticalSync::Field, lines) => lines as u8,
    };
    Timing {
        last_char: (total.saturating_sub(1) as u16).min(CHAR_VALUES - 1),
        char_values: CHAR_VALUES,
        displayed: displayed as u16,
        sync_start: sync_start as u16,
        sync_width,
        blank_start: (sync_start as u16).saturating_sub(board.blank_before_sync),
        blank_width: board.blank_before_sync + sync_width + board.blank_after_sync,
        pulse_end: PulseEnd::Counted,
        last_scan: scan.saturating_sub(1) as u8 & 31,
        vertical: Vertical::Rows(RowTiming {
            last_row: rows.saturating_sub(1).min(255) as u8,
            row_values: board.row_values,
            adjust: adjust as u8 & 31,
            rows_displayed: shown as u8,
            sync_row: sync_row as u8,
            sync_lines,
            blank_lines: sync_lines.saturating_add(board.blank_lines_after_sync),
            frozen: total < board.frozen_below,
        }),
        start_load: board.start_load,
    }
}
