//! Checks a profile against the text it was read from, and compiles its names.

use std::collections::{BTreeSet, HashMap};

use backporch_input::{InputError, Source, spelling};
use backporch_signal::Hertz;

use crate::adapter::{Adapter, Condition};
use crate::aspects::Aspects;
use crate::format::{BorderRule, ColourRule, Format, Serialise};
use crate::memory_bus::MemoryBus;
use crate::port::{PortRole, Ports};
use crate::profile::{AdapterProfile, MemoryAccess, MemoryRule};
use crate::register::{Bank, Cell, Field, FieldId, Slice};
use crate::role::Role;
use crate::shown::Addressing;
use crate::timing::{StartLoad, TimingRule};

/// Dot clocks the engine runs, in hertz.
const DOT_CLOCKS: std::ops::RangeInclusive<f64> = 1e6..=1e8;

/// Looks a register up by name; the path tells where the name stands.
type Known<'a> = dyn Fn(&[&str], &str) -> Result<FieldId, InputError> + 'a;

/// Checks one profile against the text it was read from.
pub(crate) struct Checker<'a> {
    source: &'a Source,
}

impl<'a> Checker<'a> {
    pub fn new(source: &'a Source) -> Self {
        Self { source }
    }

    /// The profile, compiled.
    pub fn adapter(&self, profile: AdapterProfile) -> Result<Adapter, InputError> {
        self.memory(&profile.memory)?;
        let names = self.registers(&profile)?;
        let known = |path: &[&str], name: &str| {
            let allowed = "the name of a register of this profile";
            let found = names.get(name).copied();
            found.ok_or_else(|| self.fault(path, name, allowed))
        };
        let roles = self.roles(&profile)?;
        let dot_clocks = self.clocks(&profile, &roles)?;
        self.timing(&profile, &roles)?;
        let protected = self.protected(&profile, &roles)?;
        self.kept(&profile)?;
        let conditions = self.formats(&profile, &known, &roles)?;
        let buses = self.bus_cases(&profile, &known)?;
        self.modes(&profile)?;
        self.status(&profile)?;

        let (writable, readable) = masks(&profile);
        let mut adapter = Adapter {
            dot_clocks,
            writable,
            readable,
            protected,
            aspects: [Aspects::empty(); Cell::COUNT],
            has_attributes: Ports::new(&profile.ports, false).has(PortRole::AttributeFlipFlop),
            ports: Ports::new(&profile.ports, false),
            moved_ports: self.moved_ports(&profile, &roles)?,
            start_address: self.required(&roles, Role::StartAddress)?,
            snow: profile.formats.iter().map(|format| profile.snow.contains(&format.name)).collect(),
            conditions,
            buses,
            names,
            roles,
            profile,
        };
        adapter.find_aspects();
        Ok(adapter)
    }

    fn clocks(&self, profile: &AdapterProfile, roles: &Roles) -> Result<Vec<Hertz>, InputError> {
        let clock = |path: &[&str], hz: f64| {
            let clock = Hertz::new(hz).filter(|clock| DOT_CLOCKS.contains(&clock.get()));
            clock.ok_or_else(|| self.fault(path, hz, "1e6 to 1e8"))
        };
        let first = clock(&["dot_clock_hz"], profile.dot_clock_hz)?;
        let choice = profile.dot_clocks_hz.iter().enumerate();
        let choice = choice.map(|(at, hz)| clock(&["dot_clocks_hz", &at.to_string()], *hz));
        let choice: Vec<Hertz> = choice.collect::<Result<_, _>>()?;
        match choice.first() {
            None => Ok(vec![first]),
            Some(same) if *same == first => self.required(roles, Role::ClockSelect).map(|_| choice),
            Some(other) => {
                let allowed = format!("{} first, as dot_clock_hz", first.get());
                Err(self.fault(&["dot_clocks_hz"], other.get(), allowed))
            }
        }
    }

    fn timing(&self, profile: &AdapterProfile, roles: &Roles) -> Result<(), InputError> {
        let rule = &profile.timing;
        for role in rule.required() {
            self.required(roles, role)?;
        }
        let most = rule.comparand_bits();
        let compared = |field: &Field| field.role.aspects().contains(Aspects::TIMING) && field.width() > most;
        if let Some(position) = profile.registers.iter().position(compared) {
            let found = profile.registers[position].width();
            let path = ["registers", &position.to_string(), "bits"];
            return Err(self.fault(&path, found, format!("at most {most} bits")));
        }
        match rule {
            TimingRule::Mc6845 { row_counter_bits, .. } if !matches!(row_counter_bits, 7 | 8) => {
                Err(self.fault(&["timing", "row_counter_bits"], row_counter_bits, "7 or 8"))
            }
            TimingRule::Mc6845 { start_load, .. }
            | TimingRule::Vga { start_load }
            | TimingRule::DoubledLines { start_load, .. } => match start_load {
                StartLoad::LastSync { chars } if *chars > 31 => {
                    Err(self.fault(&["timing", "start_load", "chars"], chars, "0..=31"))
                }
                _ => Ok(()),
            },
        }
    }

