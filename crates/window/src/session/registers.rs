//! Registers as the panel lists them: value, meaning, protection, and what
//! differs from the mode's start-up values.

use backporch_adapter::{Access, Adapter, Bank, FieldId, Mode, Registers};

/// One named register as it stands.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct NamedRegister {
    /// Name in snake case.
    pub name: String,
    /// Stored value.
    pub stored: u32,
    /// The quantity it stands for.
    pub quantity: u32,
    /// Unit of the quantity, empty for a switch or a number.
    pub unit: String,
    /// What it does, one line.
    pub means: String,
    /// Greatest value it can hold.
    pub max: u32,
    /// Value after start-up.
    pub start_up: u32,
    /// Takes no writes through its ports now.
    pub protected: bool,
    /// Ports never write it.
    pub read_only: bool,
    /// Cells it lies in, such as `CRTC 0Ch, 0Dh`.
    pub cells: String,
    pub(crate) field: FieldId,
}

impl NamedRegister {
    /// Whether it differs from the mode's start-up value.
    #[must_use]
    pub fn differs(&self) -> bool {
        self.stored != self.start_up
    }

    /// What the value means, with its unit where it has one.
    #[must_use]
    pub fn meaning(&self) -> String {
        match (self.unit.as_str(), self.max) {
            ("", 1) => if self.stored == 0 { "off" } else { "on" }.to_string(),
            ("", _) => self.quantity.to_string(),
            (unit, _) => format!("{} {unit}", self.quantity),
        }
    }
}

/// Every register of the adapter, in the profile's order.
pub(crate) fn rows(adapter: &Adapter, mode: &Mode, registers: &Registers) -> Vec<NamedRegister> {
    let start_up = adapter.start_up(mode);
    let row = |(field, info): (FieldId, &backporch_adapter::Field)| NamedRegister {
        name: info.name.clone(),
        stored: adapter.get(registers, field),
        quantity: adapter.quantity(registers, field),
        unit: info.unit.clone(),
        means: info.means.clone(),
        max: info.max(),
        start_up: adapter.get(&start_up, field),
        protected: info.bits.iter().filter_map(|slice| slice.cell()).any(|cell| adapter.is_protected(registers, cell)),
        read_only: info.access == Access::ReadOnly,
        cells: cells(info),
        field,
    };
    adapter.fields().map(row).collect()
}

/// A bank of cells in a word or two.
fn bank_words(bank: Bank) -> &'static str {
    match bank {
        Bank::Crtc => "CRTC",
        Bank::Sequencer => "sequencer",
        Bank::Graphics => "graphics controller",
        Bank::Attribute => "attribute controller",
        Bank::Single => "own port",
    }
}

/// The cells of a field: bank and hexadecimal indices, most significant first.
fn cells(info: &backporch_adapter::Field) -> String {
    let mut text = String::new();
    let mut bank = None;
    for slice in info.bits.iter().rev() {
        if !text.is_empty() {
            text += ", ";
        }
        if bank != Some(slice.bank) {
            text += bank_words(slice.bank);
            text += " ";
            bank = Some(slice.bank);
        }
        text += &format!("{:02X}h", slice.index);
        match (slice.low, slice.width) {
            (_, 8) => {}
            (low, 1) => text += &format!(" bit {low}"),
            (low, width) => text += &format!(" bits {low}-{}", low + width - 1),
        }
    }
    text
}
