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
    /// Any access lets the light-pen latch go.
    LightPenClear,
    /// Any access latches the address under the beam, as the pen itself does.
    LightPenSet,
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
    /// Those that do in their place while the port select is 0; empty where it does not move the port.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub moved_to: Vec<u16>,
    /// What it does.
    pub role: PortRole,
}

impl PortAt {
    /// Its numbers, where it usually is or where the port select moves it to.
    pub(crate) fn numbers(&self, moved: bool) -> &[u16] {
        if moved && !self.moved_to.is_empty() { &self.moved_to } else { &self.at }
    }
}

/// Ports by number: what the bus asks for most.
#[derive(Clone, Debug, Default)]
pub(crate) struct Ports {
    first: u16,
    roles: Vec<Option<PortRole>>,
}

impl Ports {
    /// Ports where they usually are, or where the port select moves them to. Where a number is written twice, its first
    /// row counts.
    pub fn new(rows: &[PortAt], moved: bool) -> Self {
        let numbers = || rows.iter().flat_map(|row| row.numbers(moved).iter().copied());
        let (first, last) = (numbers().min().unwrap_or(0), numbers().max().unwrap_or(0));
        let mut roles = vec![None; usize::from(last - first) + 1];
        for row in rows.iter().rev() {
            for at in row.numbers(moved) {
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
    /// 1 since the light-pen latch was set.
    LightPen,
    /// The lower of the two colour outputs that are led to the status port for tests.
    VideoLow,
    /// The upper of them.
    VideoHigh,
    /// 1 since vertical sync began, until it is cleared.
    VerticalInterrupt,
    /// The switch of the board that the clock select names, 1 open.
    Switch,
    /// Always 1.
    One,
}

/// What the beam and its counters put out at a moment, as far as a port shows it.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct BeamSignals {
    /// Whether memory is shown.
    pub display_enabled: bool,
    /// Whether horizontal sync is on.
    pub horizontal_sync: bool,
    /// Whether vertical sync is on.
    pub vertical_sync: bool,
    /// The pixel shown, where memory is shown.
    pub pixel: Option<u8>,
}

/// A status port beside the usual one, at a port that takes a register where it is written.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct InputStatus0 {
    /// Port number.
    pub port: u16,
    /// What its bits show.
    pub bits: Vec<StatusBit>,
    /// The board's four switches, bit 0 the first, 1 open.
    #[serde(default)]
    pub switches: u8,
}

/// The light-pen latch of a controller.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct LightPenCells {
    /// Index of the controller's register that reads as the upper byte of the address.
    pub high: u8,
    /// Index of the one that reads as the lower byte.
    pub low: u8,
    /// Bits of the address that the latch has.
    pub bits: u8,
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
/// not obey it, or never release it.
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
