//! Checks a profile against the text it was read from, and compiles its names.

use std::collections::HashMap;

use backporch_input::{FormError, Source};
use backporch_signal::Hertz;

use crate::adapter::Adapter;
use crate::aspects::Aspects;
use crate::format::{BorderRule, ColourRule, Format, Serialise};
use crate::named::{Colours, NamedFields};
use crate::planes;
use crate::port::{PortRole, Ports};
use crate::profile::{AdapterProfile, MemoryAccess, MemoryRule};
use crate::register::{Bank, Cell, FieldId};
use crate::shown::{self, Addressing};
use crate::timing::{TimingRule, VerticalSync};

/// Dot clocks the engine runs, in hertz.
const DOT_CLOCKS: std::ops::RangeInclusive<f64> = 1e6..=1e8;

/// Looks a register up by name; the path tells where the name stands.
type Known<'a> = dyn Fn(&[&str], &str) -> Result<FieldId, FormError> + 'a;

/// Checks one profile against the text it was read from.
pub(crate) struct Checker<'a> {
    source: &'a Source,
}

impl<'a> Checker<'a> {
    pub fn new(source: &'a Source) -> Self {
        Self { source }
    }

    /// The profile, compiled.
    pub fn adapter(&self, profile: AdapterProfile) -> Result<Adapter, FormError> {
        self.memory(&profile.memory)?;
        let names = self.registers(&profile)?;
        let known = |path: &[&str], name: &str| {
            let allowed = "the name of a register of this profile";
            let found = names.get(name).copied();
            found.ok_or_else(|| self.fault(path, name, allowed))
        };
        let named = |path: &str, name: &Option<String>| name.as_ref().map(|name| known(&[path], name)).transpose();

        let (dot_clocks, clock_select) = self.clocks(&profile, &known)?;
        let timing = self.timing(&profile, &names)?;
        let protect = match &profile.protect {
            Some(rule) => Some(known(&["protect", "field"], &rule.field)?),
            None => None,
        };
        let mut protected = [0; Cell::COUNT];
        for (position, slice) in profile.protect.iter().flat_map(|rule| rule.cells.iter().enumerate()) {
            let position = position.to_string();
            protected[self.cell(&["protect", "cells", &position], slice)?.position()] |= slice.mask();
        }
        let (video_enable, screen_off) =
            (named("video_enable", &profile.video_enable)?, named("screen_off", &profile.screen_off)?);
        let conditions = self.formats(&profile, &known)?;
        self.modes(&profile)?;
        self.status(&profile)?;

        let (writable, readable) = masks(&profile);
        let find = |name: &str| names.get(name).copied();
        let mut adapter = Adapter {
            dot_clocks,
            clock_select,
            writable,
            readable,
            protected,
            protect,
            aspects: [Aspects::empty(); Cell::COUNT],
            has_attributes: Ports::new(&profile.ports).has(PortRole::AttributeFlipFlop),
            ports: Ports::new(&profile.ports),
            start_address: timing.start_address,
            timing: timing.fields,
            timing_widths: timing.widths,
            shown: NamedFields::new(&shown::FIELDS, find),
            planes: NamedFields::new(&planes::FIELDS, find),
            video_enable,
            screen_off,
            colours: profile.formats.iter().map(|format| colours(format, &names)).collect(),
            pages: profile.formats.iter().map(|format| pages(format, &names)).collect(),
            snow: profile.formats.iter().map(|format| profile.snow.contains(&format.name)).collect(),
            conditions,
            names,
            profile,
        };
        adapter.find_aspects();
        Ok(adapter)
    }

    fn clocks(&self, profile: &AdapterProfile, known: &Known<'_>) -> Result<(Vec<Hertz>, Option<FieldId>), FormError> {
        let clock = |path: &[&str], hz: f64| {
            let clock = Hertz::new(hz).filter(|clock| DOT_CLOCKS.contains(&clock.get()));
            clock.ok_or_else(|| self.fault(path, hz, "1e6 to 1e8"))
        };
        let first = clock(&["dot_clock_hz"], profile.dot_clock_hz)?;
        let Some(choice) = &profile.dot_clocks else {
            return Ok((vec![first], None));
        };
        let field = known(&["dot_clocks", "field"], &choice.field)?;
        let clocks = choice.hz.iter().enumerate();
        let clocks = clocks.map(|(at, hz)| clock(&["dot_clocks", "hz", &at.to_string()], *hz));
        let clocks: Vec<Hertz> = clocks.collect::<Result<_, _>>()?;
        match clocks.first() {
            Some(same) if *same == first => Ok((clocks, Some(field))),
            _ => {
                let found = choice.hz.first().copied().unwrap_or(0.0);
                Err(self.fault(&["dot_clocks", "hz"], found, format!("{} first, as dot_clock_hz", first.get())))
            }
        }
    }

