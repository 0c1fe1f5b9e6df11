//! Setting a video mode, as firmware does: register by register through the ports.

use std::sync::Arc;

use backporch_adapter::{Adapter, Bank, ColourRule, Mode, PortRole, RGBI, Serialise};
use backporch_raster::Tap;

use crate::machine::Machine;
use crate::registers::Far;
use crate::trouble::Trouble;

/// Mode numbers of interrupt 10h and the modes of our profiles that they stand
/// for (common practice); the first name a board has is taken.
const MODES: &[(u8, &[&str])] = &[
    (0x00, &["text-40"]),
    (0x01, &["text-40"]),
    (0x02, &["text-80"]),
    (0x03, &["text-80"]),
    (0x04, &["320x200x4"]),
    (0x05, &["320x200x4"]),
    (0x06, &["640x200x2"]),
    (0x07, &["text-80-mono"]),
    (0x0D, &["320x200x16"]),
    (0x0E, &["640x200x16"]),
    (0x10, &["640x350x16"]),
    (0x11, &["640x480x2"]),
    (0x12, &["640x480x16"]),
    (0x13, &["320x200x256"]),
];

/// Leaves memory as it is, added to a mode number.
const KEEP_MEMORY: u8 = 0x80;

/// Enables the attribute controller's output, added to its index (VGA register documentation).
const ATTRIBUTE_SHOW: u8 = 0x20;

/// Firmware data of the mode (Technical Reference, firmware data area).
const DATA: u16 = 0x0040;
const MODE: u16 = 0x49;
const COLUMNS: u16 = 0x4A;
const CURSOR: u16 = 0x50;
const CONTROLLER_PORT: u16 = 0x63;

/// What a cleared text screen holds: blanks, grey on black.
const BLANK: [u8; 2] = [b' ', 0x07];

impl<T: Tap> Machine<T> {
    /// The mode number last set, or what stands for the board's mode at the start.
    pub(super) fn mode_number(&self) -> u8 {
        self.hardware.peek(Far::new(DATA, MODE).linear())
    }

    /// Notes the mode the board is in before any program sets one.
    pub(crate) fn prepare_mode(&mut self, name: &str) {
        let number = MODES.iter().rev().find(|(_, names)| names.contains(&name)).map_or(3, |(number, _)| *number);
        self.note_mode(number);
    }

    fn note_mode(&mut self, number: u8) {
        self.store(Far::new(DATA, MODE), number);
        let columns = self.columns();
        self.store_word(Far::new(DATA, COLUMNS), columns);
        self.store_word(Far::new(DATA, CURSOR), 0);
        let port = self.hardware.adapter().port_of(PortRole::Index(Bank::Crtc)).unwrap_or(0);
        self.store_word(Far::new(DATA, CONTROLLER_PORT), port);
    }

    pub(super) fn set_mode(&mut self, number: u8) -> Result<(), Trouble> {
        let adapter = Arc::clone(self.hardware.board().adapter());
        let names = MODES.iter().find(|(known, _)| *known == number & !KEEP_MEMORY).map(|(_, names)| *names);
        let mode = names.unwrap_or(&[]).iter().find_map(|name| adapter.mode(name));
        let mode = mode.ok_or_else(|| self.not_here(0x10))?;
        self.program_mode(&adapter, mode);
        let format = adapter.format(adapter.format_index(self.hardware.board().registers())).clone();
        if format.colour == ColourRule::Dac {
            self.load_palette(&adapter);
        }
        if number & KEEP_MEMORY == 0 {
            let blank = if format.serialise == Serialise::Text { BLANK } else { [0, 0] };
            let window = self.hardware.window();
            (window).zip(blank.into_iter().cycle()).for_each(|(address, byte)| self.hardware.poke(address, byte));
        }
        self.note_mode(number & !KEEP_MEMORY);
        Ok(())
    }

    fn program_mode(&mut self, adapter: &Adapter, mode: &Mode) {
        if let Some(protect) = adapter.protect_field() {
            let writes = adapter.programming(self.hardware.board().registers(), protect, 0);
            writes.into_iter().for_each(|(port, value)| self.hardware.program(port, value));
        }
        for block in &mode.registers {
            for (index, value) in (block.from..).zip(&block.values) {
                self.write_register(adapter, block.bank, index, *value);
            }
        }
    }