    fn protected(&self, profile: &AdapterProfile, roles: &Roles) -> Result<[u8; Cell::COUNT], InputError> {
        let mut protected = [0; Cell::COUNT];
        for (position, slice) in profile.protected.iter().enumerate() {
            self.required(roles, Role::WriteProtect)?;
            protected[self.cell(&["protected", &position.to_string()], slice)?.position()] |= slice.mask();
        }
        Ok(protected)
    }

    /// Where the port select moves ports to, where it moves any.
    fn moved_ports(&self, profile: &AdapterProfile, roles: &Roles) -> Result<Option<(FieldId, Ports)>, InputError> {
        for (position, row) in profile.ports.iter().enumerate() {
            let at = position.to_string();
            if row.at.is_empty() {
                return Err(self.fault(&["ports", &at, "at"], "none", "at least one port number"));
            }
            if !row.moved_to.is_empty() && row.moved_to.len() != row.at.len() {
                let allowed = format!("as many numbers as `at` has, {}", row.at.len());
                return Err(self.fault(&["ports", &at, "moved_to"], row.moved_to.len(), allowed));
            }
        }
        if profile.ports.iter().all(|row| row.moved_to.is_empty()) {
            return Ok(None);
        }
        let select = self.required(roles, Role::PortSelect)?;
        Ok(Some((select, Ports::new(&profile.ports, true))))
    }

    /// Bits kept without a meaning belong to cells that exist and to no field.
    fn kept(&self, profile: &AdapterProfile) -> Result<(), InputError> {
        let fields: Vec<&Slice> = profile.registers.iter().flat_map(|field| &field.bits).collect();
        for (position, slice) in profile.kept.iter().enumerate() {
            let path = ["kept", &position.to_string()];
            let cell = self.cell(&path, slice)?;
            let overlaps = |other: &Slice| other.cell() == Some(cell) && other.mask() & slice.mask() != 0;
            if fields.iter().any(|other| overlaps(other)) {
                let found =
                    format!("{} {:#04X} bits {}+{}", spelling(&slice.bank), slice.index, slice.low, slice.width);
                return Err(self.fault(&path, found, "bits of no register of this profile"));
            }
        }
        Ok(())
    }

    /// The first field of each role.
    fn roles(&self, profile: &AdapterProfile) -> Result<Roles, InputError> {
        let mut roles = [None; Role::COUNT];
        for (position, field) in profile.registers.iter().enumerate() {
            let known = &mut roles[field.role as usize];
            if known.is_some() && !field.role.is_shared() {
                let path = ["registers", &position.to_string(), "role"];
                return Err(self.fault(&path, spelling(&field.role), "a role no other register has"));
            }
            known.get_or_insert(FieldId(position as u16));
        }
        Ok(roles)
    }

    fn required(&self, roles: &Roles, role: Role) -> Result<FieldId, InputError> {
        let missing =
            || self.fault(&["registers"], "no such register", format!("a register with role: {}", spelling(&role)));
        roles[role as usize].ok_or_else(missing)
    }

    fn memory(&self, memory: &MemoryRule) -> Result<(), InputError> {
        let sizes = [("bytes", memory.bytes), ("window_bytes", memory.window_bytes)];
        for (field, bytes) in sizes {
            if !bytes.is_power_of_two() || !(256..=1 << 20).contains(&bytes) {
                return Err(self.fault(&["memory", field], bytes, "a power of two, 256 to 1048576"));
            }
        }
        if memory.access == MemoryAccess::Planes && memory.bytes != PLANE_MASK + 1 {
            return Err(self.fault(&["memory", "bytes"], memory.bytes, "262144: four planes of 64 KiB"));
        }
        if !matches!(memory.bus.bits, 8 | 16) {
            return Err(self.fault(&["memory", "bus", "bits"], memory.bus.bits, "8 or 16"));
        }
        self.bus(&["memory", "bus"], &memory.bus)?;
        if memory.window > 1 << 20 {
            return Err(self.fault(&["memory", "window"], memory.window, "0..=0x100000"));
        }
        Ok(())
    }

