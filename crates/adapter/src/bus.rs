//! The bus: what a byte written to or read from a port does to the registers.

use crate::adapter::Adapter;
use crate::port::{BeamSignals, Effect, Guard, PortRole};
use crate::register::{Bank, Cell, Registers};

/// An open bus (common practice).
const OPEN: u8 = 0xFF;

impl Adapter {
    /// Writes a byte to a port. `true` where some register took it; a port the
    /// board does not have, a protected register and a read-only cell leave
    /// everything as it was.
    pub fn write_port(&self, registers: &mut Registers, port: u16, value: u8, guard: Guard) -> bool {
        self.write(registers, port, value, guard) != Effect::None
    }

    /// Writes a byte to a port and tells what that changed.
    pub fn write(&self, registers: &mut Registers, port: u16, value: u8, guard: Guard) -> Effect {
        let Some(role) = self.port_role(registers, port) else {
            return Effect::None;
        };
        let cursor = &mut registers.dac_cursor;
        match role {
            PortRole::Index(bank) => registers.selected[bank as usize] = value,
            PortRole::Data(bank) => return self.write_selected(registers, bank, value, guard),
            PortRole::Single(index) => {
                return self.write_cell(registers, Bank::Single, index, value, guard);
            }
            PortRole::AttributeFlipFlop => {
                registers.attribute_data_next = !registers.attribute_data_next;
                if !registers.attribute_data_next {
                    return self.write_selected(registers, Bank::Attribute, value, guard);
                }
                let shown = registers.palette_shown();
                registers.selected[Bank::Attribute as usize] = value;
                if shown != registers.palette_shown() {
                    return Effect::DacMask;
                }
            }
            PortRole::LightPenClear => registers.light_pen.set = false,
            // The board latches: it knows where the beam is.
            PortRole::LightPenSet => return Effect::None,
            PortRole::Status | PortRole::AttributeData | PortRole::ReadOnly(_) => return Effect::None,
            PortRole::DacMask => {
                registers.dac_mask = value;
                return Effect::DacMask;
            }
            PortRole::DacReadIndex => {
                cursor.read_index = value;
                (cursor.component, cursor.reads) = (0, true);
            }
            PortRole::DacWriteIndex => {
                cursor.write_index = value;
                (cursor.component, cursor.reads) = (0, false);
            }
            PortRole::DacData => return Self::write_dac(registers, value),
        }
        Effect::Index
    }

    fn write_dac(registers: &mut Registers, value: u8) -> Effect {
        let cursor = &mut registers.dac_cursor;
        cursor.pending[usize::from(cursor.component)] = value & 0x3F;
        cursor.component = (cursor.component + 1) % 3;
        if cursor.component != 0 {
            return Effect::Index;
        }
        let (index, levels) = (cursor.write_index, cursor.pending);
        cursor.write_index = index.wrapping_add(1);
        registers.set_dac(index, levels);
        Effect::Colour(index)
    }

    fn write_selected(&self, registers: &mut Registers, bank: Bank, value: u8, guard: Guard) -> Effect {
        let index = registers.selected[bank as usize] & bank.len().wrapping_sub(1);
        self.write_cell(registers, bank, index, value, guard)
    }

    fn write_cell(&self, registers: &mut Registers, bank: Bank, index: u8, value: u8, guard: Guard) -> Effect {
        let Some(cell) = Cell::new(bank, index) else {
            return Effect::None;
        };
        let shut = match guard {
            Guard::AsRegister => self.protected_bits(registers, cell),
            Guard::Open => 0,
            Guard::Shut => self.protectable_bits(cell),
        };
        let mask = self.writable(cell) & !shut;
        if mask == 0 {
            return Effect::None;
        }
        registers.set_cell(cell, registers.cell(cell) & shut | value & mask);
        registers.vertical_interrupt = registers.vertical_interrupt && self.arms_interrupt(registers);
        Effect::Cell(cell)
    }

    /// The register a write to this port would reach now, where it is one of a bank.
    #[must_use]
    pub fn target(&self, registers: &Registers, port: u16) -> Option<Cell> {
        match self.port_role(registers, port)? {
            PortRole::Data(bank) => Cell::new(bank, registers.selected[bank as usize] & bank.len().wrapping_sub(1)),
            PortRole::AttributeFlipFlop if registers.attribute_data_next => {
                let bank = Bank::Attribute;
                Cell::new(bank, registers.selected[bank as usize] & bank.len().wrapping_sub(1))
            }
            PortRole::Single(index) => Cell::new(Bank::Single, index),
            _ => None,
        }
    }

    /// Reads a byte from a port while the beam puts out these signals.
    /// A port the board does not have reads as FFh, as an open bus does.
    pub fn read_port(&self, registers: &mut Registers, port: u16, beam: &BeamSignals) -> u8 {
        if let Some(input) = &self.profile.input_status_0
            && input.port == port
        {
            return self.status_bits(&input.bits, registers, beam, input.switches);
        }
        let Some(role) = self.port_role(registers, port) else {
            return OPEN;
        };
        match role {
            PortRole::Index(bank) => registers.selected[bank as usize],
            PortRole::AttributeFlipFlop => registers.selected[Bank::Attribute as usize],
            PortRole::AttributeData => {
                let index = registers.selected[Bank::Attribute as usize] & Bank::Attribute.len().wrapping_sub(1);
                self.read_cell(registers, Bank::Attribute, index)
            }
            PortRole::Data(bank) => {
                let index = registers.selected[bank as usize] & bank.len().wrapping_sub(1);
                self.read_cell(registers, bank, index)
            }
            PortRole::Single(index) | PortRole::ReadOnly(index) => self.read_cell(registers, Bank::Single, index),
            PortRole::Status => {
                registers.attribute_data_next = false;
                self.status(registers, beam)
            }
            PortRole::LightPenClear => {
                registers.light_pen.set = false;
                OPEN
            }
            PortRole::LightPenSet => OPEN,
            PortRole::DacMask => registers.dac_mask,
            // The DAC's state: which of the two indices was written last (published: graphics controller manuals).
            PortRole::DacReadIndex => u8::from(registers.dac_cursor.reads) * 3,
            PortRole::DacWriteIndex => registers.dac_cursor.write_index,
            PortRole::DacData => {
                let cursor = &mut registers.dac_cursor;
                let (index, component) = (cursor.read_index, usize::from(cursor.component));
                cursor.component = (cursor.component + 1) % 3;
                if cursor.component == 0 {
                    cursor.read_index = index.wrapping_add(1);
                }
                registers.dac[usize::from(index)][component]
            }
        }
    }

    fn read_cell(&self, registers: &Registers, bank: Bank, index: u8) -> u8 {
        if bank == Bank::Crtc
            && let Some(byte) = self.light_pen_byte(registers, index)
        {
            return byte;
        }
        // What cannot be read leaves the bus open; in a register that can, bits that are not kept read as 0.
        let cell = Cell::new(bank, index).filter(|cell| self.readable(*cell) != 0);
        cell.map_or(OPEN, |cell| registers.cell(cell) & self.readable(cell))
    }
}
