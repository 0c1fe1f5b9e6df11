//! Bits of controller registers that a survey turns over and back.

use backporch_adapter::{Adapter, Bank, Cell, Mode};

use super::SURVEYED_REGISTERS;

/// A bit of a controller register whose turning over leaves the signal as it is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct TurnedBit {
    /// Index of the register.
    pub index: u8,
    /// What the mode leaves in the register.
    pub value: u8,
    /// The bit, as a mask of one bit.
    pub bit: u8,
}

/// For each register of the controller the lowest bit that can be written, where turning it over leaves the signal as it is.
#[must_use]
pub fn turned_bits(adapter: &Adapter, mode: &Mode) -> Vec<TurnedBit> {
    let start = adapter.start_up(mode);
    let slices = || adapter.fields().filter(|(_, field)| field.access.writes()).flat_map(|(_, field)| &field.bits);
    let registers = (0..SURVEYED_REGISTERS as u8).filter_map(|index| {
        let cell = Cell::new(Bank::Crtc, index)?;
        let own = slices().filter(|slice| slice.cell() == Some(cell));
        let mask = own.fold(0, |mask, slice| mask | slice.mask());
        let bit = mask & mask.wrapping_neg();
        let value = start.cell(cell);
        let mut other = start.clone();
        other.set_cell(cell, value ^ bit);
        (bit != 0 && !adapter.changes_signal(&start, &other)).then_some(TurnedBit { index, value, bit })
    });
    registers.collect()
}
