//! Setting a mode through the ports, register by register, as firmware does.

use crate::mode::Mode;
use crate::port::PortRole;
use crate::register::{Bank, PALETTE_SHOWN, Registers};
use crate::{Adapter, FirmwareMode};

/// A board as one reaches it: by its ports.
pub trait BoardPorts {
    /// What its registers hold: where ports move by a register, that tells where they are.
    fn registers(&self) -> &Registers;

    /// Reads a port for what that does.
    fn read(&mut self, port: u16);

    /// Writes a port.
    fn write(&mut self, port: u16, value: u8);
}

impl Adapter {
    /// Sets a mode: protection lifted, the mode's registers in their order, then the colours that firmware loads.
    ///
    /// Registers without a port are left out.
    pub fn set_mode(&self, mode: &Mode, firmware: &FirmwareMode, board: &mut impl BoardPorts) {
        if let Some(protect) = self.protect_field() {
            for (port, value) in self.programming(board.registers(), protect, 0) {
                board.write(port, value);
            }
        }
        for block in &mode.registers {
            for (index, value) in (block.from..).zip(&block.values) {
                self.write_register(block.bank, index, *value, board);
            }
        }
        for (index, levels) in firmware.dac.unwrap_or(mode.dac).entries() {
            self.load_colour(index, levels, board);
        }
    }

    /// Writes one register through its ports; one without a port is left out.
    pub fn write_register(&self, bank: Bank, index: u8, value: u8, board: &mut impl BoardPorts) {
        let port = |role| self.port_of(board.registers(), role);
        match bank {
            Bank::Single => {
                if let Some(single) = port(PortRole::Single(index)) {
                    board.write(single, value);
                }
            }
            Bank::Attribute => {
                if let (Some(status), Some(both)) = (port(PortRole::Status), port(PortRole::AttributeFlipFlop)) {
                    // Reading the status port makes the next write an index.
                    board.read(status);
                    [index | PALETTE_SHOWN, value].into_iter().for_each(|byte| board.write(both, byte));
                }
            }
            bank => {
                if let (Some(select), Some(data)) = (port(PortRole::Index(bank)), port(PortRole::Data(bank))) {
                    board.write(select, index);
                    board.write(data, value);
                }
            }
        }
    }

    /// Writes one DAC colour of three 6-bit levels.
    pub fn load_colour(&self, index: u8, levels: [u8; 3], board: &mut impl BoardPorts) {
        let port = |role| self.port_of(board.registers(), role);
        if let (Some(select), Some(data)) = (port(PortRole::DacWriteIndex), port(PortRole::DacData)) {
            board.write(select, index);
            levels.into_iter().for_each(|level| board.write(data, level));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{ADAPTERS, BeamSignals, Guard};

    /// Registers behind the ports, and nothing else of a board.
    struct Cells<'a> {
        adapter: &'a Adapter,
        registers: Registers,
    }

    impl BoardPorts for Cells<'_> {
        fn registers(&self) -> &Registers {
            &self.registers
        }

        fn read(&mut self, port: u16) {
            self.adapter.read_port(&mut self.registers, port, &BeamSignals::default());
        }

        fn write(&mut self, port: u16, value: u8) {
            self.adapter.write(&mut self.registers, port, value, Guard::AsRegister);
        }
    }

    /// From whatever mode before, a mode's registers hold what they start with.
    #[test]
    fn a_mode_that_is_set_is_the_one_that_starts() {
        let mut modes = 0;
        for name in ADAPTERS.names() {
            let adapter = Adapter::built_in(name).unwrap();
            for mode in &adapter.profile().modes {
                let Some(firmware) = &mode.firmware else { continue };
                let mut cells = Cells { adapter: &adapter, registers: adapter.start_up(adapter.default_mode()) };
                adapter.set_mode(mode, firmware, &mut cells);
                let wanted = adapter.start_up(mode);
                for (field, info) in adapter.fields() {
                    let (found, wanted) = (adapter.get(&cells.registers, field), adapter.get(&wanted, field));
                    assert_eq!(found, wanted, "{name} {} {}", mode.name, info.name);
                }
                modes += 1;
            }
        }
        assert!(modes > 20, "{modes}");
    }
}
