//! Registers: 8-bit cells as the ports see them, and named fields over their bits.

use std::sync::Arc;

use serde::{Deserialize, Serialize};
use thiserror::Error;

use crate::Basis;
use crate::role::Role;

/// A group of 8-bit registers behind one pair of ports, or single registers.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub enum Bank {
    /// CRT controller, 64 cells.
    Crtc,
    /// Sequencer, 8 cells.
    Sequencer,
    /// Graphics controller, 16 cells.
    Graphics,
    /// Attribute controller, 32 cells.
    Attribute,
    /// Registers with a port of their own, 8 cells.
    Single,
}

impl Bank {
    /// Every bank, in storage order.
    pub const ALL: [Self; 5] = [Self::Crtc, Self::Sequencer, Self::Graphics, Self::Attribute, Self::Single];

    const fn base_and_len(self) -> (u8, u8) {
        match self {
            Self::Crtc => (0, 64),
            Self::Sequencer => (64, 8),
            Self::Graphics => (72, 16),
            Self::Attribute => (88, 32),
            Self::Single => (120, 8),
        }
    }

    /// Number of cells.
    #[must_use]
    pub fn len(self) -> u8 {
        self.base_and_len().1
    }

    /// No bank is empty.
    #[must_use]
    pub fn is_empty(self) -> bool {
        false
    }
}

/// One 8-bit register: a bank and an index inside it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Cell(u8);

impl Cell {
    /// Number of cells of all banks together.
    pub const COUNT: usize = 128;

    /// `None` where the bank has no such index.
    #[must_use]
    pub fn new(bank: Bank, index: u8) -> Option<Self> {
        let (base, len) = bank.base_and_len();
        (index < len).then(|| Self(base + index))
    }

    /// Position in storage, below [`Cell::COUNT`].
    #[must_use]
    pub fn position(self) -> usize {
        usize::from(self.0)
    }

    /// The bank and the index inside it.
    #[must_use]
    pub fn bank_and_index(self) -> (Bank, u8) {
        let bank = Bank::ALL.into_iter().rev().find(|bank| bank.base_and_len().0 <= self.0).unwrap_or(Bank::Crtc);
        (bank, self.0 - bank.base_and_len().0)
    }
}

/// Some bits of one cell.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Slice {
    /// Bank of the cell.
    pub bank: Bank,
    /// Index inside the bank.
    pub index: u8,
    /// Lowest bit, 0 to 7.
    #[serde(default)]
    pub low: u8,
    /// Number of bits, 1 to 8.
    #[serde(default = "eight")]
    pub width: u8,
}

fn eight() -> u8 {
    8
}

impl Slice {
    /// The cell, where it exists and the bits lie inside it.
    #[must_use]
    pub fn cell(&self) -> Option<Cell> {
        let fits = (1..=8).contains(&self.width) && self.low < 8 && self.low + self.width <= 8;
        Cell::new(self.bank, self.index).filter(|_| fits)
    }

    /// The bits of the cell this slice covers.
    #[must_use]
    pub fn mask(&self) -> u8 {
        ((((1u16 << self.width) - 1) << self.low) & 0xFF) as u8
    }
}

/// What the ports allow with a field.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub enum Access {
    /// Written only; reads give 0.
    #[default]
    WriteOnly,
    /// Written and read back.
    ReadWrite,
    /// Read only.
    ReadOnly,
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

/// A field of one adapter, by position; made by [`Adapter::field`](crate::Adapter::field).
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct FieldId(pub(crate) u16);

/// A named register: one number spread over one or more slices.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Field {
    /// Trade term in snake case.
    pub name: String,
    /// What it does, for code that asks.
    pub role: Role,
    /// Slices, least significant first; together at most 24 bits.
    pub bits: Vec<Slice>,
    /// What is added to the stored value to get the quantity it stands for.
    #[serde(default)]
    pub plus: u16,
    /// Unit of that quantity, empty where it is a switch or a number.
    #[serde(default)]
    pub unit: String,
    /// What the ports allow.
    #[serde(default)]
    pub access: Access,
    /// What it does, one line.
    pub means: String,
    /// Where the facts come from.
    pub basis: Basis,
}

impl Field {
    /// Bits of the stored value.
    #[must_use]
    pub fn width(&self) -> u32 {
        self.bits.iter().map(|slice| u32::from(slice.width)).sum()
    }

    /// Greatest value the field can hold.
    #[must_use]
    pub fn max(&self) -> u32 {
        (1u32 << self.width().min(31)) - 1
    }
}

/// A value that a field cannot hold.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
#[error("{field}: found {found}, allowed 0..={max}")]
pub struct SetError {
    /// Name of the field.
    pub field: String,
    /// Value found.
    pub found: u64,
    /// Greatest value allowed.
    pub max: u32,
}

