//! The 6845 rule: rows of scan lines, pulses with counters of their own.

use serde::{Deserialize, Serialize};

use crate::reader::Reader;
use crate::role::Role;

use super::{PulseEnd, RowTiming, StartLoad, Timing, Vertical};

/// Roles of the fields of the rule.
pub(crate) const REQUIRED: [Role; 9] = [
    Role::HorizontalTotal,
    Role::HorizontalDisplayed,
    Role::HorizontalSyncStart,
    Role::HorizontalSyncWidth,
    Role::VerticalTotal,
    Role::VerticalTotalAdjust,
    Role::VerticalDisplayed,
    Role::VerticalSyncStart,
    Role::RowHeight,
];

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
pub(super) fn timing(board: &Mc6845Board, fields: Reader<'_>) -> Timing {
    let total = fields.quantity(Role::HorizontalTotal);
    let sync_start = fields.quantity(Role::HorizontalSyncStart) as u16;
    let sync_width = match (fields.quantity(Role::HorizontalSyncWidth), board.sync_width_zero) {
        (0, SyncWidthZero::Sixteen) => 16,
        (width, _) => width as u16,
    };
    let sync_lines = match board.vertical_sync {
        VerticalSync::Lines(lines) => lines,
        VerticalSync::Field => match fields.quantity(Role::VerticalSyncWidth) {
            0 => 16,
            lines => lines as u8,
        },
    };
    Timing {
        last_char: (total.saturating_sub(1) as u16).min(CHAR_VALUES - 1),
        char_values: CHAR_VALUES,
        displayed: fields.quantity(Role::HorizontalDisplayed) as u16,
        sync_start,
        sync_width,
        blank_start: sync_start.saturating_sub(board.blank_before_sync),
        blank_width: board.blank_before_sync + sync_width + board.blank_after_sync,
        pulse_end: PulseEnd::Counted,
        last_scan: fields.quantity(Role::RowHeight).saturating_sub(1) as u8 & 31,
        vertical: Vertical::Rows(RowTiming {
            last_row: fields.quantity(Role::VerticalTotal).saturating_sub(1).min(255) as u8,
            row_values: board.row_values,
            adjust: fields.quantity(Role::VerticalTotalAdjust) as u8 & 31,
            rows_displayed: fields.quantity(Role::VerticalDisplayed) as u8,
            sync_row: fields.quantity(Role::VerticalSyncStart) as u8,
            sync_lines,
            blank_lines: sync_lines.saturating_add(board.blank_lines_after_sync),
            frozen: total < board.frozen_below,
        }),
        start_load: board.start_load,
    }
}