    /// What an access costs, at a place of the file.
    fn bus(&self, at: &[&str], bus: &MemoryBus) -> Result<(), InputError> {
        let path = |fields: &[&'static str]| [at, fields].concat();
        if bus.access_ns > 10_000 {
            return Err(self.fault(&path(&["access_ns"]), bus.access_ns, "0..=10000"));
        }
        let Some(slots) = bus.slots else { return Ok(()) };
        if bus.access_ns > 0 {
            return Err(self.fault(&path(&["access_ns"]), bus.access_ns, "nothing, since the slots say when"));
        }
        if slots.every == 0 {
            return Err(self.fault(&path(&["slots", "every"]), 0, "1..=255 dots"));
        }
        if !(1..=slots.every).contains(&slots.count) {
            return Err(self.fault(&path(&["slots", "count"]), slots.count, format!("1..={}", slots.every)));
        }
        let Some(busy) = slots.busy else { return Ok(()) };
        if busy.to <= busy.from {
            return Err(self.fault(&path(&["slots", "busy", "to"]), busy.to, format!("more than {}", busy.from)));
        }
        if busy.most < slots.lead {
            let allowed = format!("{}..=255 dots: no less than the lead", slots.lead);
            return Err(self.fault(&path(&["slots", "busy", "most"]), busy.most, allowed));
        }
        Ok(())
    }

    /// What an access costs under conditions.
    fn bus_cases(
        &self,
        profile: &AdapterProfile,
        known: &Known<'_>,
    ) -> Result<Vec<(Condition, MemoryBus)>, InputError> {
        let cases = profile.bus_cases.iter().enumerate();
        cases
            .map(|(position, case)| {
                let at = position.to_string();
                let bus = case.bus(profile.memory.bus);
                self.bus(&["bus_cases", &at], &bus)?;
                Ok((self.condition(&["bus_cases", &at, "when"], &case.when, known)?, bus))
            })
            .collect()
    }

    /// The condition of names and values, at a place of the file.
    fn condition(&self, at: &[&str], when: &[(String, u32)], known: &Known<'_>) -> Result<Condition, InputError> {
        when.iter().map(|(name, value)| Ok((known(at, name)?, *value))).collect()
    }

    fn registers(&self, profile: &AdapterProfile) -> Result<HashMap<String, FieldId>, InputError> {
        let mut names = HashMap::new();
        for (position, field) in profile.registers.iter().enumerate() {
            let at = position.to_string();
            if field.bits.is_empty() || field.width() > 24 {
                return Err(self.fault(&["registers", &at, "bits"], field.width(), "1 to 24 bits in all"));
            }
            if field.plus > 512 {
                return Err(self.fault(&["registers", &at, "plus"], field.plus, "0..=512"));
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

    fn cell(&self, path: &[&str], slice: &Slice) -> Result<Cell, InputError> {
        let found = format!("{} {} bits {}+{}", spelling(&slice.bank), slice.index, slice.low, slice.width);
        let allowed = || format!("index below {} and bits inside 0..8", slice.bank.len());
        slice.cell().ok_or_else(|| self.fault(path, found, allowed()))
    }

    fn formats(
        &self,
        profile: &AdapterProfile,
        known: &Known<'_>,
        roles: &Roles,
    ) -> Result<Vec<Condition>, InputError> {
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
            conditions.push(self.condition(&path("when"), &format.when, known)?);
            self.format(&at, format, profile.memory.bytes)?;
            for role in colour_roles(format) {
                self.required(roles, *role)?;
            }
            if let Some(bit) = format.address.page_bit {
                let field = self.required(roles, Role::Page)?;
                let top = u32::from(bit) + profile.registers[usize::from(field.0)].width();
                if top > 20 || 1u32 << top > profile.memory.bytes || 1 << bit <= format.address.mask {
                    let allowed = "address bits above the mask and inside memory";
                    return Err(self.fault(&["formats", &at, "address", "page_bit"], bit, allowed));
                }
            }
            if format.serialise.takes_planes() != (profile.memory.access == MemoryAccess::Planes) {
                let allowed = "formats of planes where memory has planes, others where not";
                return Err(self.fault(&path("serialise"), spelling(&format.serialise), allowed));
            }
        }
        Ok(conditions)
    }

    fn format(&self, at: &str, format: &Format, memory: u32) -> Result<(), InputError> {
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
            Serialise::PlaneBytes if format.pixels_per_char() == 4 => 4,
            Serialise::PlaneBytes => {
                return Err(self.fault(&path("char_dots"), char_dots, "4 pixels a character"));
            }
            rule if matches!(format.pixels_per_char(), 8 | 9) => {
                if rule.takes_planes() {
                    4
                } else {
                    2
                }
            }
            _ => {
                return Err(self.fault(&path("char_dots"), char_dots, "8 or 9 pixels a character"));
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
        if format.serialise.takes_planes() && (address.unit, mask) != (4, PLANE_MASK) {
            let found = format!("unit {} and mask {mask:#X}", address.unit);
            let allowed = format!("unit 4 and mask {PLANE_MASK:#X} where memory has planes");
            return Err(self.fault(&["formats", at, "address"], found, allowed));
        }
        if address.row_bits.len() > Addressing::MOST_ROW_BITS {
            let found = address.row_bits.len();
            let allowed = format!("at most {} bits", Addressing::MOST_ROW_BITS);
            return Err(self.fault(&["formats", at, "address", "row_bits"], found, allowed));
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

    fn modes(&self, profile: &AdapterProfile) -> Result<(), InputError> {
        if profile.modes.is_empty() {
            return Err(self.fault(&["modes"], "none", "at least one mode"));
        }
        let mut known = BTreeSet::new();
        for (position, mode) in profile.modes.iter().enumerate() {
            let at = position.to_string();
            if let Some(firmware) = &mode.firmware {
                let path = ["modes", &at, "firmware", "numbers"];
                let taken = firmware.numbers.iter().find(|number| **number > 0x7F || !known.insert(**number));
                if let Some(number) = taken {
                    return Err(self.fault(&path, number, "numbers 0..=127 that no other mode has"));
                }
                if firmware.numbers.is_empty() {
                    return Err(self.fault(&path, "none", "at least one number"));
                }
            }
            for block in &mode.registers {
                let end = usize::from(block.from) + block.values.len();
                if end > usize::from(block.bank.len()) {
                    let allowed = format!("at most {} cells in {}", block.bank.len(), spelling(&block.bank));
                    return Err(self.fault(&["modes", &at, "registers"], end, allowed));
                }
            }
        }
        Ok(())
    }

    fn status(&self, profile: &AdapterProfile) -> Result<(), InputError> {
        let input = profile.input_status_0.iter().flat_map(|input| &input.bits);
        if let Some(bit) = profile.status.iter().chain(input).find(|bit| bit.bit > 7) {
            return Err(self.fault(&["status"], bit.bit, "bits 0..=7"));
        }
        let chosen = profile.registers.iter().any(|field| field.role == Role::SyncPolarity);
        if let Some(polarity) = profile.sync_polarity.filter(|_| chosen) {
            return Err(self.fault(&["sync_polarity"], polarity, "none: a register chooses it"));
        }
        match profile.interrupt_request {
            Some(number) if number > 7 => Err(self.fault(&["interrupt_request"], number, "0..=7")),
            _ => Ok(()),
        }
    }

    fn fault(&self, path: &[&str], found: impl std::fmt::Display, allowed: impl std::fmt::Display) -> InputError {
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
    for slice in &profile.kept {
        let Some(cell) = slice.cell() else { continue };
        writable[cell.position()] |= slice.mask();
        readable[cell.position()] |= slice.mask();
    }
    (writable, readable)
}

/// Bits of the linear address of four planes of 64 KiB.
const PLANE_MASK: u32 = 0x3FFFF;

/// The first field of each role, by the role's position.
type Roles = [Option<FieldId>; Role::COUNT];

/// Roles of the fields that a format's colours are made from.
fn colour_roles(format: &Format) -> &'static [Role] {
    match format.colour {
        ColourRule::FourOfSixteen => &[Role::RgbiColour, Role::BrightSet, Role::ColourSet, Role::ThirdSet],
        ColourRule::OneOfSixteen => &[Role::RgbiColour],
        _ if format.border == BorderRule::Rgbi => &[Role::RgbiColour],
        ColourRule::Dac | ColourRule::Rgbi | ColourRule::Mono | ColourRule::Attribute(_) => &[],
    }
}

impl Adapter {
    /// Notes for every cell what is decoded from it.
    fn find_aspects(&mut self) {
        for field in &self.profile.registers {
            for cell in field.bits.iter().filter_map(Slice::cell) {
                self.aspects[cell.position()] |= field.role.aspects();
            }
        }
        for (id, _) in self.conditions.iter().flatten() {
            for cell in self.profile.registers[usize::from(id.0)].bits.iter().filter_map(Slice::cell) {
                self.aspects[cell.position()] |= Aspects::SHOWN | Aspects::COLOUR;
            }
        }
        if self.has_attributes {
            let attributes = (0..Bank::Attribute.len()).filter_map(|index| Cell::new(Bank::Attribute, index));
            attributes.for_each(|cell| self.aspects[cell.position()] |= Aspects::COLOUR);
        }
    }
}
