//! A checked adapter profile, with its names compiled into indices.

use std::collections::HashMap;
use std::sync::Arc;

use backporch_form::{FormError, Source, parse};
use backporch_signal::{Axis, AxisError, Hertz, Signal};

use crate::colour::{Palette, RGBI, Rgba, widen_dac};
use crate::format::{BorderRule, ColourRule, Format, Serialise};
use crate::port::{PortRole, StatusSignal};
use crate::profile::{AdapterProfile, MemoryRule, Mode};
use crate::register::{Cell, Field, Registers, SetError};
use crate::timing::{MC6845_FIELDS, Timing, TimingRule};

/// Built-in adapter profiles: name and RON text.
pub const BUILT_IN_ADAPTERS: &[(&str, &str)] = &[
    ("colour-graphics", include_str!("../../../assets/adapters/colour-graphics.ron")),
    ("linear-256", include_str!("../../../assets/adapters/linear-256.ron")),
];

/// A field of one adapter, by position; made by [`Adapter::field`].
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct FieldId(u16);

/// An adapter profile that holds together: every name it uses exists, every
/// number is one the engine can run.
#[derive(Clone, Debug)]
pub struct Adapter {
    profile: AdapterProfile,
    dot_clock: Hertz,
    names: HashMap<String, FieldId>,
    writable: [u8; Cell::COUNT],
    readable: [u8; Cell::COUNT],
    protected: [bool; Cell::COUNT],
    protect: Option<FieldId>,
    video_enable: Option<FieldId>,
    timing: [FieldId; MC6845_FIELDS.len()],
    vertical_sync: Option<FieldId>,
    conditions: Vec<Vec<(FieldId, u32)>>,
}

impl Adapter {
    /// Reads and checks a profile.
    ///
    /// # Errors
    /// Names the file, line, field, what was found and what is allowed.
    pub fn from_source(source: &Source) -> Result<Arc<Self>, FormError> {
        let profile: AdapterProfile = parse(source)?;
        Checker { source }.adapter(profile).map(Arc::new)
    }

    /// The built-in adapter of that name.
    #[must_use]
    pub fn built_in(name: &str) -> Option<Arc<Self>> {
        let (name, text) = BUILT_IN_ADAPTERS.iter().find(|(known, _)| *known == name)?;
        Self::from_source(&Source::built_in(*name, *text)).ok()
    }

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

    /// The field of that name.
    #[must_use]
    pub fn field(&self, name: &str) -> Option<FieldId> {
        self.names.get(name).copied()
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
        self.timing[9]
    }

    /// The mode of that name.
    #[must_use]
    pub fn mode(&self, name: &str) -> Option<&Mode> {
        self.profile.modes.iter().find(|mode| mode.name == name)
    }

    /// The first mode of the profile, the one a bench gets that names none.
    #[must_use]
    pub fn default_mode(&self) -> &Mode {
        &self.profile.modes[0]
    }

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
        registers
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

    /// Comparands of the counters under these registers.
    #[must_use]
    pub fn timing(&self, registers: &Registers) -> Timing {
        let quantities = self.timing.map(|field| self.quantity(registers, field));
        let vertical = self.vertical_sync.map_or(0, |field| self.get(registers, field));
        Timing::mc6845(&self.profile.timing, quantities, vertical)
    }

    /// Position in the profile's table of the format shown under these registers.
    ///
    /// Where no condition holds, the last format is shown.
    #[must_use]
    pub fn format_index(&self, registers: &Registers) -> usize {
        let holds = |condition: &Vec<(FieldId, u32)>| {
            condition.iter().all(|&(field, value)| self.get(registers, field) == value)
        };
        let found = self.conditions.iter().position(holds);
        found.unwrap_or(self.conditions.len() - 1)
    }

    /// The format at a position of the profile's table, the last one beyond it.
    #[must_use]
    pub fn format(&self, index: usize) -> &Format {
        let formats = &self.profile.formats;
        &formats[index.min(formats.len() - 1)]
    }

    /// The signal these registers make.
    ///
    /// # Errors
    /// Where a monitor would show no stable picture.
    pub fn signal(&self, registers: &Registers) -> Result<Signal, AxisError> {
        let timing = self.timing(registers);
        let dots = u32::from(self.format(self.format_index(registers)).char_dots);
        let lines = timing.lines_per_row();
        let horizontal = Axis::new(
            u32::from(timing.displayed) * dots,
            u32::from(timing.sync_start) * dots,
            u32::from(timing.sync_width) * dots,
            timing.chars() * dots,
        )?;
        let vertical = Axis::new(
            u32::from(timing.rows_displayed) * lines,
            u32::from(timing.sync_row) * lines,
            u32::from(timing.sync_lines),
            timing.lines(),
        )?;
        let dot_clock = self.dot_clock;
        Ok(Signal { dot_clock, horizontal, vertical })
    }

