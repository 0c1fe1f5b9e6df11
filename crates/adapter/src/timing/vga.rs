//! The rule of the EGA and VGA controllers: vertical registers in scan lines,
//! pulses that end where the low bits of a counter equal a register, a pitch
//! and a line compare of their own (VGA register documentation).

use crate::reader::Reader;
use crate::role::Role;

use super::{LineTiming, Pitch, PulseEnd, StartLoad, Timing, Vertical};

/// Roles of the fields of the rule.
pub(crate) const REQUIRED: [Role; 15] = [
    Role::HorizontalTotal,
    Role::HorizontalDisplayed,
    Role::HorizontalSyncStart,
    Role::HorizontalSyncEnd,
    Role::HorizontalBlankStart,
    Role::HorizontalBlankEnd,
    Role::VerticalTotal,
    Role::VerticalDisplayed,
    Role::VerticalSyncStart,
    Role::VerticalSyncEnd,
    Role::VerticalBlankStart,
    Role::VerticalBlankEnd,
    Role::RowHeight,
    Role::Pitch,
    Role::LineCompare,
];

/// Values of the character counter: room for the greatest total.
const CHAR_VALUES: u16 = 512;

/// Comparands of the rule.
pub(super) fn timing(start_load: StartLoad, fields: Reader<'_>) -> Timing {
    let quantity = |role| fields.quantity(role) as u16;
    let mask = |role| fields.mask(role) as u16;
    let sync = Pulse::new(fields, Role::HorizontalSyncStart, Role::HorizontalSyncEnd);
    let blank = Pulse::new(fields, Role::HorizontalBlankStart, Role::HorizontalBlankEnd);
    let vertical_sync = Pulse::new(fields, Role::VerticalSyncStart, Role::VerticalSyncEnd);
    let vertical_blank = Pulse::new(fields, Role::VerticalBlankStart, Role::VerticalBlankEnd);
    let sync_on = fields.is_set_or(Role::SyncEnable, true);
    let line_values = line_values(mask(Role::VerticalTotal));
    Timing {
        last_char: quantity(Role::HorizontalTotal).saturating_sub(1).min(CHAR_VALUES - 1),
        char_values: CHAR_VALUES,
        displayed: quantity(Role::HorizontalDisplayed),
        sync_start: sync.start,
        sync_width: if sync_on { sync.length } else { 0 },
        blank_start: blank.start,
        blank_width: blank.length,
        pulse_end: PulseEnd::LowBits { sync: sync.bits, blank: blank.bits, first_compares_as: 0 },
        last_scan: quantity(Role::RowHeight).saturating_sub(1) as u8 & 31,
        vertical: Vertical::Lines(LineTiming {
            last_line: quantity(Role::VerticalTotal).saturating_sub(1).min(line_values - 1),
            line_values,
            lines_displayed: quantity(Role::VerticalDisplayed),
            sync_line: vertical_sync.start,
            sync_lines: vertical_sync.length,
            sync_bits: vertical_sync.bits,
            blank_line: vertical_blank.start,
            blank_lines: vertical_blank.length,
            blank_bits: vertical_blank.bits,
            line_compare: quantity(Role::LineCompare),
            double_scan: fields.is_set(Role::DoubleScan),
            preset_scan: quantity(Role::PresetRowScan) as u8 & 31,
            byte_pan: quantity(Role::BytePanning) as u8,
            pitch: Pitch::Units(fields.quantity(Role::Pitch) * 2),
            sync_on,
        }),
        start_load,
    }
}

/// A pulse that ends where the low bits of its counter equal a register.
struct Pulse {
    start: u16,
    length: u16,
    /// Bits compared, as a mask.
    bits: u16,
}

impl Pulse {
    fn new(fields: Reader<'_>, start: Role, end: Role) -> Self {
        let (from, bits) = (fields.quantity(start) as u16, fields.mask(end) as u16);
        Self { start: from, length: length(from, fields.quantity(end) as u16, bits), bits }
    }
}

/// Values of the line counter: room for the register's greatest total.
fn line_values(register: u16) -> u16 {
    (register + 1) * 2
}

/// Counts from `start` to the next value whose low bits are those of `end`;
/// a full turn where they are equal.
fn length(start: u16, end: u16, bits: u16) -> u16 {
    match end.wrapping_sub(start) & bits {
        0 => bits + 1,
        length => length,
    }
}
