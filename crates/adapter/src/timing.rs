//! Timing rules: registers to the comparands of the controller's counters.
//!
//! Controllers share the way along a line and differ in the way down a frame:
//! the [6845](mc6845) counts rows of scan lines; the [EGA and VGA kind](vga) and
//! that of the [64 KiB 256-colour class](doubled_lines) count scan lines. All
//! comparisons are for equality, so a value the counter has already passed is
//! met only after it has wrapped.

pub mod doubled_lines;
pub mod mc6845;
pub mod vga;

use serde::{Deserialize, Serialize};

use crate::reader::Reader;
use crate::role::Role;
use mc6845::Mc6845Board;
pub use mc6845::{SyncWidthZero, VerticalSync};

/// When the controller takes the start address over.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub enum StartLoad {
    /// At the first line of a frame.
    FrameStart,
    /// At the first line of a frame and again at every scan line of the first row.
    EachLineOfFirstRow,
    /// When vertical retrace begins; shown from the next frame on.
    VerticalRetrace,
    /// When vertical retrace ends; shown from the next frame on.
    VerticalRetraceEnd,
    /// This many character clocks after horizontal sync begins on the line before
    /// a frame's last one; shown from the next frame on.
    LastSync {
        /// From 0 to 31.
        chars: u8,
    },
}

impl StartLoad {
    /// Whether the address counter restarts from it at the same time.
    #[must_use]
    pub fn restarts(self) -> bool {
        match self {
            Self::FrameStart | Self::EachLineOfFirstRow => true,
            Self::VerticalRetrace | Self::VerticalRetraceEnd | Self::LastSync { .. } => false,
        }
    }
}

/// A character clock of a frame.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct FramePosition {
    /// Scan line, counted from the first one displayed.
    pub line: u32,
    /// Character clock of that line.
    pub char: u32,
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
        /// Bits of the row counter, 7 or 8.
        #[serde(default = "mc6845::row_counter_bits")]
        row_counter_bits: u8,
        /// Lines of fewer character clocks than this freeze the scan-line and
        /// row counters; 0 freezes none.
        #[serde(default)]
        frozen_below: u8,
    },
    /// The controller of the EGA and VGA classes: vertical registers in scan
    /// lines, pulses that end by comparing low bits, pitch by a register.
    Vga {
        /// When the start address is taken over.
        start_load: StartLoad,
    },
    /// The controller of the 64 KiB 256-colour class: vertical registers in
    /// scan lines with bit 8 implied, doubled by the chip, a pitch that follows
    /// displayed.
    DoubledLines {
        /// When the start address is taken over.
        start_load: StartLoad,
        /// Address units by which a picture line advances for each character shown.
        pitch_units_per_char: u8,
    },
}

impl TimingRule {
    /// Roles of the fields this rule cannot do without.
    pub(crate) fn required(&self) -> impl Iterator<Item = Role> {
        let (fields, more) = match self {
            Self::Mc6845 { vertical_sync: VerticalSync::Field, .. } => {
                (&mc6845::REQUIRED[..], Some(Role::VerticalSyncWidth))
            }
            Self::Mc6845 { .. } => (&mc6845::REQUIRED[..], None),
            Self::Vga { .. } => (&vga::REQUIRED[..], None),
            Self::DoubledLines { .. } => (&doubled_lines::REQUIRED[..], None),
        };
        fields.iter().copied().chain(more)
    }

    /// Most bits a comparand of this rule has.
    pub(crate) fn comparand_bits(&self) -> u32 {
        match self {
            Self::Mc6845 { .. } | Self::DoubledLines { .. } => 8,
            Self::Vga { .. } => 11,
        }
    }

    /// Comparands under one state of the registers.
    pub(crate) fn timing(&self, fields: Reader<'_>) -> Timing {
        match *self {
            Self::Vga { start_load } => vga::timing(start_load, fields),
            Self::DoubledLines { start_load, pitch_units_per_char } => {
                doubled_lines::timing(start_load, pitch_units_per_char, fields)
            }
            Self::Mc6845 {
                start_load,
                sync_width_zero,
                vertical_sync,
                blank_before_sync,
                blank_after_sync,
                blank_lines_after_sync,
                row_counter_bits,
                frozen_below,
            } => mc6845::timing(
                &Mc6845Board {
                    start_load,
                    sync_width_zero,
                    vertical_sync,
                    blank_before_sync: blank_before_sync.into(),
                    blank_after_sync: blank_after_sync.into(),
                    blank_lines_after_sync,
                    row_values: 1 << row_counter_bits,
                    frozen_below: frozen_below.into(),
                },
                fields,
            ),
        }
    }
}

