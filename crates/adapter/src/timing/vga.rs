//! The rule of the EGA and VGA controllers: vertical registers in scan lines,
//! pulses that end where the low bits of a counter equal a register, a pitch
//! and a line compare of their own (VGA register documentation).

use super::{LineTiming, PulseEnd, StartLoad, Timing, Vertical};

/// The fields of the rule, in the order in which [`timing`] takes them.
pub(crate) const FIELDS: [&str; 16] = [
    "horizontal_total",
    "displayed",
    "sync_position",
    "sync_end",
    "blank_start",
    "blank_end",
    "vertical_total",
    "vertical_displayed",
    "vertical_sync_position",
    "vertical_sync_end",
    "vertical_blank_start",
    "vertical_blank_end",
    "max_scan_line",
    "offset",
    "line_compare",
    "start_address",
];

/// Fields read where the class has them, and what is taken where it has not.
pub(crate) const OPTIONAL: [(&str, u32); 4] =
    [("double_scan", 0), ("preset_row_scan", 0), ("byte_panning", 0), ("sync_enable", 1)];

/// Positions in [`FIELDS`] of the fields whose width says how many bits are compared.
const SYNC_END: usize = 3;
const BLANK_END: usize = 5;
const VERTICAL_TOTAL: usize = 6;
const VERTICAL_SYNC_END: usize = 9;
const VERTICAL_BLANK_END: usize = 11;

/// Values of the character counter: room for the greatest total.
const CHAR_VALUES: u16 = 512;

/// Comparands from quantities and widths, in bits, of the rule's fields.
pub(super) fn timing(start_load: StartLoad, quantities: &[u32], widths: &[u8]) -> Timing {
    let quantity = |at: usize| quantities.get(at).copied().unwrap_or(0);
    let mask = |at: usize| (1u32 << widths.get(at).copied().unwrap_or(8).min(15)) as u16 - 1;
    let [total, displayed, sync_start, sync_end, blank_start, blank_end] =
        std::array::from_fn(|at| quantity(at) as u16);
    let [lines, shown, sync_line, vertical_sync_end, blank_line, vertical_blank_end] =
        std::array::from_fn(|at| quantity(VERTICAL_TOTAL + at) as u16);
    let [max_scan, offset, line_compare] = std::array::from_fn(|at| quantity(12 + at));
    let [double_scan, preset_scan, byte_pan, sync_enable] = std::array::from_fn(|at| quantity(FIELDS.len() + at));
    let (sync_bits, blank_bits) = (mask(VERTICAL_SYNC_END), mask(VERTICAL_BLANK_END));
    Timing {
        last_char: total.saturating_sub(1).min(CHAR_VALUES - 1),
        char_values: CHAR_VALUES,
        displayed,
        sync_start,
        sync_width: if sync_enable != 0 { length(sync_start, sync_end, mask(SYNC_END)) } else { 0 },
        blank_start,
        blank_width: length(blank_start, blank_end, mask(BLANK_END)),
        pulse_end: PulseEnd::LowBits { sync: mask(SYNC_END), blank: mask(BLANK_END) },
        last_scan: max_scan.saturating_sub(1) as u8 & 31,
        vertical: Vertical::Lines(LineTiming {
            last_line: lines.saturating_sub(1).min(line_values(mask(VERTICAL_TOTAL)) - 1),
            line_values: line_values(mask(VERTICAL_TOTAL)),
            lines_displayed: shown,
            sync_line,
            sync_lines: length(sync_line, vertical_sync_end, sync_bits),
            sync_bits,
            blank_line,
            blank_lines: length(blank_line, vertical_blank_end, blank_bits),
            blank_bits,
            line_compare: line_compare as u16,
            double_scan: double_scan != 0,
            preset_scan: preset_scan as u8 & 31,
            byte_pan: byte_pan as u8,
            pitch_units: offset * 2,
            sync_on: sync_enable != 0,
        }),
        start_load,
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
