//! What the registers say about showing memory, gathered for the beam: one
//! small value per state of the registers, without names or tables.

use crate::adapter::Adapter;
use crate::charset::CharacterSet;
use crate::format::{AddressRule, RowBit, Serialise};
use crate::register::Registers;
use crate::role::Role;

/// Where character sets lie in plane 2: 8 KiB each, in the order of the select
/// register's values (VGA register documentation).
const fn set_at(select: u32) -> u32 {
    (select & 3) * 0x4000 + (select >> 2 & 1) * 0x2000
}

/// How memory is shown under one state of the registers.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Shown {
    /// Position of the display format in the profile's table.
    pub format: u32,
    /// Dots in a character clock.
    pub char_dots: u8,
    /// Dots in a pixel.
    pub pixel_dots: u8,
    /// Bytes to pixel values.
    pub serialise: Serialise,
    /// Counters to memory addresses.
    pub addressing: Addressing,
    /// Whether scan lines of one row show different memory or glyph rows.
    pub uses_row_address: bool,
    /// Whether bit 7 of a text attribute blinks.
    pub blink: bool,
    /// Pixels a line is panned to the left by.
    pub pan: u8,
    /// Whether panning stops below the line compare.
    pub pan_above_split: bool,
    /// The text cursor, where it is shown.
    pub cursor: Option<Cursor>,
    /// Glyphs of text from planes.
    pub glyphs: Glyphs,
    /// Whether accesses of the processor disturb the fetch.
    pub snow: bool,
}

impl Shown {
    /// Whether memory looks the same under both, the text cursor apart.
    #[must_use]
    pub fn shows_memory_like(&self, other: &Self) -> bool {
        Self { cursor: None, ..*self } == Self { cursor: None, ..*other }
    }

    /// Frames of a whole blink of text attributes (VGA register documentation;
    /// common practice for the classes before it).
    const TEXT_BLINK: u64 = 32;

    /// Whether blinking characters are dark in a frame.
    #[must_use]
    pub fn is_dark(&self, frame: u64) -> bool {
        frame % Self::TEXT_BLINK >= Self::TEXT_BLINK / 2
    }

    /// Address steps along a line to the text cursor, where it is shown on
    /// this scan line of the row in this frame.
    #[must_use]
    pub fn cursor_on(&self, row_start: u32, row_address: u8, frame: u64) -> Option<u32> {
        let cursor = self.cursor?;
        let lit = cursor.blink.is_none_or(|frames| frame % u64::from(frames) < u64::from(frames / 2));
        let covers = (cursor.first..=cursor.last).contains(&row_address);
        (lit && covers).then(|| cursor.address.wrapping_sub(row_start) & cursor.counter_mask)
    }
}

/// The text cursor.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Cursor {
    /// Address counter at which it stands.
    pub address: u32,
    /// Bits of the address counter.
    pub counter_mask: u32,
    /// First scan line of the row it covers.
    pub first: u8,
    /// Last scan line of the row it covers.
    pub last: u8,
    /// Frames of a whole blink; `None` where it is steady.
    pub blink: Option<u8>,
}

/// Where glyphs of text from planes are found.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Glyphs {
    /// Address in plane 2 of the set for attributes with bit 3 set.
    pub bright: u32,
    /// Address in plane 2 of the set for attributes with bit 3 clear.
    pub plain: u32,
    /// Whether the ninth dot of codes C0h to DFh repeats the eighth.
    pub line_graphics: bool,
}

/// How an address counter of planes is spread over addresses.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub enum Spread {
    /// As it is.
    #[default]
    Byte,
    /// Doubled, its bit 13 as the lowest.
    WordBit13,
    /// Doubled, its bit 15 as the lowest.
    WordBit15,
    /// Times four, its bits 12 and 13 as the lowest.
    DoubleWord,
}

