//! Timing rules: registers to the comparands of the controller's counters.

use serde::{Deserialize, Serialize};

/// When the controller takes the start address over.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub enum StartLoad {
    /// At the first line of a frame.
    FrameStart,
    /// At the first line of a frame and again at every scan line of the first row.
    EachLineOfFirstRow,
    /// When vertical retrace begins; shown from the next frame on.
    VerticalRetrace,
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

/// The engine rule that turns registers into timing.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub enum TimingRule {
    /// The counters of the MC6845 data sheet, with what differs by class and maker.
    Mc6845 {
        /// When the start address is taken over.
        start_load: StartLoad,
        /// Meaning of sync width 0.
        sync_width_zero: SyncWidthZero,
        /// Length of vertical sync.
        vertical_sync: VerticalSync,
        /// Character clocks the board blanks before horizontal sync.
        blank_before_sync: u8,
        /// Character clocks the board blanks after horizontal sync.
        blank_after_sync: u8,
        /// Scan lines the board blanks after vertical sync.
        blank_lines_after_sync: u8,
    },
}

impl TimingRule {
    /// Fields this rule reads: a profile must have them all.
    #[must_use]
    pub fn fields(&self) -> &'static [&'static str] {
        match self {
            Self::Mc6845 { .. } => &MC6845_FIELDS,
        }
    }
}

/// The fields of the 6845 rule, in the order [`Timing::mc6845`] takes them.
pub(crate) const MC6845_FIELDS: [&str; 10] = [
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

/// What the counters are compared with, in their own units.
///
/// All comparisons are for equality (MC6845 data sheet), so a value the
/// counter has already passed is met only after the counter has wrapped.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Timing {
    /// Last character clock of a line (the total less one), at most 255: the counter has 8 bits.
    pub last_char: u16,
    /// Character clock at which display ends.
    pub displayed: u16,
    /// Character clock at which horizontal sync begins.
    pub sync_start: u16,
    /// Character clocks of horizontal sync; 0 is no pulse.
    pub sync_width: u16,
    /// Character clock at which blanking begins.
    pub blank_start: u16,
    /// Character clocks of horizontal blanking.
    pub blank_width: u16,
    /// Last row of a frame (the total less one).
    pub last_row: u8,
    /// Scan lines added after the last row.
    pub adjust: u8,
    /// Row at which display ends.
    pub rows_displayed: u8,
    /// Row at which vertical sync begins.
    pub sync_row: u8,
    /// Scan lines of vertical sync.
    pub sync_lines: u8,
    /// Scan lines blanked from the start of vertical sync.
    pub blank_lines: u8,
    /// Last scan line of a row.
    pub last_scan: u8,
    /// When the start address is taken over.
    pub start_load: StartLoad,
}

impl Timing {
    /// Comparands of the 6845 rule from the *quantities* (stored value plus
    /// offset) of its fields, in the order of their listing, and the vertical
    /// sync field where the rule reads one.
    pub(crate) fn mc6845(rule: &TimingRule, quantity: [u32; 10], vertical_sync: u32) -> Self {
        let TimingRule::Mc6845 {
            start_load,
            sync_width_zero,
            vertical_sync: sync_rule,
            blank_before_sync,
            blank_after_sync,
            blank_lines_after_sync,
        } = *rule;
        let [total, displayed, sync_start, width, rows, adjust, shown, sync_row, scan, _] = quantity;
        let sync_width = match (width, sync_width_zero) {
            (0, SyncWidthZero::Sixteen) => 16,
            (width, _) => width as u16,
        };
        let sync_lines = match (sync_rule, vertical_sync) {
            (VerticalSync::Lines(lines), _) => lines,
            (VerticalSync::Field, 0) => 16,
            (VerticalSync::Field, lines) => lines as u8,
        };
        Self {
            last_char: (total.saturating_sub(1) as u16).min(255),
            displayed: displayed as u16,
            sync_start: sync_start as u16,
            sync_width,
            blank_start: (sync_start as u16).saturating_sub(u16::from(blank_before_sync)),
            blank_width: u16::from(blank_before_sync) + sync_width + u16::from(blank_after_sync),
            last_row: rows.saturating_sub(1) as u8,
            adjust: adjust as u8,
            rows_displayed: shown as u8,
            sync_row: sync_row as u8,
            sync_lines,
            blank_lines: sync_lines.saturating_add(blank_lines_after_sync),
            last_scan: scan.saturating_sub(1) as u8,
            start_load,
        }
    }

    /// Character clocks of a line.
    #[must_use]
    pub fn chars(&self) -> u32 {
        u32::from(self.last_char) + 1
    }

    /// Scan lines of a row.
    #[must_use]
    pub fn lines_per_row(&self) -> u32 {
        u32::from(self.last_scan) + 1
    }

    /// Scan lines of a frame.
    #[must_use]
    pub fn lines(&self) -> u32 {
        (u32::from(self.last_row) + 1) * self.lines_per_row() + u32::from(self.adjust)
    }
}
