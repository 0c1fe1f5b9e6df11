//! A checked adapter profile, with its names compiled into indices.

use std::collections::HashMap;

use backporch_signal::{Axis, AxisError, Hertz, Signal, SyncPolarity};

use crate::aspects::Aspects;
use crate::format::Format;
use crate::memory_bus::MemoryBus;
use crate::mode::Mode;
use crate::port::{PortRole, Ports, StatusSignal};
use crate::profile::{AdapterProfile, MemoryRule};
use crate::register::{Bank, Cell, Field, FieldId, PALETTE_SHOWN, Registers, SetError};
use crate::role::Role;
use crate::timing::Timing;

/// Fields and the values they must hold.
pub(crate) type Condition = Vec<(FieldId, u32)>;

/// An adapter profile that holds together: every name it uses exists, every
/// number is one the engine can run.
#[derive(Clone, Debug)]
pub struct Adapter {
    pub(crate) profile: AdapterProfile,
    pub(crate) names: HashMap<String, FieldId>,
    /// The first field of each role, by the role's position.
    pub(crate) roles: [Option<FieldId>; Role::COUNT],
    pub(crate) dot_clocks: Vec<Hertz>,
    pub(crate) writable: [u8; Cell::COUNT],
    pub(crate) readable: [u8; Cell::COUNT],
    pub(crate) protected: [u8; Cell::COUNT],
    pub(crate) aspects: [Aspects; Cell::COUNT],
    pub(crate) ports: Ports,
    /// The register that moves ports, and where they are then.
    pub(crate) moved_ports: Option<(FieldId, Ports)>,
    pub(crate) has_attributes: bool,
    pub(crate) start_address: FieldId,
    pub(crate) conditions: Vec<Condition>,
    /// What an access costs under a condition, before the usual bus.
    pub(crate) buses: Vec<(Condition, MemoryBus)>,
    pub(crate) snow: Vec<bool>,
}

impl Adapter {
    /// The profile as written.
    #[must_use]
    pub fn profile(&self) -> &AdapterProfile {
        &self.profile
    }

    /// Name used on the command line and in bench files.
    #[must_use]
    pub fn name(&self) -> &str {
        &self.profile.name
    }

    /// Video memory.
    #[must_use]
    pub fn memory(&self) -> MemoryRule {
        self.profile.memory
    }

    /// What an access of the processor to video memory costs under these registers.
    #[must_use]
    pub fn bus(&self, registers: &Registers) -> MemoryBus {
        let case = self.buses.iter().find(|(condition, _)| self.holds(condition, registers));
        case.map_or(self.profile.memory.bus, |(_, bus)| *bus)
    }

    /// Whether what an access costs depends on registers.
    #[must_use]
    pub fn has_bus_cases(&self) -> bool {
        !self.buses.is_empty()
    }

    /// A board of the same class whose memory meets the processor's bus otherwise, whatever its registers hold.
    #[must_use]
    pub fn on_bus(&self, bus: MemoryBus) -> Self {
        let mut other = self.clone();
        // A slot of no dots would never come.
        let slots = bus.slots.filter(|slots| slots.every > 0);
        other.profile.memory.bus = MemoryBus { slots, ..bus };
        other.profile.bus_cases.clear();
        other.buses.clear();
        other
    }

    fn holds(&self, condition: &Condition, registers: &Registers) -> bool {
        condition.iter().all(|&(field, value)| self.get(registers, field) == value)
    }

    /// A board of the same class whose crystals are all of one clock.
    #[must_use]
    pub fn at_dot_clock(&self, clock: Hertz) -> Self {
        let mut other = self.clone();
        other.dot_clocks.fill(clock);
        other
    }

    // ---- fields -----------------------------------------------------------

    /// The field of that name.
    #[must_use]
    pub fn field(&self, name: &str) -> Option<FieldId> {
        self.names.get(name).copied()
    }

    /// The field with that role, where the class has one; of the palette the first.
    #[must_use]
    pub fn field_with(&self, role: Role) -> Option<FieldId> {
        self.roles[role as usize]
    }

    /// What a field is.
    #[must_use]
    pub fn field_info(&self, field: FieldId) -> &Field {
        &self.profile.registers[usize::from(field.0)]
    }

    /// Every field, in the profile's order.
    pub fn fields(&self) -> impl Iterator<Item = (FieldId, &Field)> {
        let fields = self.profile.registers.iter().enumerate();
        fields.map(|(position, field)| (FieldId(position as u16), field))
    }

    /// The start address field, which every adapter has.
    #[must_use]
    pub fn start_address(&self) -> FieldId {
        self.start_address
    }

    /// The stored value of a field.
    #[must_use]
    pub fn get(&self, registers: &Registers, field: FieldId) -> u32 {
        registers.get(self.field_info(field))
    }

