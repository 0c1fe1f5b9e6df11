//! The rule of the 64 KiB 256-colour class's controller: vertical registers in
//! scan lines with bit 8 implied, lines doubled by the chip itself, a pitch
//! that follows displayed, pulses that end by comparing low bits (reverse-
//! engineered schematic of display controller gate array 72X8300).

use crate::reader::Reader;
use crate::role::Role;

use super::{LineTiming, Pitch, PulseEnd, StartLoad, Timing, Vertical};

/// Roles of the fields of the rule.
pub(crate) const REQUIRED: [Role; 10] = [
    Role::HorizontalTotal,
    Role::HorizontalDisplayed,
    Role::HorizontalSyncStart,
    Role::HorizontalSyncWidth,
    Role::VerticalTotal,
    Role::VerticalTotalAdjust,
    Role::VerticalDisplayed,
    Role::VerticalSyncStart,
    Role::VerticalSyncWidth,
    Role::RowHeight,
];

/// Values of the character counter: room for the greatest total, 257.
const CHAR_VALUES: u16 = 512;
/// Values of the line counter: room for the greatest total, 545.
const LINE_VALUES: u16 = 1024;
/// Bits of a counter that are compared for the end of a pulse.
const PULSE_BITS: u16 = 15;
/// A line the counter never comes to.
const NEVER: u16 = u16::MAX;

/// Comparands of the rule; a picture line advances the address by this many
/// units for each character shown.
pub(super) fn timing(start_load: StartLoad, pitch_units_per_char: u8, fields: Reader<'_>) -> Timing {
    let quantity = |role| fields.quantity(role) as u16;
    let (sync_start, sync_width) = (quantity(Role::HorizontalSyncStart), quantity(Role::HorizontalSyncWidth));
    let (sync_line, sync_lines) = (quantity(Role::VerticalSyncStart), quantity(Role::VerticalSyncWidth));
    let adjust = quantity(Role::VerticalTotalAdjust);
    Timing {
        last_char: quantity(Role::HorizontalTotal).saturating_sub(1).min(CHAR_VALUES - 1),
        char_values: CHAR_VALUES,
        displayed: quantity(Role::HorizontalDisplayed),
        sync_start,
        sync_width,
        // The border is black: nothing tells it from blanking but sync.
        blank_start: sync_start,
        blank_width: sync_width,
        // The counter stays at its first value for two character clocks, and
        // the pulse follows its comparator by one.
        pulse_end: PulseEnd::LowBits { sync: PULSE_BITS, blank: PULSE_BITS, first_compares_as: 1 },
        last_scan: quantity(Role::RowHeight).saturating_sub(1) as u8 & 31,
        vertical: Vertical::Lines(LineTiming {
            // With no line added the frame does not end.
            last_line: if adjust == 0 { NEVER } else { quantity(Role::VerticalTotal) + adjust - 1 },
            line_values: LINE_VALUES,
            lines_displayed: quantity(Role::VerticalDisplayed),
            sync_line,
            sync_lines,
            sync_bits: PULSE_BITS,
            blank_line: sync_line,
            blank_lines: sync_lines,
            blank_bits: PULSE_BITS,
            line_compare: NEVER,
            double_scan: true,
            preset_scan: 0,
            byte_pan: 0,
            pitch: Pitch::PerCharacter(pitch_units_per_char.into()),
            sync_on: sync_lines > 0,
        }),
        start_load,
    }
}
