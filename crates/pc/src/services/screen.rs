//! The screen as firmware sees it: by the mode last set and its own data, whatever the registers say by now.

use backporch_raster::Tap;

use super::data;
use crate::bus::Bus;
use crate::machine::Machine;
use crate::registers::Far;

/// Most rows firmware draws on, and most scan lines.
const MOST_ROWS: u32 = 64;
const MOST_LINES: u32 = 512;

/// Bytes from one bank of the first graphics modes to the next.
const BANK: u32 = 0x2000;

/// Whether a mode shows text, by its number.
pub(super) fn is_text_mode(number: u8) -> bool {
    matches!(number, 0x00..=0x03 | 0x07)
}

/// Where a mode's memory begins for the processor (Technical Reference, firmware).
pub(super) fn memory_of(number: u8) -> u32 {
    match number {
        0x00..=0x06 => 0xB_8000,
        0x07 => 0xB_0000,
        _ => 0xA_0000,
    }
}

/// How a mode's memory is laid out.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Cells {
    /// Code and attribute, two bytes a cell.
    Text,
    /// Pixels of this many bits, packed.
    Packed {
        /// 1, 2 or 8.
        bits: u32,
        /// Whether lines go to two banks in turn.
        banked: bool,
    },
    /// Eight pixels a byte in each of four planes.
    Planes,
}

impl Cells {
    /// By mode number (Technical Reference, firmware).
    fn of(mode: u8) -> Self {
        match mode {
            0x04 | 0x05 => Self::Packed { bits: 2, banked: true },
            0x06 => Self::Packed { bits: 1, banked: true },
            0x11 => Self::Packed { bits: 1, banked: false },
            0x13 => Self::Packed { bits: 8, banked: false },
            0x0D..=0x12 => Self::Planes,
            _ => Self::Text,
        }
    }
}

/// One page of the screen.
#[derive(Clone, Copy, Debug)]
pub(super) struct ScreenPage {
    pub cells: Cells,
    /// Characters in a row.
    pub columns: u32,
    /// Rows of characters.
    pub rows: u32,
    /// Scan lines of a character.
    pub height: u32,
    /// Address of its first byte.
    pub base: u32,
}

impl ScreenPage {
    /// Bytes of a character's column on a line.
    pub fn column_bytes(&self) -> u32 {
        match self.cells {
            Cells::Text => 2,
            Cells::Packed { bits, .. } => bits,
            Cells::Planes => 1,
        }
    }

    /// Lines of a row of characters: scan lines, or one row of cells.
    pub fn lines_per_row(&self) -> u32 {
        if self.is_text() { 1 } else { self.height }
    }

    pub fn is_text(&self) -> bool {
        self.cells == Cells::Text
    }

    /// Address of a line.
    pub fn line(&self, y: u32) -> u32 {
        let pitch = self.columns * self.column_bytes();
        match self.cells {
            Cells::Packed { banked: true, .. } => self.base + (y & 1) * BANK + (y >> 1) * pitch,
            _ => self.base + y * pitch,
        }
    }

    /// Address of a character's first line.
    pub fn cell(&self, column: u32, row: u32) -> u32 {
        self.line(row * self.lines_per_row()) + column * self.column_bytes()
    }
}

impl<T: Tap> Machine<T> {
    /// The mode number last set, or what stands for the board's mode at the start.
    pub(super) fn mode_number(&self) -> u8 {
        self.load(data::MODE)
    }

    /// The page shown.
    pub(super) fn active_page(&self) -> u8 {
        self.load(data::PAGE) & 7
    }

    /// One page of the screen.
    pub(super) fn screen(&self, page: u8) -> ScreenPage {
        let mode = self.mode_number();
        let cells = Cells::of(mode);
        let columns = match self.load_word(data::COLUMNS) {
            0 => 80,
            columns => u32::from(columns).min(132),
        };
        let later = self.generation().is_later();
        let height = match self.load_word(data::CELL_HEIGHT) {
            _ if !later => 8,
            height => u32::from(height).clamp(1, 32),
        };
        let rows = if later { u32::from(self.load(data::LAST_ROW)) + 1 } else { 25 };
        let base = memory_of(mode) + u32::from(page & 7) * u32::from(self.load_word(data::PAGE_BYTES));
        ScreenPage { cells, columns, rows: rows.min(MOST_ROWS).min(MOST_LINES / height), height, base }
    }

    /// The page shown.
    pub(super) fn active_screen(&self) -> ScreenPage {
        self.screen(self.active_page())
    }

    fn cursor_at(page: u8) -> Far {
        Far::new(data::CURSORS.segment, data::CURSORS.offset + u16::from(page & 7) * 2)
    }

    /// Column and row of a page's cursor.
    pub(super) fn cursor(&self, page: u8) -> (u32, u32) {
        let [column, row] = self.load_word(Self::cursor_at(page)).to_le_bytes();
        (u32::from(column), u32::from(row))
    }

    /// Notes a page's cursor.
    pub(super) fn note_cursor(&mut self, page: u8, column: u32, row: u32) {
        self.store_word(Self::cursor_at(page), u16::from_le_bytes([column as u8, row as u8]));
    }

    // ---- the board's memory, paid for byte by byte ---------------------------------------

    /// Writes a byte where the board has memory.
    pub(super) fn put(&mut self, address: u32, value: u8) {
        if self.hardware.window().contains(&address) {
            self.system.drawn = self.system.drawn.saturating_add(1);
            self.hardware.poke(address, value);
        }
    }

    /// A byte of the board's memory, nothing changed.
    pub(super) fn look_at(&self, address: u32) -> u8 {
        if self.hardware.window().contains(&address) { self.hardware.peek(address) } else { 0 }
    }

    /// Reads a byte as the processor does: where there are planes, into the latches.
    pub(super) fn latch(&mut self, address: u32) {
        if self.hardware.window().contains(&address) {
            self.hardware.read(address);
        }
    }
}
