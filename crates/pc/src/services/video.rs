//! Interrupt 10h: the video services a routine calls.

use backporch_adapter::Role;
use backporch_raster::Tap;

use super::Served;
use super::data;
use super::text::{ScrollArea, ScrollDirection};
use crate::machine::Machine;
use crate::registers::{Byte, SegmentRegister, Word};
use crate::trouble::Trouble;

/// Characters that a service writes before it lets the machine go on.
const AT_ONCE: u32 = 16;

/// Bit of a cursor's first line that hides it, and the lines that firmware gives one where the board cannot hide it: the
/// first lies beyond every row (from memory).
const HIDDEN: u8 = 0x20;
const BEYOND: (u8, u8) = (0x1E, 0);

/// Bits of AL of a string's service: the cursor moves; attributes stand in the string (common practice).
const MOVES: u8 = 1;
const COLOURED: u8 = 2;

impl<T: Tap> Machine<T> {
    pub(super) fn video(&mut self) -> Result<Served, Trouble> {
        match self.byte(Byte::Ah) {
            0x00 => self.set_mode(self.byte(Byte::Al))?,
            0x01 => self.shape_cursor(self.word(Word::Cx)),
            0x02 => {
                let (column, row) = (self.byte(Byte::Dl), self.byte(Byte::Dh));
                self.set_cursor(self.byte(Byte::Bh) & 7, u32::from(column), u32::from(row));
            }
            0x03 => {
                let (column, row) = self.cursor(self.byte(Byte::Bh));
                self.set(Word::Dx, u16::from_le_bytes([column as u8, row as u8]));
                self.set(Word::Cx, self.load_word(data::CURSOR_SHAPE));
            }
            // The light pen was not triggered.
            0x04 => self.set_byte(Byte::Ah, 0),
            0x05 => self.show_page(self.byte(Byte::Al) & 7),
            service @ (0x06 | 0x07) => {
                let high = |register| u32::from(self.word(register) >> 8);
                let low = |register| u32::from(self.word(register) & 0xFF);
                let area = ScrollArea {
                    top: high(Word::Cx),
                    left: low(Word::Cx),
                    bottom: high(Word::Dx),
                    right: low(Word::Dx),
                };
                let direction = if service == 0x06 { ScrollDirection::Up } else { ScrollDirection::Down };
                let screen = self.active_screen();
                self.scroll(&screen, area, low(Word::Ax), direction, self.byte(Byte::Bh));
            }
            0x08 => {
                let cell = self.read_cell(self.byte(Byte::Bh) & 7);
                self.set(Word::Ax, u16::from_le_bytes(cell));
            }
            service @ (0x09 | 0x0A) => return Ok(self.write_characters(service == 0x09)),
            0x0B => self.colours()?,
            0x0C => {
                let screen = self.pixel_screen().ok_or_else(|| self.not_here(0x10))?;
                let (x, y) = (self.word(Word::Cx), self.word(Word::Dx));
                self.set_pixel(&screen, u32::from(x), u32::from(y), self.byte(Byte::Al));
            }
            0x0D => {
                let screen = self.pixel_screen().ok_or_else(|| self.not_here(0x10))?;
                let value = self.pixel(&screen, u32::from(self.word(Word::Cx)), u32::from(self.word(Word::Dx)));
                self.set_byte(Byte::Al, value);
            }
            0x0E => {
                let in_text = self.active_screen().is_text();
                let colour = self.byte(Byte::Bl);
                self.teletype(self.byte(Byte::Al), (!in_text).then_some(colour));
            }
            0x0F => {
                let columns = self.active_screen().columns as u8;
                let kept = if self.generation().is_later() { self.load(data::CONTROL) & 0x80 } else { 0 };
                self.set(Word::Ax, u16::from_le_bytes([self.mode_number() | kept, columns]));
                self.set_byte(Byte::Bh, self.active_page());
            }
            0x10 => self.palette()?,
            0x11 => self.character_sets()?,
            0x12 => self.alternate_select()?,
            0x13 => return Ok(self.write_string()),
            0x1A => self.display_combination()?,
            0x1B => self.functionality()?,
            _ => return Err(self.not_here(0x10)),
        }
        Ok(Served::Back)
    }

    /// The page of graphics that BH names; `None` in text.
    fn pixel_screen(&self) -> Option<super::screen::ScreenPage> {
        let page = if self.mode_number() >= 0x0D { self.byte(Byte::Bh) & 7 } else { 0 };
        Some(self.screen(page)).filter(|screen| !screen.is_text())
    }

