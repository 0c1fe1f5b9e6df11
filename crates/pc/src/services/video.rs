//! Interrupt 10h: the video services a routine calls.

use std::sync::Arc;

use backporch_adapter::{Adapter, Bank, PortRole, Role};
use backporch_raster::Tap;

use super::Served;
use super::text::Area;
use crate::machine::Machine;
use crate::registers::{Byte, Far, Segment, Word};
use crate::trouble::Trouble;

/// Firmware data: the cursor's shape (Technical Reference, firmware data area).
const CURSOR_SHAPE: Far = Far { segment: 0x0040, offset: 0x0060 };

/// Border colour among the attribute controller's registers (VGA register documentation).
const OVERSCAN: u8 = 0x11;

impl<T: Tap> Machine<T> {
    pub(super) fn video(&mut self) -> Result<Served, Trouble> {
        match self.byte(Byte::Ah) {
            0x00 => self.set_mode(self.byte(Byte::Al))?,
            0x01 => self.cursor_shape(),
            0x02 => self.set_cursor(u16::from(self.byte(Byte::Dl)), u16::from(self.byte(Byte::Dh))),
            0x03 => {
                let (column, row) = self.cursor();
                self.set(Word::Dx, u16::from_le_bytes([column as u8, row as u8]));
                self.set(Word::Cx, self.hardware.peek_word(CURSOR_SHAPE.linear()));
            }
            0x05 if self.byte(Byte::Al) == 0 => {}
            service @ (0x06 | 0x07) => {
                let high = |register| self.word(register) >> 8;
                let low = |register| self.word(register) & 0xFF;
                let area =
                    Area { top: high(Word::Cx), left: low(Word::Cx), bottom: high(Word::Dx), right: low(Word::Dx) };
                self.scroll(area, low(Word::Ax), service == 0x06, self.byte(Byte::Bh))?;
            }
            0x08 => {
                let [code, attribute] = self.read_cell().ok_or_else(|| self.not_here(0x10))?;
                self.set(Word::Ax, u16::from_le_bytes([code, attribute]));
            }
            service @ (0x09 | 0x0A) => self.write_characters(service == 0x09)?,
            0x0B => self.colours()?,
            0x0C => {
                let (x, y) = (self.word(Word::Cx), self.word(Word::Dx));
                self.write_pixel(x, y, self.byte(Byte::Al)).ok_or_else(|| self.not_here(0x10))?;
            }
            0x0D => {
                let value = self.read_pixel(self.word(Word::Cx), self.word(Word::Dx));
                self.set_byte(Byte::Al, value.ok_or_else(|| self.not_here(0x10))?);
            }
            0x0E => self.teletype(self.byte(Byte::Al), None)?,
            0x0F => {
                let columns = self.columns() as u8;
                self.set(Word::Ax, u16::from_le_bytes([self.mode_number(), columns]));
                self.set_byte(Byte::Bh, 0);
            }
            0x10 => self.palette()?,
            _ => return Err(self.not_here(0x10)),
        }
        Ok(Served::Back)
    }

    /// Programs the field with a role; `false` where the board has none.
    fn program_field(&mut self, role: Role, value: u32) -> bool {
        let adapter = Arc::clone(self.hardware.board().adapter());
        let Some(field) = adapter.field_with(role) else { return false };
        let writes = adapter.programming(self.hardware.board().registers(), field, value);
        writes.into_iter().for_each(|(port, value)| self.hardware.program(port, value));
        true
    }

    fn cursor_shape(&mut self) {
        let [end, start] = self.word(Word::Cx).to_le_bytes();
        self.store_word(CURSOR_SHAPE, self.word(Word::Cx));
        self.program_field(Role::CursorStart, u32::from(start & 0x1F));
        self.program_field(Role::CursorBlink, u32::from(start >> 5 & 3));
        self.program_field(Role::CursorEnd, u32::from(end & 0x1F));
    }