/// What the counters are compared with, in their own units.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Timing {
    /// Last character clock of a line (the total less one).
    pub last_char: u16,
    /// Values of the character counter, a power of two above `last_char`.
    pub char_values: u16,
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
    /// How horizontal sync and blanking end.
    pub pulse_end: PulseEnd,
    /// Last scan line of a row, 0 to 31.
    pub last_scan: u8,
    /// Down the frame.
    pub vertical: Vertical,
    /// When the start address is taken over.
    pub start_load: StartLoad,
}

/// How a pulse knows its end.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum PulseEnd {
    /// A counter of its own counts its length.
    Counted,
    /// It ends where the low bits of the running counter equal those of start
    /// plus length.
    LowBits {
        /// Bits compared for horizontal sync, as a mask.
        sync: u16,
        /// Bits compared for horizontal blanking, as a mask.
        blank: u16,
        /// What the comparators see in the first character clock of a line: 0,
        /// or 1 where they take it for the second one too.
        first_compares_as: u16,
    },
}

/// The way down a frame.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Vertical {
    /// In rows of scan lines.
    Rows(RowTiming),
    /// In scan lines.
    Lines(LineTiming),
}

/// Comparands of a controller that counts rows.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct RowTiming {
    /// Last row of a frame (the total less one).
    pub last_row: u8,
    /// Values of the row counter: 128 or 256.
    pub row_values: u16,
    /// Scan lines added after the last row, 0 to 31.
    pub adjust: u8,
    /// Row at which display ends.
    pub rows_displayed: u8,
    /// Row at which vertical sync begins.
    pub sync_row: u8,
    /// Scan lines of vertical sync.
    pub sync_lines: u8,
    /// Scan lines blanked from the start of vertical sync.
    pub blank_lines: u8,
    /// Whether the line is too short for the scan-line and row counters to move.
    pub frozen: bool,
}

/// Comparands of a controller that counts scan lines.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct LineTiming {
    /// Last scan line of a frame (the total less one).
    pub last_line: u16,
    /// Values of the line counter, a power of two above `last_line`.
    pub line_values: u16,
    /// Scan line at which display ends.
    pub lines_displayed: u16,
    /// Scan line at which vertical sync begins.
    pub sync_line: u16,
    /// Scan lines of vertical sync; it ends by low bits.
    pub sync_lines: u16,
    /// Bits compared for its end, as a mask.
    pub sync_bits: u16,
    /// Scan line at which vertical blanking begins.
    pub blank_line: u16,
    /// Scan lines of vertical blanking; it ends by low bits.
    pub blank_lines: u16,
    /// Bits compared for its end, as a mask.
    pub blank_bits: u16,
    /// Scan line after which the address restarts at 0.
    pub line_compare: u16,
    /// Whether every scan line of a row is shown twice.
    pub double_scan: bool,
    /// Scan line of the row at which a frame begins.
    pub preset_scan: u8,
    /// Address units a frame begins late by.
    pub byte_pan: u8,
    /// How far one row is from the next.
    pub pitch: Pitch,
    /// Whether the controller sends sync at all.
    pub sync_on: bool,
}

/// How far one row is from the next, where a controller counts scan lines.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Pitch {
    /// This many address units.
    Units(u32),
    /// This many address units for each character displayed.
    PerCharacter(u32),
}

impl Timing {
    /// Address units from one row to the next, where they do not follow from
    /// the address at the end of display.
    #[must_use]
    pub fn pitch_units(&self) -> Option<u32> {
        match &self.vertical {
            Vertical::Rows(_) => None,
            Vertical::Lines(lines) => Some(match lines.pitch {
                Pitch::Units(units) => units,
                Pitch::PerCharacter(units) => units * u32::from(self.displayed),
            }),
        }
    }

    /// Where in a frame the start address is taken over; for loads that repeat, the first.
    #[must_use]
    pub fn take_over(&self) -> FramePosition {
        let at_line = |line| FramePosition { line, char: 0 };
        match self.start_load {
            StartLoad::FrameStart | StartLoad::EachLineOfFirstRow => at_line(self.lines()),
            StartLoad::VerticalRetrace => at_line(self.sync_line()),
            StartLoad::VerticalRetraceEnd => at_line(self.sync_line() + self.sync_lines()),
            StartLoad::LastSync { chars } => {
                let place = (u32::from(self.sync_start) + u32::from(chars)).min(2 * self.chars() - 1);
                let (further, char) = (place / self.chars(), place % self.chars());
                FramePosition { line: self.lines().saturating_sub(2) + further, char }
            }
        }
    }

    /// What the comparators of horizontal pulses see at a character clock.
    #[must_use]
    pub fn compared_as(&self, char: u16) -> u16 {
        match self.pulse_end {
            PulseEnd::LowBits { first_compares_as, .. } if char == 0 => first_compares_as,
            PulseEnd::LowBits { .. } | PulseEnd::Counted => char,
        }
    }