impl Spread {
    /// The address of a 16-bit counter (VGA register documentation, memory
    /// address multiplexing).
    #[must_use]
    pub fn place(self, counter: u32) -> u32 {
        let counter = counter & 0xFFFF;
        match self {
            Self::Byte => counter,
            Self::WordBit13 => counter << 1 & 0xFFFE | counter >> 13 & 1,
            Self::WordBit15 => counter << 1 & 0xFFFE | counter >> 15 & 1,
            Self::DoubleWord => counter << 2 & 0xFFFC | counter >> 12 & 3,
        }
    }
}

/// Counters to memory addresses, under one state of the registers.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Addressing {
    /// Bytes one step of the counter stands for.
    pub unit: u32,
    /// Counter steps in a character clock.
    pub units_per_char: u32,
    /// Bits of the linear address that reach memory; a power of two less one.
    pub mask: u32,
    /// Address bits that row and page bits replace.
    pub holes: u32,
    /// Address bits put in by page fields.
    pub page: u32,
    /// How the counter is spread over addresses.
    pub spread: Spread,
    /// The counter moves once in `1 << repeat` character clocks.
    pub repeat: u8,
    rows: [RowBit; Self::MOST_ROW_BITS],
    row_bits: u8,
}

impl Addressing {
    /// Most row-address bits a board puts into the address.
    pub const MOST_ROW_BITS: usize = 4;

    fn new(rule: &AddressRule, page: u32) -> Self {
        let mut addressing = Self {
            unit: rule.unit,
            units_per_char: rule.units_per_char,
            mask: rule.mask,
            holes: 0,
            page,
            spread: Spread::Byte,
            repeat: 0,
            rows: [RowBit { row: 0, address: 0 }; Self::MOST_ROW_BITS],
            row_bits: 0,
        };
        rule.row_bits.iter().for_each(|bit| addressing.add_row_bit(*bit));
        addressing
    }

    fn add_row_bit(&mut self, bit: RowBit) {
        if let Some(slot) = self.rows.get_mut(usize::from(self.row_bits)) {
            *slot = bit;
            self.row_bits += 1;
        }
    }

    /// Bytes fetched in a character clock.
    #[must_use]
    pub fn bytes_per_char(&self) -> u32 {
        self.unit * self.units_per_char
    }

    /// The address bits a scan line's row address and the page fields put in.
    #[must_use]
    pub fn bank(&self, row_address: u8) -> u32 {
        let bits = self.rows[..usize::from(self.row_bits)].iter();
        bits.fold(self.page, |bank, bit| bank | u32::from(row_address >> bit.row & 1) << bit.address)
    }

    /// Whether the row address chooses among banks.
    #[must_use]
    pub fn has_banks(&self) -> bool {
        self.row_bits > 0
    }
}

/// Values of the cursor's blink field: steady, hidden, a blink in 16 frames or
/// in 32 (MC6845 CRT Controller data sheet, R10). Classes without the field
/// blink once in 16 frames (VGA register documentation).
const STEADY: u32 = 0;
const HIDDEN: u32 = 1;
const BLINKS: u32 = 2;
const BLINKS_SLOWLY: u32 = 3;