    /// Stores a field's value, past any protection.
    ///
    /// # Errors
    /// Where the field has too few bits for it.
    pub fn set(&self, registers: &mut Registers, field: FieldId, value: u64) -> Result<(), SetError> {
        registers.set(self.field_info(field), value)
    }

    /// Stored value plus the field's offset: the quantity it stands for.
    #[must_use]
    pub fn quantity(&self, registers: &Registers, field: FieldId) -> u32 {
        self.get(registers, field) + u32::from(self.field_info(field).plus)
    }

    /// The most that the field with that role can stand for; without bound where the class has none.
    #[must_use]
    pub fn most_quantity(&self, role: Role) -> u32 {
        let info = self.field_with(role).map(|field| self.field_info(field));
        info.map_or(u32::MAX, |info| info.max().saturating_add(info.plus.into()))
    }

    // ---- modes --------------------------------------------------------------

    /// Registers as the mode's start-up values leave them.
    #[must_use]
    pub fn start_up(&self, mode: &Mode) -> Registers {
        let mut registers = Registers::default();
        for block in &mode.registers {
            for (value, index) in block.values.iter().zip(block.from..) {
                if let Some(cell) = Cell::new(block.bank, index) {
                    registers.set_cell(cell, *value);
                }
            }
        }
        registers.selected[Bank::Attribute as usize] = PALETTE_SHOWN;
        for (index, levels) in mode.dac.entries() {
            registers.set_dac(index, levels);
        }
        registers
    }

    /// Memory as start-up leaves it: zero, but for the glyphs of text whose
    /// character set lies in memory.
    #[must_use]
    pub fn memory_at_start(&self, registers: &Registers) -> Vec<u8> {
        let mut memory = vec![0; self.memory().bytes as usize];
        self.put_glyphs(registers, &mut memory);
        memory
    }

    /// Puts the built-in character set where text whose glyphs lie in memory
    /// is shown with; nothing in other formats.
    pub fn put_glyphs(&self, registers: &Registers, memory: &mut [u8]) {
        let shown = self.shown(registers);
        if shown.serialise == crate::Serialise::PlaneText {
            shown.glyphs.put(self.timing(registers).last_scan + 1, memory);
        }
    }

    // ---- what the registers mean ------------------------------------------------

    /// Comparands of the counters under these registers.
    #[must_use]
    pub fn timing(&self, registers: &Registers) -> Timing {
        self.profile.timing.timing(self.reader(registers))
    }

    /// Position in the profile's table of the format shown under these registers.
    ///
    /// Where no condition holds, the last format is shown.
    #[must_use]
    pub fn format_index(&self, registers: &Registers) -> usize {
        let found = self.conditions.iter().position(|condition| self.holds(condition, registers));
        found.unwrap_or(self.conditions.len() - 1)
    }

    /// The format at a position of the profile's table, the last one beyond it.
    #[must_use]
    pub fn format(&self, index: usize) -> &Format {
        let formats = &self.profile.formats;
        &formats[index.min(formats.len() - 1)]
    }

    /// Address bits the page register puts in.
    pub(crate) fn page(&self, registers: &Registers, format: usize) -> u32 {
        let bit = self.format(format).address.page_bit;
        bit.map_or(0, |bit| self.reader(registers).value(Role::Page) << bit)
    }

    /// Whether an access of the processor takes the fetch's place while the beam displays, under these registers.
    #[must_use]
    pub fn snows(&self, registers: &Registers) -> bool {
        self.snow.contains(&true) && self.has_snow(self.format_index(registers))
    }

    pub(crate) fn has_snow(&self, format: usize) -> bool {
        self.snow.get(format).copied().unwrap_or(false)
    }

    /// What depends on a cell.
    #[must_use]
    pub fn aspects(&self, cell: Cell) -> Aspects {
        self.aspects[cell.position()]
    }

    /// The signal these registers make.
    ///
    /// # Errors
    /// Where a monitor would show no stable picture.
    pub fn signal(&self, registers: &Registers) -> Result<Signal, AxisError> {
        let timing = self.timing(registers);
        if !timing.sends_sync() {
            return Err(AxisError::NoSync);
        }
        if !timing.ends_frames() {
            return Err(AxisError::Endless);
        }
        let dots = u32::from(self.format(self.format_index(registers)).char_dots);
        let horizontal = Axis::new(
            u32::from(timing.displayed) * dots,
            u32::from(timing.sync_start) * dots,
            timing.sync_chars() * dots,
            timing.chars() * dots,
        )?;
        let vertical = Axis::new(timing.lines_displayed(), timing.sync_line(), timing.sync_lines(), timing.lines())?;
        Ok(Signal {
            dot_clock: self.dot_clock_of(registers),
            horizontal,
            vertical,
            polarity: self.sync_polarity(registers),
        })
    }