    /// The cursor's first and last line; lines of characters eight high are scaled to higher ones (from memory).
    pub(super) fn shape_cursor(&mut self, shape: u16) {
        let [end, start] = shape.to_le_bytes();
        self.store_word(data::CURSOR_SHAPE, shape);
        let height = self.load_word(data::CELL_HEIGHT).min(32) as u8;
        let (first, last) = (start & 0x1F, end & 0x1F);
        let scales =
            self.generation().is_later() && self.load(data::CONTROL) & 1 == 0 && height > 8 && first < 8 && last < 8;
        let is_hidden = start & HIDDEN != 0;
        let scaled = |line: u8| (u16::from(line + 1) * u16::from(height) / 8) as u8;
        let (first, last) = if is_hidden && !self.has_cursor_switch() {
            BEYOND
        } else if !scales {
            (first, last)
        } else if last == first + 1 {
            (scaled(last) - 2, scaled(last) - 1)
        } else {
            (scaled(first) - 1, scaled(last) - 1)
        };
        self.program_field(Role::CursorStart, u32::from(first));
        self.program_field(Role::CursorBlink, u32::from(start >> 5 & 3));
        self.program_field(Role::CursorDisable, u32::from(is_hidden));
        self.program_field(Role::CursorEnd, u32::from(last));
    }

    /// Whether the board can hide its cursor by itself.
    fn has_cursor_switch(&self) -> bool {
        let adapter = self.hardware.adapter();
        [Role::CursorDisable, Role::CursorBlink].into_iter().any(|role| adapter.field_with(role).is_some())
    }

    /// Shows a page: its start address and its cursor.
    fn show_page(&mut self, page: u8) {
        if matches!(self.mode_number(), 0x04..=0x06 | 0x11..) {
            return;
        }
        self.store(data::PAGE, page);
        let start = u16::from(page).wrapping_mul(self.load_word(data::PAGE_BYTES));
        self.store_word(data::PAGE_START, start);
        // Text counts in cells of two bytes, planes in bytes.
        let unit = if self.active_screen().is_text() { 2 } else { 1 };
        self.program_field(Role::StartAddress, u32::from(start) / unit);
        self.show_cursor();
    }

    /// The same character this many times from the cursor on, which stays.
    fn write_characters(&mut self, coloured: bool) -> Served {
        let page = self.byte(Byte::Bh) & 7;
        let screen = self.screen(page);
        let (column, row) = self.cursor(page);
        let attribute = (coloured || !screen.is_text()).then(|| self.byte(Byte::Bl));
        let first = row * screen.columns + column;
        let wanted = u32::from(self.word(Word::Cx)).min((screen.rows * screen.columns).saturating_sub(first));
        let done = self.take_progress();
        let now = (done + AT_ONCE).min(wanted);
        for place in first + done..first + now {
            self.draw(&screen, place % screen.columns, place / screen.columns, self.byte(Byte::Al), attribute);
        }
        if now < wanted {
            self.keep_progress(now);
            return Served::GoOn;
        }
        Served::Back
    }

    /// Function 13h: a string at a place, with attributes in BL or in the string.
    fn write_string(&mut self) -> Served {
        let (how, page) = (self.byte(Byte::Al), self.byte(Byte::Bh) & 7);
        let (count, from) = (u32::from(self.word(Word::Cx)), self.at(SegmentRegister::Es, Word::Bp));
        let done = self.take_progress();
        if done == 0 {
            let before = self.cursor(page);
            self.system.string_cursor = before;
            let [column, row] = self.word(Word::Dx).to_le_bytes();
            self.set_cursor(page, u32::from(column), u32::from(row));
        }
        let now = (done + AT_ONCE).min(count);
        let bytes_each = if how & COLOURED != 0 { 2 } else { 1 };
        for index in done..now {
            let at = |more: u16| from.plus((index * bytes_each) as u16 + more);
            let attribute = if how & COLOURED != 0 { self.load(at(1)) } else { self.byte(Byte::Bl) };
            self.type_on(page, self.load(at(0)), Some(attribute));
        }
        if now < count {
            self.keep_progress(now);
            return Served::GoOn;
        }
        if how & MOVES == 0 {
            let (column, row) = self.system.string_cursor;
            self.set_cursor(page, column, row);
        }
        Served::Back
    }
}
