//! Character sets: loaded into planes for text, pointed at for graphics, and where they lie (function 11h of interrupt
//! 10h; Technical Reference, firmware of the enhanced graphics adapter).

use std::sync::Arc;

use backporch_adapter::{PLANES, Role};
use backporch_raster::Tap;

use super::data::{self, Generation};
use crate::machine::Machine;
use crate::registers::{Byte, Far, SegmentRegister, Word};
use crate::rom;
use crate::trouble::Trouble;

/// Bytes from one glyph to the next in the plane, and the plane.
const GLYPH_BYTES: usize = 32;
const GLYPH_PLANE: usize = 2;

/// Where firmware keeps the set of a height.
pub(super) fn of_height(height: u16) -> u16 {
    match height {
        ..14 => rom::font::EIGHT,
        14..16 => rom::font::FOURTEEN,
        _ => rom::font::SIXTEEN,
    }
}

/// First address in the plane of one of eight blocks (VGA register documentation).
fn block_start(block: u8) -> usize {
    usize::from(block & 3) * 0x4000 + usize::from(block >> 2 & 1) * 0x2000
}

impl<T: Tap> Machine<T> {
    pub(super) fn character_sets(&mut self) -> Result<(), Trouble> {
        let generation = self.generation();
        let has_sixteen = generation != Generation::Ega;
        let firmware = |offset| Far::new(rom::SEGMENT, offset);
        let service = self.byte(Byte::Al);
        match (generation, service) {
            (Generation::Monochrome | Generation::Cga, _) => return Err(self.not_here(0x10)),
            (_, 0x00 | 0x10) => {
                let (from, first) = (self.at(SegmentRegister::Es, Word::Bp), self.word(Word::Dx));
                let (height, count) = (self.byte(Byte::Bh).clamp(1, 32), self.word(Word::Cx).min(256));
                self.load_set(from, u16::from(height), first, count);
                if service == 0x10 {
                    self.fit_rows(height);
                }
            }
            (_, 0x01 | 0x11) => self.load_built_in(firmware(rom::font::FOURTEEN), 14, service),
            (_, 0x02 | 0x12) => self.load_built_in(firmware(rom::font::EIGHT), 8, service),
            (_, 0x04 | 0x14) if has_sixteen => self.load_built_in(firmware(rom::font::SIXTEEN), 16, service),
            (_, 0x03) => {
                let block = self.byte(Byte::Bl);
                self.program_field(Role::FontPlain, u32::from(block & 3 | block >> 2 & 4));
                self.program_field(Role::FontBright, u32::from(block >> 2 & 3 | block >> 3 & 4));
            }
            (_, 0x20) => self.point(data::UPPER_GLYPHS, self.at(SegmentRegister::Es, Word::Bp)),
            (_, 0x21) => {
                let height = self.word(Word::Cx);
                self.draw_with(self.at(SegmentRegister::Es, Word::Bp), height);
            }
            (_, 0x22) => self.draw_with(firmware(rom::font::FOURTEEN), 14),
            (_, 0x23) => self.draw_with(firmware(rom::font::EIGHT), 8),
            (_, 0x24) if has_sixteen => self.draw_with(firmware(rom::font::SIXTEEN), 16),
            (_, 0x30) => self.tell_set(firmware)?,
            _ => return Err(self.not_here(0x10)),
        }
        Ok(())
    }

    fn load_built_in(&mut self, from: Far, height: u8, service: u8) {
        self.load_set(from, u16::from(height), 0, 256);
        if service >= 0x10 {
            self.fit_rows(height);
        }
    }

    /// Copies glyphs into a block of the plane.
    fn load_set(&mut self, from: Far, height: u16, first: u16, count: u16) {
        if !self.active_screen().is_text() || self.generation() == Generation::Mcga {
            return;
        }
        let start = block_start(self.byte(Byte::Bl));
        let mut memory = self.hardware.board().memory().to_vec();
        for index in 0..count {
            let code = usize::from(first.wrapping_add(index) & 0xFF);
            for line in 0..height {
                let byte = self.load(from.plus(index * height + line));
                let at = (start + code * GLYPH_BYTES + usize::from(line)) * PLANES as usize + GLYPH_PLANE;
                if let Some(place) = memory.get_mut(at) {
                    *place = byte;
                }
            }
        }
        self.system.drawn += u32::from(count) * u32::from(height);
        self.hardware.board_mut().load(&memory);
    }

    /// Makes rows as high as their characters: as many as the screen has lines for.
    fn fit_rows(&mut self, height: u8) {
        let adapter = Arc::clone(self.hardware.board().adapter());
        let board = self.hardware.board();
        let shown = adapter.field_with(Role::VerticalDisplayed);
        let lines = match shown.map_or(400, |field| adapter.quantity(board.registers(), field)) {
            // What an earlier set left off at the end is there again.
            0..=350 => 350,
            _ => 400,
        };
        let rows = lines / u32::from(height);
        let less = |field| u32::from(adapter.field_info(field).plus);
        if let Some(field) = adapter.field_with(Role::RowHeight) {
            self.program_field(Role::RowHeight, u32::from(height) - less(field));
        }
        if let Some(field) = shown {
            self.program_field(Role::VerticalDisplayed, rows * u32::from(height) - less(field));
        }
        self.store(data::LAST_ROW, (rows - 1) as u8);
        self.store_word(data::CELL_HEIGHT, u16::from(height));
        let columns = self.load_word(data::COLUMNS);
        let page = (u32::from(columns) * rows * 2).next_multiple_of(0x100) + 0x100;
        self.store_word(data::PAGE_BYTES, page.min(0x8000) as u16);
        self.shape_cursor(u16::from_be_bytes([6, 7]));
    }

    fn point(&mut self, entry: Far, to: Far) {
        self.store_word(entry, to.offset);
        self.store_word(Far::new(entry.segment, entry.offset + 2), to.segment);
    }

    /// Graphics draw with another set; BL says how many rows: 14, 25, 43, or DL.
    fn draw_with(&mut self, from: Far, height: u16) {
        self.point(data::GLYPHS, from);
        let rows = match self.byte(Byte::Bl) {
            0 => self.byte(Byte::Dl),
            1 => 14,
            2 => 25,
            _ => 43,
        };
        self.store(data::LAST_ROW, rows.saturating_sub(1));
        self.store_word(data::CELL_HEIGHT, height.clamp(1, 32));
    }

    /// Where a set lies, how high its characters are, and the last row.
    fn tell_set(&mut self, firmware: impl Fn(u16) -> Far) -> Result<(), Trouble> {
        let at = match self.byte(Byte::Bh) {
            0 => self.pointed(data::UPPER_GLYPHS),
            1 => self.pointed(data::GLYPHS),
            2 | 5 => firmware(rom::font::FOURTEEN),
            3 => firmware(rom::font::EIGHT),
            4 => firmware(rom::font::EIGHT_UPPER),
            6 | 7 if self.generation() != Generation::Ega => firmware(rom::font::SIXTEEN),
            _ => return Err(self.not_here(0x10)),
        };
        self.processor.registers.set_segment(SegmentRegister::Es, at.segment);
        self.set(Word::Bp, at.offset);
        self.set(Word::Cx, self.load_word(data::CELL_HEIGHT));
        self.set_byte(Byte::Dl, self.load(data::LAST_ROW));
        Ok(())
    }
}
