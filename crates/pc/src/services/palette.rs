//! Colours: palette registers, border, DAC (functions 0Bh and 10h of interrupt 10h).

use std::sync::Arc;

use backporch_adapter::{Adapter, Bank, Cell, PortRole, Role};
use backporch_raster::Tap;

use super::screen::is_text_mode;
use crate::machine::Machine;
use crate::registers::{Byte, Far, SegmentRegister, Word};
use crate::trouble::Trouble;

/// Registers of the attribute controller: its mode, border, upper DAC bits (VGA register documentation).
const ATTRIBUTE_MODE: u8 = 0x10;
const OVERSCAN: u8 = 0x11;
const COLOUR_SELECT: u8 = 0x14;

/// Registers of a whole palette, in the order of a table of them: sixteen colours, then the border.
const PALETTE: [u8; 17] = [0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 13, 14, 15, OVERSCAN];

/// Bits of the attribute mode: blinking, four colours to choose from.
const BLINK: u8 = 0x08;
const SPLIT: u8 = 0x80;

impl<T: Tap> Machine<T> {
    /// Background and border, or one of the two sets of the four-colour mode.
    pub(super) fn colours(&mut self) -> Result<(), Trouble> {
        let adapter = Arc::clone(self.hardware.board().adapter());
        if adapter.has_port_for(PortRole::AttributeFlipFlop) {
            self.colours_by_palette(&adapter);
            return Ok(());
        }
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

    /// The same where they are palette registers; their bit 4 is intensity (Technical Reference, firmware of the
    /// enhanced graphics adapter).
    fn colours_by_palette(&mut self, adapter: &Adapter) {
        let value = self.byte(Byte::Bl);
        match self.byte(Byte::Bh) {
            0 => {
                let colour = value & 7 | (value & 8) << 1;
                if !is_text_mode(self.mode_number()) {
                    self.write_register(adapter, Bank::Attribute, 0, colour);
                }
                self.write_register(adapter, Bank::Attribute, OVERSCAN, colour);
            }
            _ => {
                let bright = self.attribute(1) & 0x10;
                for (register, colour) in (1..).zip([2, 4, 6]) {
                    self.write_register(adapter, Bank::Attribute, register, bright | colour | value & 1);
                }
            }
        }
    }

    /// What a register of the attribute controller holds.
    fn attribute(&self, index: u8) -> u8 {
        Cell::new(Bank::Attribute, index).map_or(0, |cell| self.hardware.board().registers().cell(cell))
    }

    /// Attribute registers and DAC, one by one and in blocks.
    pub(super) fn palette(&mut self) -> Result<(), Trouble> {
        let adapter = Arc::clone(self.hardware.board().adapter());
        let has = |role| adapter.has_port_for(role);
        let (attributes, dac, dac_mask) =
            (has(PortRole::AttributeFlipFlop), has(PortRole::DacData), has(PortRole::DacMask));
        // Only boards with a DAC can be read back.
        let reads = attributes && dac;
        let (low, high) = (self.byte(Byte::Bl), self.byte(Byte::Bh));
        match self.byte(Byte::Al) {
            0x00 if attributes => self.write_register(&adapter, Bank::Attribute, low & 0x1F, high),
            0x01 if attributes => self.write_register(&adapter, Bank::Attribute, OVERSCAN, high),
            0x02 if attributes => {
                let from = self.at(SegmentRegister::Es, Word::Dx);
                for (at, register) in (0..).zip(PALETTE) {
                    let value = self.load(from.plus(at));
                    self.write_register(&adapter, Bank::Attribute, register, value);
                }
            }
            0x03 if attributes => {
                let mode = self.attribute(ATTRIBUTE_MODE) & !BLINK | if low & 1 != 0 { BLINK } else { 0 };
                self.write_register(&adapter, Bank::Attribute, ATTRIBUTE_MODE, mode);
            }
            0x07 if reads => {
                self.set_byte(Byte::Bh, self.attribute(low & 0x1F));
            }
            0x08 if reads => {
                self.set_byte(Byte::Bh, self.attribute(OVERSCAN));
            }
            0x09 if reads => {
                let to = self.at(SegmentRegister::Es, Word::Dx);
                for (at, register) in (0..).zip(PALETTE) {
                    self.store(to.plus(at), self.attribute(register));
                }
            }
            0x13 if reads => match low {
                0 => {
                    let mode = self.attribute(ATTRIBUTE_MODE) & !SPLIT | if high & 1 != 0 { SPLIT } else { 0 };
                    self.write_register(&adapter, Bank::Attribute, ATTRIBUTE_MODE, mode);
                }
                _ => {
                    let shift = if self.attribute(ATTRIBUTE_MODE) & SPLIT != 0 { 0 } else { 2 };
                    self.write_register(&adapter, Bank::Attribute, COLOUR_SELECT, high << shift & 0x0F);
                }
            },
            0x10 if dac => {
                let levels = [self.byte(Byte::Dh), self.byte(Byte::Ch), self.byte(Byte::Cl)];
                self.write_dac(&adapter, low, levels);
            }
            0x12 if dac => self.write_block(&adapter),
            0x15 if dac => {
                let [red, green, blue] = self.hardware.board().registers().dac(low);
                self.set_byte(Byte::Dh, red);
                self.set_byte(Byte::Ch, green);
                self.set_byte(Byte::Cl, blue);
            }
            0x17 if dac => self.read_block(),
            0x18 if dac_mask => {
                if let Some(mask) = adapter.port_of(self.hardware.board().registers(), PortRole::DacMask) {
                    self.hardware.program(mask, low);
                }
            }
            0x19 if dac_mask => self.set_byte(Byte::Bl, self.hardware.board().registers().dac_mask()),
            0x1B if dac => self.sum_to_grey(&adapter),
            _ => return Err(self.not_here(0x10)),
        }
        Ok(())
    }

    /// Indices of a block of the DAC and where each colour's three levels lie.
    fn block(&self) -> impl Iterator<Item = (u8, Far)> + use<T> {
        let (first, at) = (self.word(Word::Bx), self.at(SegmentRegister::Es, Word::Dx));
        let place = move |index: u16| at.plus(index * 3);
        (0..self.word(Word::Cx).min(256)).map(move |index| (first.wrapping_add(index) as u8, place(index)))
    }

    fn write_block(&mut self, adapter: &Adapter) {
        for (index, at) in self.block() {
            let level = |more: u16| self.load(at.plus(more));
            let levels = [level(0), level(1), level(2)];
            self.write_dac(adapter, index, levels);
        }
    }

    /// Turns a block of the DAC into greys of the same brightness: 30 % red, 59 % green, 11 % blue (common practice).
    fn sum_to_grey(&mut self, adapter: &Adapter) {
        let (first, count) = (self.word(Word::Bx), self.word(Word::Cx).min(256));
        for index in 0..count {
            let index = first.wrapping_add(index) as u8;
            let [red, green, blue] = self.hardware.board().registers().dac(index).map(u32::from);
            let grey = ((30 * red + 59 * green + 11 * blue + 50) / 100).min(63) as u8;
            self.write_dac(adapter, index, [grey; 3]);
        }
    }

    fn read_block(&mut self) {
        for (index, at) in self.block() {
            let levels = self.hardware.board().registers().dac(index);
            for (more, level) in (0..).zip(levels) {
                self.store(at.plus(more), level);
            }
        }
    }
}