/// What the ports have stored: cells, index registers, DAC.
///
/// Plain state; [`Adapter`](crate::Adapter) holds the rules that change it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Registers {
    cells: [u8; Cell::COUNT],
    /// Selected index of each bank, in the order of [`Bank::ALL`].
    pub(crate) selected: [u8; Bank::ALL.len()],
    /// Whether the attribute port takes data next (it alternates).
    pub(crate) attribute_data_next: bool,
    /// 256 colours of three 6-bit levels; registers that differ elsewhere share them.
    pub(crate) dac: Arc<[[u8; 3]; 256]>,
    pub(crate) dac_cursor: DacCursor,
    pub(crate) dac_mask: u8,
    /// The graphics controller's latches, one byte a plane.
    pub(crate) latches: [u8; 4],
    /// Address held by the light-pen latch, and whether it has been set since it was last cleared.
    pub(crate) light_pen: LightPen,
    /// Whether vertical sync has asked for an interrupt that is not yet cleared.
    pub(crate) vertical_interrupt: bool,
}

/// The light-pen latch.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(crate) struct LightPen {
    pub address: u32,
    pub set: bool,
}

/// Bit of the attribute controller's index that lets it show its palette.
pub(crate) const PALETTE_SHOWN: u8 = 0x20;

/// Where the DAC's data port stands.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(crate) struct DacCursor {
    pub write_index: u8,
    pub read_index: u8,
    /// Whether the index for reading was written last.
    pub reads: bool,
    /// Component written or read next, 0 to 2.
    pub component: u8,
    /// Levels written so far of the colour under way.
    pub pending: [u8; 3],
}

impl Default for Registers {
    fn default() -> Self {
        Self {
            cells: [0; Cell::COUNT],
            selected: [0; Bank::ALL.len()],
            attribute_data_next: false,
            dac: Arc::new(std::array::from_fn(|level| [(level >> 2) as u8; 3])),
            dac_cursor: DacCursor::default(),
            dac_mask: 0xFF,
            latches: [0; 4],
            light_pen: LightPen::default(),
            vertical_interrupt: false,
        }
    }
}

impl Registers {
    /// The stored byte of a cell.
    #[must_use]
    pub fn cell(&self, cell: Cell) -> u8 {
        self.cells[cell.position()]
    }

    /// Stores a byte, as if every bit were writable.
    pub fn set_cell(&mut self, cell: Cell, value: u8) {
        self.cells[cell.position()] = value;
    }

    /// The stored value of a field.
    #[must_use]
    pub fn get(&self, field: &Field) -> u32 {
        let slices = field.bits.iter().rev();
        slices.fold(0, |value, slice| {
            let byte = slice.cell().map_or(0, |cell| self.cell(cell));
            value << slice.width | u32::from((byte & slice.mask()) >> slice.low)
        })
    }

    /// Stores a field's value, past any protection: this sets a bench up.
    ///
    /// # Errors
    /// Where the field has too few bits for it.
    pub fn set(&mut self, field: &Field, value: u64) -> Result<(), SetError> {
        if value > u64::from(field.max()) {
            let (field, max) = (field.name.clone(), field.max());
            return Err(SetError { field, found: value, max });
        }
        let mut rest = value as u32;
        for slice in &field.bits {
            if let Some(cell) = slice.cell() {
                let bits = (rest << slice.low) as u8 & slice.mask();
                self.set_cell(cell, self.cell(cell) & !slice.mask() | bits);
            }
            rest >>= slice.width;
        }
        Ok(())
    }

    /// The 6-bit levels of a DAC entry: red, green, blue.
    #[must_use]
    pub fn dac(&self, index: u8) -> [u8; 3] {
        self.dac[usize::from(index)]
    }

    /// Sets a DAC entry; levels are cut to 6 bits.
    pub fn set_dac(&mut self, index: u8, levels: [u8; 3]) {
        Arc::make_mut(&mut self.dac)[usize::from(index)] = levels.map(|level| level & 0x3F);
    }

    /// The DAC entry that a write completed on the way from these registers to `after`, where one did.
    #[must_use]
    pub fn dac_completed_by(&self, after: &Self) -> Option<u8> {
        let (old, new) = (self.dac_cursor, after.dac_cursor);
        (old.component == 2 && new.component == 0 && !old.reads && new.write_index == old.write_index.wrapping_add(1))
            .then_some(old.write_index)
    }

    /// The graphics controller's latches, one byte a plane.
    #[must_use]
    pub fn latches(&self) -> [u8; 4] {
        self.latches
    }

    /// Loads the graphics controller's latches, as a read of memory does.
    pub fn set_latches(&mut self, latches: [u8; 4]) {
        self.latches = latches;
    }

    /// Whether the attribute controller shows its palette; while its index has
    /// bit 5 clear the screen is all border (VGA register documentation).
    #[must_use]
    pub fn palette_shown(&self) -> bool {
        self.selected[Bank::Attribute as usize] & PALETTE_SHOWN != 0
    }

    /// The mask through which pixel values reach the DAC.
    #[must_use]
    pub fn dac_mask(&self) -> u8 {
        self.dac_mask
    }
}