    /// Dots a second.
    #[must_use]
    pub fn dot_clock(&self) -> Hertz {
        self.dot_clock
    }

    /// Colour of every pixel value and of the border under these registers.
    #[must_use]
    pub fn palette(&self, registers: &Registers) -> Palette {
        if self.video_enable.is_some_and(|field| self.get(registers, field) == 0) {
            return Palette::BLACK;
        }
        let format = self.format(self.format_index(registers));
        let named = |name: &String| self.field(name).map_or(0, |field| self.get(registers, field));
        let rgbi = |code: u32| RGBI[(code & 15) as usize];
        let mut palette = Palette::BLACK;
        let colours = &mut palette.colours;
        match &format.colour {
            ColourRule::Dac => {
                for (value, colour) in colours.iter_mut().enumerate() {
                    *colour = dac_colour(registers, value as u8);
                }
            }
            ColourRule::Rgbi => {
                for (value, colour) in colours.iter_mut().enumerate() {
                    *colour = rgbi(value as u32);
                }
            }
            ColourRule::OneOfSixteen { foreground } => colours[1] = rgbi(named(foreground)),
            ColourRule::FourOfSixteen { background, bright, set, grey } => {
                let codes = match (named(grey) != 0, named(set) != 0) {
                    (true, _) => [3, 4, 7],
                    (false, true) => [3, 5, 7],
                    (false, false) => [2, 4, 6],
                };
                colours[0] = rgbi(named(background));
                let bright = if named(bright) != 0 { 8 } else { 0 };
                for (colour, code) in colours[1..4].iter_mut().zip(codes) {
                    *colour = rgbi(code | bright);
                }
            }
        }
        palette.border = match &format.border {
            BorderRule::Black => [0, 0, 0, 255],
            BorderRule::Rgbi(field) => rgbi(named(field)),
        };
        palette
    }

    /// The status port's byte for the state of the beam.
    #[must_use]
    pub fn status(&self, display_enabled: bool, horizontal_sync: bool, vertical_sync: bool) -> u8 {
        let bits = self.profile.status.iter();
        bits.fold(0, |status, bit| {
            let shown = match bit.shows {
                StatusSignal::DisplayDisabled => !display_enabled,
                StatusSignal::VerticalSync => vertical_sync,
                StatusSignal::HorizontalSync => horizontal_sync,
                StatusSignal::One => true,
            };
            status | u8::from(shown) << bit.bit
        })
    }

    /// What a port does, where the board has it.
    #[must_use]
    pub fn role(&self, port: u16) -> Option<PortRole> {
        let ports = self.profile.ports.iter();
        ports.filter(|row| row.at.contains(&port)).map(|row| row.role).next()
    }

    /// The first port with a role.
    #[must_use]
    pub fn port_of(&self, role: PortRole) -> Option<u16> {
        let mut ports = self.profile.ports.iter();
        ports.find(|row| row.role == role)?.at.first().copied()
    }

    pub(crate) fn writable(&self, cell: Cell) -> u8 {
        self.writable[cell.position()]
    }

    pub(crate) fn readable(&self, cell: Cell) -> u8 {
        self.readable[cell.position()]
    }

    /// The field that protects others, where the class has one.
    #[must_use]
    pub fn protect_field(&self) -> Option<FieldId> {
        self.protect
    }

    /// Whether the class can protect a cell at all.
    #[must_use]
    pub fn is_protectable(&self, cell: Cell) -> bool {
        self.protected[cell.position()]
    }

    /// Whether a cell takes no writes under these registers.
    #[must_use]
    pub fn is_protected(&self, registers: &Registers, cell: Cell) -> bool {
        let on = self.protect.is_some_and(|field| self.get(registers, field) != 0);
        on && self.is_protectable(cell)
    }
}

fn dac_colour(registers: &Registers, value: u8) -> Rgba {
    let [red, green, blue] = registers.dac(value & registers.dac_mask()).map(widen_dac);
    [red, green, blue, 255]
}

/// Looks a register up by name; the path tells where the name stands.
type Known<'a> = dyn Fn(&[&str], &str) -> Result<FieldId, FormError> + 'a;

/// Checks one profile against the text it was read from.
struct Checker<'a> {
    source: &'a Source,
}

