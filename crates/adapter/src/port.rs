//! Ports: what a byte written to or read from the bus does to the registers.

use serde::{Deserialize, Serialize};

use crate::register::{Bank, Cell, Registers};
use crate::{Access, Adapter};

/// What a port does.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum PortRole {
    /// Selects a register of a bank.
    Index(Bank),
    /// Reads and writes the selected register of a bank.
    Data(Bank),
    /// Writes index and data of the attribute controller in turn.
    AttributeFlipFlop,
    /// Reads the selected register of the attribute controller; writes do nothing.
    AttributeData,
    /// A single register.
    Single(u8),
    /// A single register under an address of its own for reading.
    ReadOnly(u8),
    /// Status, read only; reading it makes the attribute port take an index next.
    Status,
    /// Mask between pixel values and DAC.
    DacMask,
    /// Selects the DAC entry read next.
    DacReadIndex,
    /// Selects the DAC entry written next.
    DacWriteIndex,
    /// Red, green and blue level in turn, then the next entry.
    DacData,
}

/// The port numbers of one role.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PortAt {
    /// Port numbers that decode to it.
    pub at: Vec<u16>,
    /// What it does.
    pub role: PortRole,
}

/// Ports by number: what the bus asks for most.
#[derive(Clone, Debug, Default)]
pub(crate) struct Ports {
    first: u16,
    roles: Vec<Option<PortRole>>,
}

impl Ports {
    /// Where a number is written twice, its first row counts.
    pub fn new(rows: &[PortAt]) -> Self {
        let numbers = || rows.iter().flat_map(|row| row.at.iter().copied());
        let (first, last) = (numbers().min().unwrap_or(0), numbers().max().unwrap_or(0));
        let mut roles = vec![None; usize::from(last - first) + 1];
        for row in rows.iter().rev() {
            for at in &row.at {
                roles[usize::from(at - first)] = Some(row.role);
            }
        }
        Self { first, roles }
    }

    pub fn has(&self, role: PortRole) -> bool {
        self.roles.contains(&Some(role))
    }

    pub fn role(&self, port: u16) -> Option<PortRole> {
        let at = port.checked_sub(self.first)?;
        self.roles.get(usize::from(at)).copied().flatten()
    }
}

/// A signal a status bit shows.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum StatusSignal {
    /// 1 while nothing is displayed.
    DisplayDisabled,
    /// 1 during vertical sync.
    VerticalSync,
    /// 1 outside vertical sync.
    NoVerticalSync,
    /// 1 during horizontal sync.
    HorizontalSync,
    /// Always 1.
    One,
}

/// One bit of the status port.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct StatusBit {
    /// Bit number, 0 to 7.
    pub bit: u8,
    /// What it shows.
    pub shows: StatusSignal,
}

/// Whether the write protection of registers is heeded. A faulty board may
/// not heed it, or never release it.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Guard {
    /// As the protect register says.
    #[default]
    AsRegister,
    /// Protected registers take every write.
    Open,
    /// Protected registers take no write.
    Shut,
}

/// What a byte written to a port changed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Effect {
    /// Nothing: no such port, a protected register, a read-only one.
    None,
    /// An index, or where the DAC's data port stands.
    Index,
    /// A register.
    Cell(Cell),
    /// One colour of the DAC.
    Colour(u8),
    /// The mask before the DAC.
    DacMask,
}

impl Adapter {
    /// Writes a byte to a port. `true` where some register took it; a port the
    /// board does not have, a protected register and a read-only cell leave
    /// everything as it was.
    pub fn write_port(&self, registers: &mut Registers, port: u16, value: u8, guard: Guard) -> bool {
        self.write(registers, port, value, guard) != Effect::None
    }

    /// Writes a byte to a port and tells what that changed.
    pub fn write(&self, registers: &mut Registers, port: u16, value: u8, guard: Guard) -> Effect {
        let Some(role) = self.role(port) else {
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
            PortRole::Status | PortRole::AttributeData | PortRole::ReadOnly(_) => return Effect::None,
            PortRole::DacMask => {
                registers.dac_mask = value;
                return Effect::DacMask;
            }
            PortRole::DacReadIndex => {
                cursor.read_index = value;
                cursor.component = 0;
            }
            PortRole::DacWriteIndex => {
                cursor.write_index = value;
                cursor.component = 0;
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
        Effect::Cell(cell)
    }

    /// The register a write to this port would reach now, where it is one of a bank.
    #[must_use]
    pub fn target(&self, registers: &Registers, port: u16) -> Option<Cell> {
        match self.role(port)? {
            PortRole::Data(bank) => Cell::new(bank, registers.selected[bank as usize] & bank.len().wrapping_sub(1)),
            PortRole::AttributeFlipFlop if registers.attribute_data_next => {
                let bank = Bank::Attribute;
                Cell::new(bank, registers.selected[bank as usize] & bank.len().wrapping_sub(1))
            }
            PortRole::Single(index) => Cell::new(Bank::Single, index),
            _ => None,
        }
    }

    /// Reads a byte from a port, `status` being what the status port shows now.
    /// A port the board does not have reads as FFh, as an open bus does.
    pub fn read_port(&self, registers: &mut Registers, port: u16, status: u8) -> u8 {
        let Some(role) = self.role(port) else {
            return 0xFF;
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
                status
            }
            PortRole::DacMask => registers.dac_mask,
            PortRole::DacReadIndex | PortRole::DacWriteIndex => registers.dac_cursor.write_index,
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
        Cell::new(bank, index).map_or(0, |cell| registers.cell(cell) & self.readable(cell))
    }
}

impl Access {
    /// Whether a port write reaches the field.
    #[must_use]
    pub fn writes(self) -> bool {
        self != Self::ReadOnly
    }

    /// Whether a port read shows the field.
    #[must_use]
    pub fn reads(self) -> bool {
        self != Self::WriteOnly
    }
}