    /// Whether a monitor would tell two states of the registers apart: by dot
    /// clock, polarity, totals, porches or sync, or because either makes no
    /// stable signal at all.
    #[must_use]
    pub fn changes_signal(&self, from: &Registers, to: &Registers) -> bool {
        let same = match (self.signal(from), self.signal(to)) {
            (Ok(one), Ok(other)) => one == other,
            (Err(_), Err(_)) => {
                self.timing(from) == self.timing(to)
                    && self.dot_clock_of(from) == self.dot_clock_of(to)
                    && self.sync_polarity(from) == self.sync_polarity(to)
            }
            _ => false,
        };
        !same
    }

    /// Polarity of the sync lines under these registers: the register's, else the class's own; `None` where that is not known.
    #[must_use]
    pub fn sync_polarity(&self, registers: &Registers) -> Option<SyncPolarity> {
        let chosen = self.reader(registers).stored(Role::SyncPolarity).map(SyncPolarity::from_bits);
        chosen.or(self.profile.sync_polarity)
    }

    /// Dots a second; the first clock where a register chooses.
    #[must_use]
    pub fn dot_clock(&self) -> Hertz {
        self.dot_clocks[0]
    }

    /// Dots a second under these registers.
    #[must_use]
    pub fn dot_clock_of(&self, registers: &Registers) -> Hertz {
        // Asked after every port write: most classes have nothing to choose.
        if let [only] = self.dot_clocks[..] {
            return only;
        }
        let choice = self.reader(registers).value(Role::ClockSelect) as usize;
        self.dot_clocks[choice.min(self.dot_clocks.len() - 1)]
    }

    // ---- ports ------------------------------------------------------------------

    /// The bit of the status port that shows a signal, as a mask; `None` where none does.
    #[must_use]
    pub fn status_mask(&self, signal: StatusSignal) -> Option<u8> {
        self.profile.status.iter().find(|bit| bit.shows == signal).map(|bit| 1 << bit.bit)
    }

    /// What a port does under these registers, where the board has it.
    #[must_use]
    pub fn port_role(&self, registers: &Registers, port: u16) -> Option<PortRole> {
        self.ports_under(registers).role(port)
    }

    /// The first port with a role under these registers.
    #[must_use]
    pub fn port_of(&self, registers: &Registers, role: PortRole) -> Option<u16> {
        let mut ports = self.profile.ports.iter();
        ports.find(|row| row.role == role)?.numbers(self.moves_ports(registers)).first().copied()
    }

    /// Whether some port has a role.
    #[must_use]
    pub fn has_port_for(&self, role: PortRole) -> bool {
        self.ports.has(role)
    }

    /// Whether a port is one of the board's, wherever a register moves it to.
    #[must_use]
    pub fn knows_port(&self, port: u16) -> bool {
        let moved = self.moved_ports.as_ref().and_then(|(_, ports)| ports.role(port));
        self.ports.role(port).or(moved).is_some()
    }

    /// Whether ports are not at their usual numbers under these registers.
    #[must_use]
    pub fn moves_ports(&self, registers: &Registers) -> bool {
        self.moved_ports.as_ref().is_some_and(|(select, _)| self.get(registers, *select) == 0)
    }

    #[inline]
    fn ports_under(&self, registers: &Registers) -> &Ports {
        match &self.moved_ports {
            Some((select, moved)) if self.get(registers, *select) == 0 => moved,
            _ => &self.ports,
        }
    }

    pub(crate) fn writable(&self, cell: Cell) -> u8 {
        self.writable[cell.position()]
    }

    pub(crate) fn readable(&self, cell: Cell) -> u8 {
        self.readable[cell.position()]
    }

    /// Field that protects registers from writes, where the class has one.
    #[must_use]
    pub fn protect_field(&self) -> Option<FieldId> {
        self.field_with(Role::WriteProtect)
    }

    /// Bits of a cell the class can protect.
    #[must_use]
    pub fn protectable_bits(&self, cell: Cell) -> u8 {
        self.protected[cell.position()]
    }

    /// Bits of a cell that take no writes under these registers.
    #[must_use]
    pub fn protected_bits(&self, registers: &Registers, cell: Cell) -> u8 {
        match self.protect_field() {
            Some(field) if self.get(registers, field) != 0 => self.protectable_bits(cell),
            _ => 0,
        }
    }

    /// Whether the class can protect bits of a cell at all.
    #[must_use]
    pub fn is_protectable(&self, cell: Cell) -> bool {
        self.protectable_bits(cell) != 0
    }

    /// Whether bits of a cell take no writes under these registers.
    #[must_use]
    pub fn is_protected(&self, registers: &Registers, cell: Cell) -> bool {
        self.protected_bits(registers, cell) != 0
    }
}
