//! What the video firmware can do and what it is doing (function 1Bh of interrupt 10h; Technical References, firmware of
//! the boards with a DAC).

use backporch_adapter::{Adapter, Role, Vertical};
use backporch_raster::Tap;

use super::data::{self, Generation};
use crate::machine::Machine;
use crate::registers::{Byte, SegmentRegister, Word};
use crate::rom;
use crate::trouble::Trouble;

/// Bytes of the block that is filled in.
const BLOCK: usize = 64;

/// Miscellaneous support: character sets, cursor scaling, palette registers, DAC, pages of the DAC, grey summing.
const GREY_SUMMING: u8 = 0x02;
const CHARACTER_SETS: u8 = 0x04;
const CURSOR_SCALING: u8 = 0x10;
const PALETTE: u8 = 0x20;
const DAC: u8 = 0x40;
const DAC_PAGES: u8 = 0x80;
/// Blinking can be switched; display combinations are reported.
const BLINKING: u8 = 0x04;
const COMBINATIONS: u8 = 0x08;

/// State: cursors are scaled, attributes blink.
const SCALES: u8 = 0x10;
const BLINKS: u8 = 0x20;

/// The table that stands in the firmware: modes by number, a bit each, scan lines of text (200, 350, 400), character sets in
/// memory and shown at once, what services there are. All zero where firmware has no such table.
pub(crate) fn table(adapter: &Adapter) -> [u8; rom::FUNCTIONALITY_BYTES as usize] {
    let mut table = [0; rom::FUNCTIONALITY_BYTES as usize];
    let generation = Generation::of(adapter);
    if !has_table(generation) {
        return table;
    }
    let modes = adapter.profile().modes.iter().filter_map(|mode| mode.firmware.as_ref());
    for number in modes.flat_map(|firmware| &firmware.numbers).filter(|number| **number < 0x18) {
        table[usize::from(number / 8)] |= 1 << (number % 8);
    }
    let planes = generation == Generation::Vga;
    (table[7], table[8], table[9]) = if planes { (0b111, 8, 2) } else { (0b100, 4, 2) };
    let pages = if planes { PALETTE | DAC_PAGES } else { 0 };
    table[0x0A] = GREY_SUMMING | CHARACTER_SETS | CURSOR_SCALING | DAC | pages;
    table[0x0B] = COMBINATIONS | if planes { BLINKING } else { 0 };
    table
}

/// Only the boards with a DAC have the function.
fn has_table(generation: Generation) -> bool {
    matches!(generation, Generation::Mcga | Generation::Vga)
}

/// Colours of a mode, and its pages.
fn colours_and_pages(number: u8) -> (u16, u8) {
    match number {
        0x00..=0x03 => (16, 8),
        0x04 | 0x05 => (4, 1),
        0x06 | 0x11 => (2, 1),
        0x07 => (0, 8),
        0x0D => (16, 8),
        0x0E => (16, 4),
        0x0F => (0, 2),
        0x10 => (16, 2),
        0x12 => (16, 1),
        _ => (256, 1),
    }
}

/// Code of this many scan lines (from memory).
fn lines_code(lines: u32) -> u8 {
    match lines {
        ..350 => 0,
        350..400 => 1,
        400..480 => 2,
        _ => 3,
    }
}

impl<T: Tap> Machine<T> {
    /// Function 1Bh: where the table stands, and 60 bytes of state.
    pub(super) fn functionality(&mut self) -> Result<(), Trouble> {
        let generation = self.generation();
        if !has_table(generation) || self.word(Word::Bx) != 0 {
            return Err(self.not_here(0x10));
        }
        let block = self.state(generation);
        let to = self.at(SegmentRegister::Es, Word::Di);
        for (offset, byte) in (0..).zip(block) {
            self.store(to.plus(offset), byte);
        }
        self.set_byte(Byte::Al, 0x1B);
        Ok(())
    }

    fn state(&self, generation: Generation) -> [u8; BLOCK] {
        let mut block = [0; BLOCK];
        let mut put = |at: usize, bytes: &[u8]| block[at..at + bytes.len()].copy_from_slice(bytes);
        put(0x00, &rom::FUNCTIONALITY.to_le_bytes());
        put(0x02, &rom::SEGMENT.to_le_bytes());
        // From the mode to the colour register the firmware's data as they stand.
        let first = data::MODE;
        for at in 0..=data::COLOUR_SELECT.offset - first.offset {
            put(0x04 + usize::from(at), &[self.load(first.plus(at))]);
        }
        put(0x22, &[self.load(data::LAST_ROW).saturating_add(1)]);
        put(0x23, &self.load_word(data::CELL_HEIGHT).to_le_bytes());
        put(0x25, &[super::identity::combination(generation).unwrap_or(0), 0]);
        let (colours, pages) = colours_and_pages(self.mode_number());
        put(0x27, &colours.to_le_bytes());
        put(0x29, &[pages, lines_code(self.lines_displayed())]);
        let field = |role| self.field_of(role) as u8;
        put(0x2B, &[field(Role::FontPlain), field(Role::FontBright)]);
        let scales = if self.load(data::CONTROL) & 1 == 0 { SCALES } else { 0 };
        let blinks = if field(Role::Blink) != 0 { BLINKS } else { 0 };
        put(0x2D, &[scales | blinks]);
        // Memory in steps of 64 KiB, less one.
        put(0x31, &[((self.hardware.adapter().memory().bytes >> 16) as u8).saturating_sub(1)]);
        block
    }

    /// What a field of the board's registers holds as a quantity; 0 where it has none.
    fn field_of(&self, role: Role) -> u32 {
        let board = self.hardware.board();
        let adapter = board.adapter();
        adapter.field_with(role).map_or(0, |field| adapter.quantity(board.registers(), field))
    }

    /// Scan lines the board shows by its registers.
    fn lines_displayed(&self) -> u32 {
        let board = self.hardware.board();
        let timing = board.adapter().timing(board.registers());
        match timing.vertical {
            Vertical::Rows(rows) => u32::from(rows.rows_displayed) * (u32::from(timing.last_scan) + 1),
            Vertical::Lines(lines) => u32::from(lines.lines_displayed),
        }
    }
}
