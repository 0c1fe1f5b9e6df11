//! Drawing in graphics: glyphs, pixels, blocks, in packed pixels and in planes.

use std::sync::Arc;

use backporch_adapter::{Bank, Cell, PLANES};
use backporch_raster::Tap;

use super::data;
use super::screen::{Cells, ScreenPage};
use crate::machine::Machine;
use crate::registers::Far;
use crate::rom;

/// Registers of sequencer and graphics controller (VGA register documentation).
const MAP_MASK: u8 = 2;
const ENABLE_SET_RESET: u8 = 1;
const ROTATE: u8 = 3;
const GRAPHICS_MODE: u8 = 5;
const BIT_MASK: u8 = 8;

/// The logic function that mixes by exclusive or.
const EXCLUSIVE_OR: u8 = 0x18;

/// Write modes: bytes as they are, latches, colours.
const PLAIN: u8 = 0;
const LATCHES: u8 = 1;
const COLOURS: u8 = 2;

/// Codes of a character set.
const CODES: u16 = 256;

/// In an attribute: mix by exclusive or (Technical Reference, firmware).
const MIX: u8 = 0x80;

impl<T: Tap> Machine<T> {
    /// Gives a register a value where it has another.
    fn want(&mut self, bank: Bank, index: u8, value: u8) {
        let held = Cell::new(bank, index).map(|cell| self.hardware.board().registers().cell(cell));
        if held != Some(value) {
            let adapter = Arc::clone(self.hardware.board().adapter());
            self.write_register(&adapter, bank, index, value);
        }
    }

    /// Writes to planes: in a write mode, to these planes, under a logic function and bit mask.
    fn write_planes(&mut self, mode: u8, planes: u8, function: u8, mask: u8) {
        let cell = Cell::new(Bank::Graphics, GRAPHICS_MODE);
        let held = cell.map_or(0, |cell| self.hardware.board().registers().cell(cell));
        self.want(Bank::Sequencer, MAP_MASK, planes);
        self.want(Bank::Graphics, ENABLE_SET_RESET, 0);
        self.want(Bank::Graphics, ROTATE, function);
        // Reads of the chosen plane, as the latches are all that is wanted.
        self.want(Bank::Graphics, GRAPHICS_MODE, held & !0x0B | mode);
        self.want(Bank::Graphics, BIT_MASK, mask);
    }

    /// As modes of planes leave the way to memory.
    pub(super) fn leave_planes(&mut self) {
        self.write_planes(PLAIN, 0x0F, 0, 0xFF);
    }

    /// A line of a glyph, from the set the vectors point at.
    fn glyph_line(&self, screen: &ScreenPage, code: u8, line: u32) -> u8 {
        let height = screen.height as u16;
        let (set, code) = match (self.generation().is_later(), code) {
            (true, _) => (self.pointed(data::GLYPHS), code),
            (false, 0x80..) => (self.pointed(data::UPPER_GLYPHS), code - 0x80),
            (false, _) => (Far::new(rom::SEGMENT, rom::font::PUBLISHED), code),
        };
        self.load(set.plus(u16::from(code) * height + line as u16))
    }

    /// Draws a glyph; bit 7 of the attribute mixes it in where pixels have fewer than eight bits.
    pub(super) fn draw_glyph(&mut self, screen: &ScreenPage, column: u32, row: u32, code: u8, attribute: u8) {
        let lines: Vec<u8> = (0..screen.height).map(|line| self.glyph_line(screen, code, line)).collect();
        let place = |line: usize| screen.line(row * screen.height + line as u32) + column * screen.column_bytes();
        match screen.cells {
            Cells::Text => {}
            Cells::Packed { bits, .. } => {
                for (line, glyph) in lines.into_iter().enumerate() {
                    for (at, byte) in (place(line)..).zip(pack(glyph, attribute, bits)).take(bits as usize) {
                        let mixes = attribute & MIX != 0 && bits < 8;
                        self.put(at, if mixes { byte ^ self.look_at(at) } else { byte });
                    }
                }
            }
            Cells::Planes if attribute & MIX != 0 => {
                self.write_planes(PLAIN, attribute & 0x0F, EXCLUSIVE_OR, 0xFF);
                for (line, glyph) in lines.into_iter().enumerate() {
                    self.latch(place(line));
                    self.put(place(line), glyph);
                }
                self.leave_planes();
            }
            Cells::Planes => {
                self.leave_planes();
                (0..lines.len()).for_each(|line| self.put(place(line), 0));
                self.write_planes(PLAIN, attribute & 0x0F, 0, 0xFF);
                lines.into_iter().enumerate().for_each(|(line, glyph)| self.put(place(line), glyph));
                self.leave_planes();
            }
        }
    }