    /// The same character so many times from the cursor on, which stays.
    fn write_characters(&mut self, coloured: bool) -> Result<(), Trouble> {
        let (mut column, mut row) = self.cursor();
        let in_text = self.read_cell().is_some();
        let attribute = (coloured || !in_text).then(|| self.byte(Byte::Bl));
        for _ in 0..self.word(Word::Cx) {
            self.draw(column, row, self.byte(Byte::Al), attribute)?;
            column += 1;
            if column >= self.columns() {
                (column, row) = (0, row.wrapping_add(1));
            }
            if row >= 25 {
                break;
            }
        }
        Ok(())
    }

    /// Background and border, or one of the two sets of the four-colour mode.
    fn colours(&mut self) -> Result<(), Trouble> {
        let value = u32::from(self.byte(Byte::Bl));
        let done = match self.byte(Byte::Bh) {
            0 => {
                self.program_field(Role::RgbiColour, value & 15) && self.program_field(Role::BrightSet, value >> 4 & 1)
            }
            1 => self.program_field(Role::ColourSet, value & 1),
            _ => false,
        };
        done.then_some(()).ok_or_else(|| self.not_here(0x10))
    }

    /// Attribute registers and DAC, one by one and in blocks.
    fn palette(&mut self) -> Result<(), Trouble> {
        let adapter = Arc::clone(self.hardware.board().adapter());
        let has = |role| adapter.port_of(role).is_some();
        let (low, high) = (self.byte(Byte::Bl), self.byte(Byte::Bh));
        match self.byte(Byte::Al) {
            0x00 if has(PortRole::AttributeFlipFlop) => {
                self.write_register(&adapter, Bank::Attribute, low & 0x1F, high)
            }
            0x01 if has(PortRole::AttributeFlipFlop) => self.write_register(&adapter, Bank::Attribute, OVERSCAN, high),
            0x02 if has(PortRole::AttributeFlipFlop) => {
                let from = self.at(Segment::Es, Word::Dx);
                for index in 0..17u8 {
                    let value = self.load(Far::new(from.segment, from.offset.wrapping_add(u16::from(index))));
                    let register = if index == 16 { OVERSCAN } else { index };
                    self.write_register(&adapter, Bank::Attribute, register, value);
                }
            }
            0x10 if has(PortRole::DacData) => {
                let levels = [self.byte(Byte::Dh), self.byte(Byte::Ch), self.byte(Byte::Cl)];
                self.write_dac(&adapter, low, levels);
            }
            0x12 if has(PortRole::DacData) => self.write_block(&adapter),
            0x15 if has(PortRole::DacData) => {
                let [red, green, blue] = self.hardware.board().registers().dac(low);
                self.set_byte(Byte::Dh, red);
                self.set_byte(Byte::Ch, green);
                self.set_byte(Byte::Cl, blue);
            }
            0x17 if has(PortRole::DacData) => self.read_block(),
            _ => return Err(self.not_here(0x10)),
        }
        Ok(())
    }

    /// Indices of a block of the DAC and where each colour's three levels lie.
    fn block(&self) -> impl Iterator<Item = (u8, Far)> + use<T> {
        let (first, at) = (self.word(Word::Bx), self.at(Segment::Es, Word::Dx));
        let place = move |index: u16| Far::new(at.segment, at.offset.wrapping_add(index * 3));
        (0..self.word(Word::Cx).min(256)).map(move |index| (first.wrapping_add(index) as u8, place(index)))
    }

    fn write_block(&mut self, adapter: &Adapter) {
        for (index, at) in self.block() {
            let level = |more: u16| self.load(Far::new(at.segment, at.offset.wrapping_add(more)));
            let levels = [level(0), level(1), level(2)];
            self.write_dac(adapter, index, levels);
        }
    }

    fn read_block(&mut self) {
        for (index, at) in self.block() {
            let levels = self.hardware.board().registers().dac(index);
            for (more, level) in (0..).zip(levels) {
                self.store(Far::new(at.segment, at.offset.wrapping_add(more)), level);
            }
        }
    }
}