impl Adapter {
    /// How memory is shown under these registers.
    #[must_use]
    pub fn shown(&self, registers: &Registers) -> Shown {
        let index = self.format_index(registers);
        let format = self.format(index);
        let fields = self.reader(registers);
        let cursor_start = fields.stored(Role::CursorStart);
        let cursor_blink = fields.stored_or(Role::CursorBlink, BLINKS);
        let cursor = Cursor {
            address: fields.value(Role::CursorAddress),
            counter_mask: fields.mask(Role::StartAddress),
            first: cursor_start.unwrap_or(0) as u8,
            last: fields.value(Role::CursorEnd) as u8,
            blink: match cursor_blink {
                STEADY => None,
                BLINKS_SLOWLY => Some(32),
                _ => Some(16),
            },
        };
        let hidden = fields.is_set(Role::CursorDisable) || cursor_blink == HIDDEN || cursor_start.is_none();
        let keeps_address = |role| fields.is_set_or(role, true);
        Shown {
            format: index as u32,
            char_dots: format.char_dots,
            pixel_dots: format.pixel_dots,
            serialise: format.serialise,
            addressing: self.addressing(registers, index),
            uses_row_address: format.uses_row_address()
                || !keeps_address(Role::AddressBit13)
                || !keeps_address(Role::AddressBit14),
            blink: fields.is_set(Role::Blink),
            pan: pixels_panned(format.serialise, format.pixels_per_char(), fields.value(Role::PixelPanning)),
            pan_above_split: fields.is_set(Role::PanningAboveSplit),
            cursor: (format.serialise.is_text() && !hidden).then_some(cursor),
            glyphs: Glyphs {
                plain: set_at(fields.value(Role::FontPlain)),
                bright: set_at(fields.value(Role::FontBright)),
                line_graphics: fields.is_set(Role::LineGraphics),
            },
            snow: self.has_snow(index),
        }
    }

    fn addressing(&self, registers: &Registers, format: usize) -> Addressing {
        let rule = &self.format(format).address;
        let page = self.page(registers, format);
        let mut addressing = Addressing::new(rule, page);
        if !self.format(format).serialise.takes_planes() {
            return addressing;
        }
        let fields = self.reader(registers);
        addressing.spread = if fields.is_set(Role::DoublewordMode) {
            Spread::DoubleWord
        } else if fields.is_set_or(Role::ByteMode, true) {
            Spread::Byte
        } else if fields.is_set_or(Role::AddressWrap, true) {
            Spread::WordBit15
        } else {
            Spread::WordBit13
        };
        addressing.repeat =
            if fields.is_set(Role::CountByFour) { 2 } else { u8::from(fields.is_set(Role::CountByTwo)) };
        for (row, bit, role) in [(0, 13, Role::AddressBit13), (1, 14, Role::AddressBit14)] {
            // A unit is four bytes: the address bit of a plane stands two higher.
            if !fields.is_set_or(role, true) {
                addressing.holes |= 1 << (bit + 2);
                addressing.add_row_bit(RowBit { row, address: bit + 2 });
            }
        }
        addressing
    }
}

/// Pixels a value of the panning register stands for (VGA register
/// documentation): with nine dots a character 8 is none and 0 is one; with
/// 8-bit pixels it counts half pixels. Bits beyond are left out (assumed).
fn pixels_panned(serialise: Serialise, pixels_per_char: u32, value: u32) -> u8 {
    let pixels = match (serialise, pixels_per_char) {
        (Serialise::PlaneBytes, _) => (value & 7) / 2,
        (_, 9) => (value + 1) % 9,
        _ => value & 7,
    };
    pixels as u8
}

impl Glyphs {
    /// Bytes from one glyph of a set to the next (VGA register documentation).
    const GLYPH_BYTES: u32 = 32;

    /// Address in memory of a line of a glyph.
    #[must_use]
    pub fn address(&self, code: u8, attribute: u8, row_address: u8) -> u32 {
        let set = if attribute & 8 != 0 { self.bright } else { self.plain };
        let line = set + u32::from(code) * Self::GLYPH_BYTES + u32::from(row_address & 31);
        (line & 0xFFFF) * crate::planes::PLANES + 2
    }

    /// Puts the built-in character set, `height` lines high, where the glyphs are found.
    pub(crate) fn put(&self, height: u8, memory: &mut [u8]) {
        let set = CharacterSet::built_in().stretched(height);
        for attribute in [0, 8] {
            for (code, line) in (0..=255).flat_map(|code| (0..height).map(move |line| (code, line))) {
                if let Some(byte) = memory.get_mut(self.address(code, attribute, line) as usize) {
                    *byte = set.row(code, line);
                }
            }
        }
    }
}