    /// The code whose glyph stands at a place, 0 where none does.
    pub(super) fn find_glyph(&self, screen: &ScreenPage, column: u32, row: u32) -> u8 {
        let line = |line: u32| {
            let y = row * screen.height + line;
            (0..8).fold(0u8, |bits, x| bits << 1 | u8::from(self.pixel(screen, column * 8 + x, y) != 0))
        };
        let found: Vec<u8> = (0..screen.height).map(line).collect();
        let shows = |code: u8| (0..).zip(&found).all(|(line, bits)| self.glyph_line(screen, code, line) == *bits);
        (0..CODES).map(|code| code as u8).find(|code| shows(*code)).unwrap_or(0)
    }

    /// Address, shift and mask of a packed pixel.
    fn packed_pixel(screen: &ScreenPage, bits: u32, x: u32, y: u32) -> (u32, u32, u8) {
        let shift = 8 - bits - x * bits % 8;
        (screen.line(y) + x * bits / 8, shift, (((1u16 << bits) - 1) << shift) as u8)
    }

    /// A pixel's value, 0 in text.
    pub(super) fn pixel(&self, screen: &ScreenPage, x: u32, y: u32) -> u8 {
        match screen.cells {
            Cells::Text => 0,
            Cells::Packed { bits, .. } => {
                let (at, shift, mask) = Self::packed_pixel(screen, bits, x, y);
                (self.look_at(at) & mask) >> shift
            }
            Cells::Planes => {
                let board = self.hardware.board();
                let offset = (screen.line(y) + x / 8).wrapping_sub(self.hardware.window().start);
                let Some(address) = board.adapter().memory_path(board.registers()).address(offset) else { return 0 };
                let first = (address / PLANES * PLANES) as usize;
                let bytes = board.memory().get(first..first + 4).unwrap_or(&[0; 4]);
                let bit = |plane: usize| (bytes[plane] >> (7 - x % 8) & 1) << plane;
                (0..4).map(bit).sum()
            }
        }
    }

    /// Writes a pixel; bit 7 mixes it in where pixels have fewer than eight bits.
    pub(super) fn set_pixel(&mut self, screen: &ScreenPage, x: u32, y: u32, value: u8) {
        match screen.cells {
            Cells::Text => {}
            Cells::Packed { bits, .. } => {
                let (at, shift, mask) = Self::packed_pixel(screen, bits, x, y);
                let (old, new) = (self.look_at(at), value << shift & mask);
                let mixes = bits < 8 && value & MIX != 0;
                self.put(at, if mixes { old ^ new } else { old & !mask | new });
            }
            Cells::Planes => {
                let function = if value & MIX != 0 { EXCLUSIVE_OR } else { 0 };
                self.write_planes(COLOURS, 0x0F, function, 0x80 >> (x % 8));
                let at = screen.line(y) + x / 8;
                self.latch(at);
                self.put(at, value & 0x0F);
                self.leave_planes();
            }
        }
    }

    /// Fills bytes of a line with a colour.
    pub(super) fn fill_line(&mut self, screen: &ScreenPage, from: u32, bytes: u32, colour: u8) {
        match screen.cells {
            Cells::Text => (from..from + bytes).step_by(2).for_each(|at| {
                self.put(at, b' ');
                self.put(at + 1, colour);
            }),
            Cells::Packed { .. } => (from..from + bytes).for_each(|at| self.put(at, colour)),
            Cells::Planes => {
                self.write_planes(COLOURS, 0x0F, 0, 0xFF);
                (from..from + bytes).for_each(|at| self.put(at, colour & 0x0F));
            }
        }
    }

    /// Copies bytes of a line to another.
    pub(super) fn copy_line(&mut self, screen: &ScreenPage, from: u32, to: u32, bytes: u32) {
        if screen.cells == Cells::Planes {
            self.write_planes(LATCHES, 0x0F, 0, 0xFF);
        }
        for index in 0..bytes {
            match screen.cells {
                Cells::Planes => {
                    self.latch(from + index);
                    self.put(to + index, 0);
                }
                _ => self.put(to + index, self.look_at(from + index)),
            }
        }
    }
}

/// A line of a character in pixels of 1, 2 or 8 bits: as many bytes.
fn pack(glyph: u8, attribute: u8, bits: u32) -> [u8; 8] {
    let most = if bits == 8 { 0xFF } else { (1 << bits) - 1 };
    let colour = u64::from(attribute) & most;
    let pixels = (0..8).rev().map(|bit| if glyph >> bit & 1 != 0 { colour } else { 0 });
    let line = pixels.fold(0u64, |line, pixel| line << bits | pixel);
    let mut bytes = [0; 8];
    let all = line.to_be_bytes();
    bytes[..bits as usize].copy_from_slice(&all[8 - bits as usize..]);
    bytes
}

#[cfg(test)]
mod tests {
    use super::pack;

    #[test]
    fn glyphs_are_packed_most_significant_first() {
        assert_eq!(pack(0b1010_0001, 1, 1)[..1], [0b1010_0001]);
        assert_eq!(pack(0b1010_0001, 3, 2)[..2], [0b1100_1100, 0b0000_0011]);
        assert_eq!(pack(0b1000_0001, 0xE5, 8), [0xE5, 0, 0, 0, 0, 0, 0, 0xE5]);
    }
}