    /// Whether a frame ever ends.
    #[must_use]
    pub fn ends_frames(&self) -> bool {
        match &self.vertical {
            Vertical::Rows(rows) => !rows.frozen,
            Vertical::Lines(lines) => lines.last_line < lines.line_values,
        }
    }

    /// Character clocks of a line.
    #[must_use]
    pub fn chars(&self) -> u32 {
        u32::from(self.last_char) + 1
    }

    /// Scan lines of a row, doubled ones counted twice.
    #[must_use]
    pub fn lines_per_row(&self) -> u32 {
        (u32::from(self.last_scan) + 1) * self.lines_per_scan()
    }

    /// Scan lines for which the row address stays: 2 where they are doubled.
    #[must_use]
    pub fn lines_per_scan(&self) -> u32 {
        match &self.vertical {
            Vertical::Lines(LineTiming { double_scan: true, .. }) => 2,
            _ => 1,
        }
    }

    /// Scan lines that one step of the vertical registers stands for.
    #[must_use]
    pub fn lines_per_vertical_step(&self) -> u32 {
        match &self.vertical {
            Vertical::Rows(_) => self.lines_per_row(),
            Vertical::Lines(_) => 1,
        }
    }

    /// Scan lines of a frame.
    #[must_use]
    pub fn lines(&self) -> u32 {
        match &self.vertical {
            Vertical::Rows(rows) => (u32::from(rows.last_row) + 1) * self.lines_per_row() + u32::from(rows.adjust),
            Vertical::Lines(lines) => u32::from(lines.last_line) + 1,
        }
    }

    /// Scan lines from the start of a frame to the end of display.
    #[must_use]
    pub fn lines_displayed(&self) -> u32 {
        match &self.vertical {
            Vertical::Rows(rows) => u32::from(rows.rows_displayed) * self.lines_per_row(),
            Vertical::Lines(lines) => u32::from(lines.lines_displayed),
        }
    }

    /// Scan line of the frame at which vertical sync begins.
    #[must_use]
    pub fn sync_line(&self) -> u32 {
        match &self.vertical {
            Vertical::Rows(rows) => u32::from(rows.sync_row) * self.lines_per_row(),
            Vertical::Lines(lines) => u32::from(lines.sync_line),
        }
    }

    /// Scan lines of vertical sync.
    #[must_use]
    pub fn sync_lines(&self) -> u32 {
        match &self.vertical {
            Vertical::Rows(rows) => u32::from(rows.sync_lines),
            Vertical::Lines(lines) => u32::from(lines.sync_lines),
        }
    }

    /// Scan line of the frame at which vertical blanking begins.
    #[must_use]
    pub fn blank_line(&self) -> u32 {
        match &self.vertical {
            Vertical::Rows(_) => self.sync_line(),
            Vertical::Lines(lines) => u32::from(lines.blank_line),
        }
    }

    /// Scan lines of vertical blanking.
    #[must_use]
    pub fn blank_lines(&self) -> u32 {
        match &self.vertical {
            Vertical::Rows(rows) => u32::from(rows.blank_lines),
            Vertical::Lines(lines) => u32::from(lines.blank_lines),
        }
    }

    /// Whether horizontal and vertical sync are sent at all.
    #[must_use]
    pub fn sends_sync(&self) -> bool {
        match &self.vertical {
            Vertical::Rows(rows) => !rows.frozen,
            Vertical::Lines(lines) => lines.sync_on,
        }
    }

    /// Character clocks of horizontal sync on a line of this total: a compared
    /// pulse that reaches the line's end goes on to where the low bits of the
    /// restarted counter meet its end.
    #[must_use]
    pub fn sync_chars(&self) -> u32 {
        let (start, width) = (u32::from(self.sync_start), u32::from(self.sync_width));
        let Some((bits, end)) = self.sync_ends() else {
            return width;
        };
        if width == 0 || start >= self.chars() || start + width < self.chars() {
            return width;
        }
        // The first character clock of the next line that compares so.
        let ends = (0..=bits).find(|char| self.compared_as(*char) & bits == end).unwrap_or(bits + 1);
        self.chars() - start + u32::from(ends)
    }

    /// Character clock bits at which a compared pulse ends; `None` where it is counted.
    #[must_use]
    pub fn sync_ends(&self) -> Option<(u16, u16)> {
        match self.pulse_end {
            PulseEnd::Counted => None,
            PulseEnd::LowBits { sync, .. } => Some((sync, self.sync_start.wrapping_add(self.sync_width) & sync)),
        }
    }

    /// Character clock bits at which compared blanking ends; `None` where it is counted.
    #[must_use]
    pub fn blank_ends(&self) -> Option<(u16, u16)> {
        match self.pulse_end {
            PulseEnd::Counted => None,
            PulseEnd::LowBits { blank, .. } => Some((blank, self.blank_start.wrapping_add(self.blank_width) & blank)),
        }
    }
}
