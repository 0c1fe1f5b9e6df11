//! Programming a named register as a routine does: index, data, byte by byte.

use crate::port::PortRole;
use crate::register::{Bank, PALETTE_SHOWN, Registers};
use crate::{Adapter, FieldId};

impl Adapter {
    /// The port writes that store `value` in a field: upper byte first, other
    /// fields of its cells kept, protection lifted before and restored after.
    ///
    /// Empty where no port reaches the field.
    #[must_use]
    pub fn programming(&self, registers: &Registers, field: FieldId, value: u32) -> Vec<(u16, u8)> {
        let mut wanted = registers.clone();
        if self.set(&mut wanted, field, u64::from(value)).is_err() {
            return Vec::new();
        }
        let cells = self.field_info(field).bits.iter().rev().filter_map(|slice| slice.cell());
        let cells: Vec<_> = cells.collect();
        let bits = &self.field_info(field).bits;
        let is_shut = |slice: &crate::Slice| {
            slice.cell().is_some_and(|cell| self.protected_bits(registers, cell) & slice.mask() != 0)
        };
        let shut = bits.iter().any(is_shut);
        let mut writes = Vec::new();
        let lift = self.protect_field().filter(|_| shut);
        if let Some(protect) = lift {
            let old = self.get(registers, protect);
            writes.extend(self.programming(registers, protect, 0));
            let mut open = registers.clone();
            let _ = self.set(&mut open, protect, 0);
            writes.extend(cells.iter().flat_map(|cell| self.cell_writes(registers, *cell, wanted.cell(*cell))));
            writes.extend(self.programming(&open, protect, old));
        } else {
            writes.extend(cells.iter().flat_map(|cell| self.cell_writes(registers, *cell, wanted.cell(*cell))));
        }
        writes
    }

    /// The port writes that store a byte in a cell under these registers, whatever protects it.
    ///
    /// Empty where no port reaches the cell.
    #[must_use]
    pub fn cell_writes(&self, registers: &Registers, cell: crate::Cell, byte: u8) -> Vec<(u16, u8)> {
        let (bank, index) = cell.bank_and_index();
        let port = |role| self.port_of(registers, role);
        let through = match bank {
            Bank::Single => port(PortRole::Single(index)).map(|at| vec![(at, byte)]),
            bank => match (port(PortRole::Index(bank)), port(PortRole::Data(bank))) {
                (Some(select), Some(data)) => Some(vec![(select, index), (data, byte)]),
                _ => port(PortRole::AttributeFlipFlop).map(|at| vec![(at, index | PALETTE_SHOWN), (at, byte)]),
            },
        };
        through.unwrap_or_default()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Guard;

    /// Register 10h protects the horizontal registers and must be cleared
    /// first (common practice for the 64 KiB 256-colour class).
    #[test]
    fn protected_registers_are_unlocked_and_locked_again() {
        let adapter = Adapter::built_in("linear-256").unwrap();
        let mut registers = adapter.start_up(adapter.default_mode());
        let displayed = adapter.field("displayed").unwrap();
        let writes = adapter.programming(&registers, displayed, 31);
        assert_eq!(writes, [(0x3D4, 0x10), (0x3D5, 0x00), (0x3D4, 0x01), (0x3D5, 31), (0x3D4, 0x10), (0x3D5, 0x80)]);
        for (port, byte) in &writes[2..4] {
            adapter.write_port(&mut registers, *port, *byte, Guard::AsRegister);
        }
        assert_eq!(adapter.get(&registers, displayed), 39, "still protected");
        for (port, byte) in writes {
            adapter.write_port(&mut registers, port, byte, Guard::AsRegister);
        }
        assert_eq!(adapter.get(&registers, displayed), 31);
        assert_eq!(adapter.get(&registers, adapter.field("write_protect").unwrap()), 1);
    }

    #[test]
    fn every_writable_field_can_be_programmed() {
        for name in crate::ADAPTERS.names() {
            let adapter = Adapter::built_in(name).unwrap();
            let start = adapter.start_up(adapter.default_mode());
            for (field, info) in adapter.fields().filter(|(_, info)| info.access.writes()) {
                let mut registers = start.clone();
                for (port, byte) in adapter.programming(&start, field, info.max()) {
                    adapter.write_port(&mut registers, port, byte, Guard::AsRegister);
                }
                assert_eq!(adapter.get(&registers, field), info.max(), "{name} {}", info.name);
            }
        }
    }
}
