//! Setting a video mode, as firmware does: register by register through the ports.

use std::sync::Arc;

use backporch_adapter::{Adapter, Bank, FirmwareMode, Mode, PortRole, Serialise};
use backporch_raster::Tap;

use crate::machine::Machine;
use crate::registers::Far;
use crate::trouble::Trouble;

/// Leaves memory as it is, added to a mode number.
const KEEP_MEMORY: u8 = 0x80;

/// Enables the attribute controller's output, added to its index (VGA register documentation).
const ATTRIBUTE_SHOW: u8 = 0x20;

/// Firmware data of the mode (Technical Reference, firmware data area).
const DATA: u16 = 0x0040;
const MODE: u16 = 0x49;
const COLUMNS: u16 = 0x4A;
const CURSOR: u16 = 0x50;
const CURSOR_SHAPE: u16 = 0x60;
const CONTROLLER_PORT: u16 = 0x63;

impl<T: Tap> Machine<T> {
    /// The mode number last set, or what stands for the board's mode at the start.
    pub(super) fn mode_number(&self) -> u8 {
        self.hardware.peek(Far::new(DATA, MODE).linear())
    }

    /// Notes the mode the board is in before any program sets one; of a mode
    /// firmware cannot set, the class's first that it can.
    pub(crate) fn prepare_mode(&mut self, name: &str) {
        let adapter = Arc::clone(self.hardware.board().adapter());
        let modes = adapter.mode(name).into_iter().chain(&adapter.profile().modes);
        if let Some(firmware) = modes.filter_map(|mode| mode.firmware.as_ref()).next() {
            self.note_mode(firmware, firmware.number());
        }
    }

    fn note_mode(&mut self, firmware: &FirmwareMode, number: u8) {
        self.store(Far::new(DATA, MODE), number);
        self.store_word(Far::new(DATA, COLUMNS), u16::from(firmware.columns));
        self.store_word(Far::new(DATA, CURSOR), 0);
        let (first, last) = firmware.cursor;
        self.store_word(Far::new(DATA, CURSOR_SHAPE), u16::from_be_bytes([first, last]));
        let port = self.hardware.adapter().port_of(PortRole::Index(Bank::Crtc)).unwrap_or(0);
        self.store_word(Far::new(DATA, CONTROLLER_PORT), port);
    }

    pub(super) fn set_mode(&mut self, number: u8) -> Result<(), Trouble> {
        let adapter = Arc::clone(self.hardware.board().adapter());
        let (mode, firmware) = adapter.mode_numbered(number & !KEEP_MEMORY).ok_or_else(|| self.not_here(0x10))?;
        self.program_mode(&adapter, mode);
        for (index, levels) in firmware.dac.unwrap_or(mode.dac).entries() {
            self.write_dac(&adapter, index, levels);
        }
        if number & KEEP_MEMORY == 0 {
            let (even, odd) = firmware.clears_with;
            let window = self.hardware.window();
            window.zip([even, odd].into_iter().cycle()).for_each(|(address, byte)| self.hardware.poke(address, byte));
        }
        self.load_glyphs(&adapter);
        self.note_mode(firmware, number & !KEEP_MEMORY);
        Ok(())
    }

    /// Loads the character set of text whose glyphs lie in memory.
    fn load_glyphs(&mut self, adapter: &Adapter) {
        let board = self.hardware.board();
        let format = adapter.format(adapter.format_index(board.registers()));
        if format.serialise == Serialise::PlaneText {
            let mut memory = board.memory().to_vec();
            adapter.put_glyphs(board.registers(), &mut memory);
            self.hardware.board_mut().load(&memory);
        }
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
}