    /// Writes one register through its ports; one without a port is left out.
    pub(super) fn write_register(&mut self, adapter: &Adapter, bank: Bank, index: u8, value: u8) {
        let port = |role| adapter.port_of(role);
        match bank {
            Bank::Single => {
                if let Some(single) = port(PortRole::Single(index)) {
                    self.hardware.program(single, value);
                }
            }
            Bank::Attribute => {
                if let (Some(status), Some(both)) = (port(PortRole::Status), port(PortRole::AttributeFlipFlop)) {
                    // Reading the status port makes the next write an index.
                    self.hardware.look(status);
                    [index | ATTRIBUTE_SHOW, value].into_iter().for_each(|byte| self.hardware.program(both, byte));
                }
            }
            bank => {
                if let (Some(select), Some(data)) = (port(PortRole::Index(bank)), port(PortRole::Data(bank))) {
                    self.hardware.program(select, index);
                    self.hardware.program(data, value);
                }
            }
        }
    }

    /// Writes one DAC colour of three 6-bit levels.
    pub(super) fn write_dac(&mut self, adapter: &Adapter, index: u8, levels: [u8; 3]) {
        if let (Some(select), Some(data)) =
            (adapter.port_of(PortRole::DacWriteIndex), adapter.port_of(PortRole::DacData))
        {
            self.hardware.program(select, index);
            levels.into_iter().for_each(|level| self.hardware.program(data, level));
        }
    }

    fn load_palette(&mut self, adapter: &Adapter) {
        (0..=255).for_each(|index| self.write_dac(adapter, index, start_up_colour(index)));
    }
}

/// Levels of the sixteen greys (from memory).
const GREYS: [u8; 16] = [0, 5, 8, 11, 14, 17, 20, 24, 28, 32, 36, 40, 45, 50, 56, 63];

/// Five levels from the weakest to the strongest of a hue, for three
/// intensities of three saturations each (from memory).
const HUES: [[u8; 5]; 9] = [
    [0, 16, 31, 47, 63],
    [31, 39, 47, 55, 63],
    [45, 49, 54, 58, 63],
    [0, 7, 14, 21, 28],
    [14, 17, 21, 24, 28],
    [20, 22, 24, 26, 28],
    [0, 4, 8, 12, 16],
    [8, 10, 12, 14, 16],
    [11, 12, 13, 15, 16],
];

/// The 6-bit levels of the DAC after a mode of 256 colours is set: the sixteen
/// of the RGBI set, sixteen greys, nine rounds of 24 hues, black (from memory).
fn start_up_colour(index: u8) -> [u8; 3] {
    match index {
        0..16 => {
            let [red, green, blue, _] = RGBI[usize::from(index)];
            [red >> 2, green >> 2, blue >> 2]
        }
        16..32 => [GREYS[usize::from(index - 16)]; 3],
        32..248 => {
            let (round, hue) = (usize::from(index - 32) / 24, usize::from(index - 32) % 24);
            // From blue over magenta, red, yellow, green and cyan back to blue.
            let level = |distance: usize| HUES[round][4 - distance.saturating_sub(4).min(4)];
            let apart = |peak: usize| ((hue + 24 - peak) % 24).min((peak + 24 - hue) % 24);
            [level(apart(8)), level(apart(16)), level(apart(0))]
        }
        248.. => [0; 3],
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Six hues at full saturation stand four steps apart (common practice).
    #[test]
    fn hues_go_round() {
        let found: Vec<[u8; 3]> = (0..6).map(|step| start_up_colour(32 + step * 4)).collect();
        assert_eq!(found, [[0, 0, 63], [63, 0, 63], [63, 0, 0], [63, 63, 0], [0, 63, 0], [0, 63, 63]]);
        assert_eq!(start_up_colour(33), [16, 0, 63]);
        assert_eq!(start_up_colour(6), [42, 21, 0], "brown");
    }
}