    fn timing(&self, profile: &AdapterProfile, names: &HashMap<String, FieldId>) -> Result<TimingFields, FormError> {
        let rule = &profile.timing;
        let mut fields = Vec::new();
        for name in rule.fields() {
            let missing = || self.fault(&["registers"], "no such register", format!("a register `{name}`"));
            fields.push(Ok(*names.get(*name).ok_or_else(missing)?));
        }
        for (name, taken) in rule.optional_fields() {
            fields.push(names.get(*name).copied().ok_or(*taken));
        }
        let comparand = if matches!(rule, TimingRule::Vga { .. }) { 11 } else { 8 };
        let mut widths = Vec::new();
        for field in fields.iter().flatten() {
            let info = &profile.registers[usize::from(field.0)];
            let most = if info.name == "start_address" { 24 } else { comparand };
            if info.width() > most {
                let position = field.0.to_string();
                let allowed = format!("at most {most} bits");
                return Err(self.fault(&["registers", &position, "bits"], info.width(), allowed));
            }
            widths.push(info.width() as u8);
        }
        if let TimingRule::Mc6845 { vertical_sync, row_counter_bits, .. } = rule {
            if *vertical_sync == VerticalSync::Field && fields.last().is_some_and(Result::is_err) {
                let allowed = "a register `vertical_sync_width`";
                return Err(self.fault(&["timing", "vertical_sync"], "no such register", allowed));
            }
            if !matches!(row_counter_bits, 7 | 8) {
                return Err(self.fault(&["timing", "row_counter_bits"], row_counter_bits, "7 or 8"));
            }
        }
        let start_address = names.get("start_address").copied();
        let missing = || self.fault(&["registers"], "no such register", "a register `start_address`");
        Ok(TimingFields { fields, widths, start_address: start_address.ok_or_else(missing)? })
    }

    fn memory(&self, memory: &MemoryRule) -> Result<(), FormError> {
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
            for name in colour_names(&format.colour) {
                known(&path("colour"), name)?;
            }
            for page in &format.address.page_bits {
                let field = known(&["formats", &at, "address", "page_bits"], &page.field)?;
                let top = u32::from(page.address) + profile.registers[usize::from(field.0)].width();
                if top > 20 || 1u32 << top > profile.memory.bytes || 1 << page.address <= format.address.mask {
                    let found = format!("{} to address {}", page.field, page.address);
                    let allowed = "address bits above the mask and inside memory";
                    return Err(self.fault(&["formats", &at, "address", "page_bits"], found, allowed));
                }
            }
            if format.serialise.takes_planes() != (profile.memory.access == MemoryAccess::Planes) {
                let allowed = "formats of planes where memory has planes, others where not";
                return Err(self.fault(&path("serialise"), format!("{:?}", format.serialise), allowed));
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

/// Bits of the linear address of four planes of 64 KiB.
const PLANE_MASK: u32 = 0x3FFFF;

/// The timing rule's fields, compiled.
struct TimingFields {
    fields: Vec<Result<FieldId, u32>>,
    widths: Vec<u8>,
    start_address: FieldId,
}

fn colour_names(rule: &ColourRule) -> Vec<&String> {
    match rule {
        ColourRule::Dac | ColourRule::Rgbi | ColourRule::Mono | ColourRule::Attribute(_) => vec![],
        ColourRule::OneOfSixteen { foreground } => vec![foreground],
        ColourRule::FourOfSixteen { background, bright, set, grey } => vec![background, bright, set, grey],
    }
}

fn colours(format: &Format, names: &HashMap<String, FieldId>) -> Colours {
    let find = |name: &String| names.get(name).copied();
    let border = match &format.border {
        BorderRule::Rgbi(name) => find(name),
        BorderRule::Black | BorderRule::Overscan(_) => None,
    };
    Colours { fields: colour_names(&format.colour).into_iter().filter_map(find).collect(), border }
}

fn pages(format: &Format, names: &HashMap<String, FieldId>) -> Vec<(FieldId, u8)> {
    let pages = format.address.page_bits.iter();
    pages.filter_map(|page| Some((*names.get(&page.field)?, page.address))).collect()
}

impl Adapter {
    /// Notes for every cell what is decoded from it.
    fn find_aspects(&mut self) {
        let timing: Vec<FieldId> = self.timing.iter().flatten().copied().collect();
        let conditions: Vec<FieldId> = self.conditions.iter().flatten().map(|(field, _)| *field).collect();
        let pages: Vec<FieldId> = self.pages.iter().flatten().map(|(field, _)| *field).collect();
        let shown: Vec<FieldId> = self.shown.ids().chain(pages).filter(|id| *id != self.start_address).collect();
        let planes: Vec<FieldId> = self.planes.ids().collect();
        let colours: Vec<FieldId> =
            self.colours.iter().flat_map(|c| c.fields.iter().copied().chain(c.border)).collect();
        let switches = [self.video_enable, self.screen_off].into_iter().flatten();
        let timing = timing.into_iter().filter(|id| *id != self.start_address);
        let all = timing
            .map(|id| (id, Aspects::TIMING))
            .chain(conditions.into_iter().map(|id| (id, Aspects::SHOWN | Aspects::COLOUR)))
            .chain(shown.into_iter().map(|id| (id, Aspects::SHOWN)))
            .chain(planes.into_iter().map(|id| (id, Aspects::MEMORY)))
            .chain(colours.into_iter().chain(switches).map(|id| (id, Aspects::COLOUR)));
        for (id, aspect) in all {
            for cell in self.profile.registers[usize::from(id.0)].bits.iter().filter_map(crate::Slice::cell) {
                self.aspects[cell.position()] |= aspect;
            }
        }
        if self.has_attributes {
            let attributes = (0..Bank::Attribute.len()).filter_map(|index| Cell::new(Bank::Attribute, index));
            attributes.for_each(|cell| self.aspects[cell.position()] |= Aspects::COLOUR);
        }
    }
}