impl Checker<'_> {
    fn adapter(&self, profile: AdapterProfile) -> Result<Adapter, FormError> {
        let dot_clock = Hertz::new(profile.dot_clock_hz)
            .filter(|clock| (1e6..=1e8).contains(&clock.get()))
            .ok_or_else(|| self.fault(&["dot_clock_hz"], profile.dot_clock_hz, "1e6 to 1e8"))?;
        self.memory(&profile.memory)?;
        let names = self.registers(&profile)?;
        let known = |path: &[&str], name: &str| {
            let allowed = "the name of a register of this profile";
            let found = names.get(name).copied();
            found.ok_or_else(|| self.fault(path, name, allowed))
        };

        let mut timing = [FieldId(0); MC6845_FIELDS.len()];
        for (slot, name) in timing.iter_mut().zip(profile.timing.fields()) {
            let missing = || self.fault(&["registers"], "no such register", format!("a register `{name}`"));
            *slot = *names.get(*name).ok_or_else(missing)?;
            let field = &profile.registers[usize::from(slot.0)];
            let most = if *name == "start_address" { 24 } else { 8 };
            if field.width() > most {
                let position = slot.0.to_string();
                let path = ["registers", &position, "bits"];
                return Err(self.fault(&path, field.width(), format!("at most {most} bits")));
            }
        }
        let TimingRule::Mc6845 { vertical_sync, .. } = &profile.timing;
        let vertical_sync = match vertical_sync {
            crate::VerticalSync::Lines(_) => None,
            crate::VerticalSync::Field => Some(known(&["timing", "vertical_sync"], "vertical_sync_width")?),
        };

        let protect = match &profile.protect {
            Some(rule) => Some(known(&["protect", "field"], &rule.field)?),
            None => None,
        };
        let mut protected = [false; Cell::COUNT];
        for (position, slice) in profile.protect.iter().flat_map(|rule| rule.cells.iter().enumerate()) {
            let position = position.to_string();
            protected[self.cell(&["protect", "cells", &position], slice)?.position()] = true;
        }
        let video_enable = match &profile.video_enable {
            Some(name) => Some(known(&["video_enable"], name)?),
            None => None,
        };
        let conditions = self.formats(&profile, &known)?;
        self.modes(&profile)?;
        self.status(&profile)?;

        let (writable, readable) = masks(&profile);
        Ok(Adapter {
            dot_clock,
            names,
            writable,
            readable,
            protected,
            protect,
            video_enable,
            timing,
            vertical_sync,
            conditions,
            profile,
        })
    }

    fn memory(&self, memory: &MemoryRule) -> Result<(), FormError> {
        let sizes = [("bytes", memory.bytes), ("window_bytes", memory.window_bytes)];
        for (field, bytes) in sizes {
            if !bytes.is_power_of_two() || !(256..=1 << 20).contains(&bytes) {
                return Err(self.fault(&["memory", field], bytes, "a power of two, 256 to 1048576"));
            }
        }
        if !matches!(memory.bus.bits, 8 | 16) {
            return Err(self.fault(&["memory", "bus", "bits"], memory.bus.bits, "8 or 16"));
        }
        if memory.bus.access_ns > 10_000 {
            return Err(self.fault(&["memory", "bus", "access_ns"], memory.bus.access_ns, "0..=10000"));
        }
        if memory.window > 1 << 20 {
            return Err(self.fault(&["memory", "window"], memory.window, "0..=0x100000"));
        }
        Ok(())
    }

    fn registers(&self, profile: &AdapterProfile) -> Result<HashMap<String, FieldId>, FormError> {
        let mut names = HashMap::new();
        for (position, field) in profile.registers.iter().enumerate() {
            let at = position.to_string();
            if field.bits.is_empty() || field.width() > 24 {
                return Err(self.fault(&["registers", &at, "bits"], field.width(), "1 to 24 bits in all"));
            }
            if field.plus > 8 {
                return Err(self.fault(&["registers", &at, "plus"], field.plus, "0..=8"));
            }
            for slice in &field.bits {
                self.cell(&["registers", &at, "bits"], slice)?;
            }
            if names.insert(field.name.clone(), FieldId(position as u16)).is_some() {
                return Err(self.fault(&["registers", &at, "name"], &field.name, "a name not used before"));
            }
        }
        Ok(names)
    }

    fn cell(&self, path: &[&str], slice: &crate::Slice) -> Result<Cell, FormError> {
        let found = format!("{:?} {} bits {}+{}", slice.bank, slice.index, slice.low, slice.width);
        let allowed = || format!("index below {} and bits inside 0..8", slice.bank.len());
        slice.cell().ok_or_else(|| self.fault(path, found, allowed()))
    }

    fn formats(&self, profile: &AdapterProfile, known: &Known<'_>) -> Result<Vec<Vec<(FieldId, u32)>>, FormError> {
        if profile.formats.is_empty() {
            return Err(self.fault(&["formats"], "none", "at least one format"));
        }
        let mut conditions = Vec::new();
        let unknown = |name: &&String| !profile.formats.iter().any(|format| format.name == **name);
        if let Some(name) = profile.snow.iter().find(unknown) {
            return Err(self.fault(&["snow"], name, "the name of a format of this profile"));
        }
        for (position, format) in profile.formats.iter().enumerate() {
            let at = position.to_string();
            let path = |field| ["formats", at.as_str(), field];
            let mut condition = Vec::new();
            for (name, value) in &format.when {
                condition.push((known(&path("when"), name)?, *value));
            }
            conditions.push(condition);
            self.format(&at, format, profile.memory.bytes)?;
            let names: Vec<&String> = match &format.colour {
                ColourRule::Dac | ColourRule::Rgbi => vec![],
                ColourRule::OneOfSixteen { foreground } => vec![foreground],
                ColourRule::FourOfSixteen { background, bright, set, grey } => {
                    vec![background, bright, set, grey]
                }
            };
            for name in names {
                known(&path("colour"), name)?;
            }
            if let BorderRule::Rgbi(name) = &format.border {
                known(&path("border"), name)?;
            }
        }
        Ok(conditions)
    }

    fn format(&self, at: &str, format: &Format, memory: u32) -> Result<(), FormError> {
        let path = |field| ["formats", at, field];
        let (char_dots, pixel_dots) = (format.char_dots, format.pixel_dots);
        if !(1..=32).contains(&char_dots) {
            return Err(self.fault(&path("char_dots"), char_dots, "1..=32"));
        }
        if pixel_dots == 0 || char_dots % pixel_dots != 0 {
            return Err(self.fault(&path("pixel_dots"), pixel_dots, format!("a divisor of {char_dots}")));
        }
        let address = &format.address;
        if !matches!(address.unit, 1 | 2 | 4) {
            return Err(self.fault(&["formats", at, "address", "unit"], address.unit, "1, 2 or 4"));
        }
        if !(1..=8).contains(&address.units_per_char) {
            let path = ["formats", at, "address", "units_per_char"];
            return Err(self.fault(&path, address.units_per_char, "1..=8"));
        }
        let needed = match format.serialise {
            Serialise::Packed(bits) if matches!(bits, 1 | 2 | 4 | 8) => format.pixels_per_char() * u32::from(bits) / 8,
            Serialise::Packed(bits) => {
                return Err(self.fault(&path("serialise"), bits, "1, 2, 4 or 8 bits"));
            }
            Serialise::Text if format.pixels_per_char() == 8 => 2,
            Serialise::Text => {
                return Err(self.fault(&path("char_dots"), char_dots, "8 pixels a character"));
            }
        };
        if address.bytes_per_char() != needed {
            let allowed = format!("{needed} bytes a character clock, to fill its pixels");
            return Err(self.fault(&path("address"), address.bytes_per_char(), allowed));
        }
        let mask = address.mask;
        if !(255..memory).contains(&mask) || !(mask + 1).is_power_of_two() {
            let allowed = format!("a power of two less one, 255 to {}", memory - 1);
            return Err(self.fault(&["formats", at, "address", "mask"], mask, allowed));
        }
        for bit in &address.row_bits {
            if bit.row > 4 || bit.address > 19 || 1u32 << bit.address >= memory || 1 << bit.address <= mask {
                let found = format!("row {} to address {}", bit.row, bit.address);
                let allowed = "row 0..=4, an address bit above the mask and inside memory";
                return Err(self.fault(&["formats", at, "address", "row_bits"], found, allowed));
            }
        }
        Ok(())
    }

    fn modes(&self, profile: &AdapterProfile) -> Result<(), FormError> {
        if profile.modes.is_empty() {
            return Err(self.fault(&["modes"], "none", "at least one mode"));
        }
        for (position, mode) in profile.modes.iter().enumerate() {
            let at = position.to_string();
            for block in &mode.registers {
                let end = usize::from(block.from) + block.values.len();
                if end > usize::from(block.bank.len()) {
                    let allowed = format!("at most {} cells in {:?}", block.bank.len(), block.bank);
                    return Err(self.fault(&["modes", &at, "registers"], end, allowed));
                }
            }
        }
        Ok(())
    }

    fn status(&self, profile: &AdapterProfile) -> Result<(), FormError> {
        match profile.status.iter().find(|bit| bit.bit > 7) {
            Some(bit) => Err(self.fault(&["status"], bit.bit, "bits 0..=7")),
            None => Ok(()),
        }
    }

    fn fault(&self, path: &[&str], found: impl std::fmt::Display, allowed: impl std::fmt::Display) -> FormError {
        self.source.fault(path, found, allowed)
    }
}

fn masks(profile: &AdapterProfile) -> ([u8; Cell::COUNT], [u8; Cell::COUNT]) {
    let mut writable = [0; Cell::COUNT];
    let mut readable = [0; Cell::COUNT];
    for field in &profile.registers {
        for slice in &field.bits {
            let Some(cell) = slice.cell() else { continue };
            if field.access.writes() {
                writable[cell.position()] |= slice.mask();
            }
            if field.access.reads() {
                readable[cell.position()] |= slice.mask();
            }
        }
    }
    (writable, readable)
}
