//! The firmware's data below 500h: what programs look at and firmware works by
//! (Technical Reference, firmware data area).

use backporch_adapter::{Adapter, MemoryAccess, PortRole};
use backporch_processor_timing::Model;
use backporch_raster::Tap;

use crate::devices::clock_memory::ClockMemory;
use crate::machine::Machine;
use crate::registers::Far;
use crate::rom;

const fn at(offset: u16) -> Far {
    Far { segment: 0x0040, offset }
}

/// Bits 4 and 5: the text it starts with; bit 0: a disk drive.
pub const EQUIPMENT: Far = at(0x10);
/// In KiB.
pub const MEMORY_SIZE: Far = at(0x13);
/// Mode number.
pub const MODE: Far = at(0x49);
/// Characters in a row.
pub const COLUMNS: Far = at(0x4A);
/// Bytes of a page.
pub const PAGE_BYTES: Far = at(0x4C);
/// Offset of the page shown.
pub const PAGE_START: Far = at(0x4E);
/// Column and row of the cursor of eight pages.
pub const CURSORS: Far = at(0x50);
/// Last and first line of the cursor.
pub const CURSOR_SHAPE: Far = at(0x60);
/// Page shown.
pub const PAGE: Far = at(0x62);
/// Index port of the controller.
pub const CONTROLLER_PORT: Far = at(0x63);
/// What the mode and colour registers of the first boards were set to.
pub const MODE_SELECT: Far = at(0x65);
/// The same.
pub const COLOUR_SELECT: Far = at(0x66);
/// Rows less one; later boards only.
pub const LAST_ROW: Far = at(0x84);
/// Scan lines of a character; later boards only.
pub const CELL_HEIGHT: Far = at(0x85);
/// Bit 7: the last mode kept memory; bits 5 and 6: memory; bit 0: cursor shapes are not scaled.
pub const CONTROL: Far = at(0x87);
/// Feature bits and switches.
pub const SWITCHES: Far = at(0x88);

/// Vectors that point at character sets.
pub const UPPER_GLYPHS: Far = Far { segment: 0, offset: 0x1F * 4 };
/// The same, of later boards.
pub const GLYPHS: Far = Far { segment: 0, offset: 0x43 * 4 };

/// Index port of the controller on monochrome boards and in monochrome modes (Technical Reference, firmware).
pub const MONOCHROME_PORT: u16 = 0x3B4;

/// Bits of the equipment word that tell the display, and what they hold: 80 columns of colour or of monochrome text
/// (Technical Reference, interrupt 11h).
const DISPLAY: u16 = 0x30;
const COLOUR: u16 = 0x20;
const MONOCHROME: u16 = 0x30;

/// What firmware of a board knows of it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Generation {
    /// Monochrome text.
    Monochrome,
    /// A 6845 with colour.
    Cga,
    /// Planes, no DAC.
    Ega,
    /// A DAC, no planes.
    Mcga,
    /// Planes and a DAC.
    Vga,
}

impl Generation {
    /// By what the board has.
    pub fn of(adapter: &Adapter) -> Self {
        let has_planes = matches!(adapter.memory().access, MemoryAccess::Planes);
        let has_dac = adapter.has_port_for(PortRole::DacData);
        match (has_planes, has_dac) {
            (true, true) => Self::Vga,
            (true, false) => Self::Ega,
            (false, true) => Self::Mcga,
            (false, false) if adapter.knows_port(MONOCHROME_PORT) => Self::Monochrome,
            (false, false) => Self::Cga,
        }
    }

    /// Whether firmware notes rows, character height and more.
    pub fn is_later(self) -> bool {
        matches!(self, Self::Ega | Self::Mcga | Self::Vga)
    }
}

impl<T: Tap> Machine<T> {
    pub(super) fn generation(&self) -> Generation {
        Generation::of(self.hardware.adapter())
    }

    /// Everything that does not depend on the mode.
    pub(crate) fn prepare_data(&mut self) {
        let generation = self.generation();
        self.store_word(EQUIPMENT, 0x0001);
        self.note_monitor(generation == Generation::Monochrome);
        let kilobytes = (crate::hardware::MEMORY / 1024) as u16;
        self.store_word(MEMORY_SIZE, kilobytes);
        if self.processor.model().is_from(Model::P80286) {
            // Boards with firmware of their own are no display that the memory knows (Technical Reference of the AT).
            let display = if generation.is_later() { 0 } else { self.load_word(EQUIPMENT) & DISPLAY };
            self.hardware.clock_memory = Some(ClockMemory::new(display as u8 | 1, kilobytes));
        }
        // Control, switches, flags and number of the display combination.
        let bytes: [u8; 4] = match generation {
            Generation::Monochrome | Generation::Cga => [0; 4],
            Generation::Ega => [0x60, 0x09, 0x00, 0x00],
            Generation::Mcga => [0x40, 0x09, 0x11, 0x0A],
            Generation::Vga => [0x60, 0x09, 0x11, 0x0B],
        };
        for (offset, byte) in (CONTROL.offset..).zip(bytes) {
            self.store(at(offset), byte);
        }
        self.point_at(UPPER_GLYPHS, rom::font::EIGHT_UPPER);
        if generation.is_later() {
            self.point_at(GLYPHS, rom::font::EIGHT);
        }
    }

    /// Notes which display the equipment word tells of: where it was the other one, the usual one.
    pub(super) fn note_monitor(&mut self, is_monochrome: bool) {
        let equipment = self.load_word(EQUIPMENT);
        let wanted = if is_monochrome { MONOCHROME } else { COLOUR };
        if (equipment & DISPLAY == MONOCHROME) != is_monochrome || equipment & DISPLAY == 0 {
            self.store_word(EQUIPMENT, equipment & !DISPLAY | wanted);
        }
    }

    /// Lets a vector point into the firmware.
    pub(super) fn point_at(&mut self, entry: Far, offset: u16) {
        self.store_word(entry, offset);
        self.store_word(Far::new(entry.segment, entry.offset + 2), rom::SEGMENT);
    }

    /// Where a vector points.
    pub(super) fn pointed(&self, entry: Far) -> Far {
        let word = |more| self.hardware.peek_word(entry.linear() + more);
        Far::new(word(2), word(0))
    }

    pub(super) fn load_word(&self, from: Far) -> u16 {
        self.hardware.peek_word(from.linear())
    }
}
