//! Setting a video mode, as firmware does: register by register through the ports.

use std::sync::Arc;

use backporch_adapter::{Adapter, Bank, FirmwareMode, Mode, PortRole, Role, Serialise};
use backporch_raster::Tap;

use super::data::{self, Generation};
use super::screen::{is_text_mode, memory_of};
use crate::machine::Machine;
use crate::trouble::Trouble;

/// Leaves memory as it is, added to a mode number.
const KEEP_MEMORY: u8 = 0x80;

/// Bytes of a page (Technical Reference, firmware data area).
fn page_bytes(number: u8) -> u16 {
    match number {
        0x00 | 0x01 => 0x0800,
        0x02 | 0x03 | 0x07 => 0x1000,
        0x0D => 0x2000,
        0x04..=0x06 | 0x0E => 0x4000,
        0x0F | 0x10 => 0x8000,
        0x13 => 0xFA00,
        _ => 0xA000,
    }
}

/// Bytes that a mode clears at its beginning: all pages of text, the whole window of graphics.
fn cleared(number: u8, is_later: bool) -> std::ops::Range<u32> {
    let first = memory_of(number);
    let bytes = match number {
        0x00..=0x03 | 0x07 if is_later => 0x8000,
        0x00..=0x06 => 0x4000,
        0x07 => 0x1000,
        _ => 0x1_0000,
    };
    first..first + bytes
}

impl<T: Tap> Machine<T> {
    /// Notes the mode the board is in before any program sets one; of a mode
    /// firmware cannot set, the class's first that it can. A text screen whose
    /// cells hold nothing is filled with blanks.
    pub(crate) fn prepare_mode(&mut self, name: &str) {
        let adapter = Arc::clone(self.hardware.board().adapter());
        let own = adapter.mode(name).filter(|mode| mode.firmware.is_some());
        let modes = own.into_iter().chain(&adapter.profile().modes);
        let Some((mode, firmware)) = modes.filter_map(|mode| Some((mode, mode.firmware.as_ref()?))).next() else {
            return;
        };
        self.note_mode(&adapter, mode, firmware, firmware.number());
        let screen = self.active_screen();
        let cells = screen.base..screen.line(screen.rows);
        let blank = own.is_some() && screen.is_text() && cells.clone().all(|at| self.look_at(at) == 0);
        if blank {
            self.clear(firmware.number(), firmware);
            self.system.drawn = 0;
        }
    }

    fn note_mode(&mut self, adapter: &Adapter, mode: &Mode, firmware: &FirmwareMode, number: u8) {
        self.store(data::MODE, number & !KEEP_MEMORY);
        self.store_word(data::COLUMNS, u16::from(firmware.columns));
        self.store_word(data::PAGE_BYTES, page_bytes(number & !KEEP_MEMORY));
        self.store_word(data::PAGE_START, 0);
        self.store(data::PAGE, 0);
        (0..8).for_each(|page| self.note_cursor(page, 0, 0));
        let (first, last) = firmware.cursor;
        self.store_word(data::CURSOR_SHAPE, u16::from_be_bytes([first, last]));
        let registers = adapter.start_up(mode);
        let port = adapter.port_of(&registers, PortRole::Index(Bank::Crtc)).unwrap_or(0);
        self.store_word(data::CONTROLLER_PORT, port);
        self.note_monitor(port == data::MONOCHROME_PORT);
        for (index, place) in [data::MODE_SELECT, data::COLOUR_SELECT].into_iter().enumerate() {
            let cell = backporch_adapter::Cell::new(Bank::Single, index as u8);
            let has_port = adapter
                .port_of(&registers, PortRole::Single(index as u8))
                .is_some_and(|port| port & 0xF == 8 + index as u16);
            let byte = cell.filter(|_| has_port).map_or(0, |cell| registers.cell(cell));
            self.store(place, byte);
        }
        if Generation::of(adapter).is_later() {
            self.note_cells(adapter, mode, number & !KEEP_MEMORY);
            let control = self.load(data::CONTROL) & !KEEP_MEMORY | number & KEEP_MEMORY;
            self.store(data::CONTROL, control);
        }
    }

    /// Rows and height of characters, and the set that graphics draw with.
    fn note_cells(&mut self, adapter: &Adapter, mode: &Mode, number: u8) {
        let registers = adapter.start_up(mode);
        let height = match number {
            _ if is_text_mode(number) => {
                adapter.field_with(Role::RowHeight).map_or(8, |row| adapter.quantity(&registers, row))
            }
            0x0F | 0x10 => 14,
            0x11 | 0x12 => 16,
            _ => 8,
        };
        let rows = if matches!(number, 0x11 | 0x12) { 30 } else { 25 };
        self.store(data::LAST_ROW, rows - 1);
        self.store_word(data::CELL_HEIGHT, height as u16);
        self.point_at(data::GLYPHS, super::font::of_height(height as u16));
    }

    pub(super) fn set_mode(&mut self, number: u8) -> Result<(), Trouble> {
        let adapter = Arc::clone(self.hardware.board().adapter());
        let (mode, firmware) = adapter.mode_numbered(number & !KEEP_MEMORY).ok_or_else(|| self.not_here(0x10))?;
        adapter.set_mode(mode, firmware, &mut self.hardware);
        if number & KEEP_MEMORY == 0 {
            self.clear(number, firmware);
        }
        self.load_glyphs(&adapter);
        self.note_mode(&adapter, mode, firmware, number);
        self.program_field(Role::StartAddress, 0);
        self.show_cursor();
        Ok(())
    }

    /// Fills memory with what the mode starts with.
    fn clear(&mut self, number: u8, firmware: &FirmwareMode) {
        let (even, odd) = firmware.clears_with;
        let range = cleared(number, self.generation().is_later());
        range.zip([even, odd].into_iter().cycle()).for_each(|(address, byte)| self.put(address, byte));
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

    /// Writes one register through its ports; one without a port is left out.
    pub(super) fn write_register(&mut self, adapter: &Adapter, bank: Bank, index: u8, value: u8) {
        adapter.write_register(bank, index, value, &mut self.hardware);
    }

    /// Writes one DAC colour of three 6-bit levels.
    pub(super) fn write_dac(&mut self, adapter: &Adapter, index: u8, levels: [u8; 3]) {
        adapter.load_colour(index, levels, &mut self.hardware);
    }
}
