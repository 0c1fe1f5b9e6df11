//! Ports: what each one does, and what its bits show.

use serde::{Deserialize, Serialize};

use crate::register::{Bank, Cell};

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
