//! What a setting starts from: a mode, a dot clock and a number of scan lines to a picture line.

use backporch_adapter::{Adapter, FieldId, Mode, Registers, Role, Vertical};

use super::need::ModeNeed;
use crate::setting::Setting;

/// Most scan lines to a picture line that are tried.
const MOST_SCAN_LINES: u32 = 4;

/// Registers of a mode before line and frame are laid out.
#[derive(Clone, Debug)]
pub(super) struct RowLayout {
    /// The mode's start-up values with dot clock, row height and doubling chosen.
    pub registers: Registers,
    /// Character clocks shown of a line.
    pub chars: u32,
    /// Scan lines shown of a frame.
    pub lines: u32,
    /// Scan lines that show one picture line.
    pub scan_lines: u32,
}

/// What is shown of a mode as it starts up, with a pixel's worth of what it is made of.
#[derive(Clone, Copy, Debug)]
pub(super) struct PixelFormat {
    /// Colours at once.
    pub colours: u32,
    /// Pixels of a character clock.
    pub pixels_of_char: u32,
}

impl PixelFormat {
    /// `None` for text, whose pixels are not chosen one by one.
    pub fn of(adapter: &Adapter, mode: &Mode) -> Option<Self> {
        let registers = adapter.start_up(mode);
        let format = adapter.format(adapter.format_index(&registers));
        let setting = Setting::new(adapter, registers).filter(|_| !format.serialise.is_text())?;
        Some(Self { colours: setting.colours(adapter), pixels_of_char: format.pixels_per_char().max(1) })
    }
}

/// Every base of a mode for a picture of that size; none where it is no whole number of character clocks across.
pub(super) fn bases(adapter: &Adapter, mode: &Mode, shown: PixelFormat, need: &ModeNeed) -> Vec<RowLayout> {
    if !need.width.is_multiple_of(shown.pixels_of_char) {
        return Vec::new();
    }
    let mut bases: Vec<RowLayout> = Vec::new();
    for clocked in clocked(adapter, &adapter.start_up(mode)) {
        for registers in scanned(adapter, &clocked) {
            let scan_lines = scan_lines(adapter, &registers);
            let lines = need.height.saturating_mul(scan_lines);
            let chars = need.width / shown.pixels_of_char;
            let same = |base: &RowLayout| {
                base.scan_lines == scan_lines
                    && adapter.dot_clock_of(&base.registers) == adapter.dot_clock_of(&registers)
            };
            if scan_lines > 0 && !bases.iter().any(same) {
                bases.push(RowLayout { registers, chars, lines, scan_lines });
            }
        }
    }
    bases
}

/// The registers at each dot clock there is, their own first.
fn clocked(adapter: &Adapter, registers: &Registers) -> Vec<Registers> {
    let mut clocked = vec![registers.clone()];
    for other in with_each(adapter, registers, Role::ClockSelect, u32::MAX) {
        if clocked.iter().all(|known| adapter.dot_clock_of(known) != adapter.dot_clock_of(&other)) {
            clocked.push(other);
        }
    }
    clocked
}

/// The registers with each number of scan lines to a picture line, their own first.
fn scanned(adapter: &Adapter, registers: &Registers) -> Vec<Registers> {
    let format = adapter.format(adapter.format_index(registers));
    let counts_rows = matches!(adapter.timing(registers).vertical, Vertical::Rows(_));
    let mut scanned = vec![registers.clone()];
    // Where the row address goes into memory addresses, each scan line of a row is a picture line of its own.
    if !counts_rows && !format.uses_row_address() {
        for doubled in with_each(adapter, registers, Role::DoubleScan, 1) {
            scanned.extend(with_each(adapter, &doubled, Role::RowHeight, MOST_SCAN_LINES - 1));
        }
    }
    scanned.retain(|registers| scan_lines(adapter, registers) <= MOST_SCAN_LINES);
    scanned
}

/// Scan lines that show one picture line.
fn scan_lines(adapter: &Adapter, registers: &Registers) -> u32 {
    let timing = adapter.timing(registers);
    let format = adapter.format(adapter.format_index(registers));
    if format.uses_row_address() { timing.lines_per_scan() } else { timing.lines_per_row() }
}

/// The registers with each value of a field up to `most`; as they are where the class has none with that role.
fn with_each(adapter: &Adapter, registers: &Registers, role: Role, most: u32) -> Vec<Registers> {
    let Some(field) = adapter.field_with(role) else {
        return vec![registers.clone()];
    };
    let with = |value: u32| with(adapter, registers, field, value);
    (0..=adapter.field_info(field).max().min(most)).filter_map(with).collect()
}

fn with(adapter: &Adapter, registers: &Registers, field: FieldId, value: u32) -> Option<Registers> {
    let mut registers = registers.clone();
    adapter.set(&mut registers, field, u64::from(value)).ok().map(|()| registers)
}
