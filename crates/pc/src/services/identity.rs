//! What board there is, as programs ask for it, and switches of the board (functions 12h and 1Ah of interrupt 10h;
//! Technical References, firmware).

use backporch_adapter::Role;
use backporch_raster::Tap;

use super::data::{self, Generation};
use crate::machine::Machine;
use crate::registers::{Byte, Word};
use crate::trouble::Trouble;

/// Codes of display combinations: a VGA and an MCGA with a colour monitor.
const VGA_COLOUR: u8 = 0x08;
const MCGA_COLOUR: u8 = 0x0C;

/// Memory of the enhanced boards: 256 KiB.
const ALL_MEMORY: u8 = 3;

/// The code of a board with a colour monitor, where firmware tells it.
pub(super) fn combination(generation: Generation) -> Option<u8> {
    match generation {
        Generation::Vga => Some(VGA_COLOUR),
        Generation::Mcga => Some(MCGA_COLOUR),
        _ => None,
    }
}

impl<T: Tap> Machine<T> {
    /// Function 1Ah: which boards there are.
    pub(super) fn display_combination(&mut self) -> Result<(), Trouble> {
        let code = combination(self.generation()).ok_or_else(|| self.not_here(0x10))?;
        if self.byte(Byte::Al) == 0 {
            self.set(Word::Bx, u16::from(code));
        }
        self.set_byte(Byte::Al, 0x1A);
        Ok(())
    }

    /// Function 12h: information and switches.
    pub(super) fn alternate_select(&mut self) -> Result<(), Trouble> {
        let generation = self.generation();
        let has_planes = matches!(generation, Generation::Ega | Generation::Vga);
        let has_dac = matches!(generation, Generation::Mcga | Generation::Vga);
        match self.byte(Byte::Bl) {
            0x10 if has_planes => {
                let is_monochrome = self.load_word(data::CONTROLLER_PORT) == data::MONOCHROME_PORT;
                self.set(Word::Bx, u16::from_le_bytes([ALL_MEMORY, u8::from(is_monochrome)]));
                self.set(Word::Cx, u16::from(self.load(data::SWITCHES)));
            }
            // Print screen of as many rows as there are.
            0x20 if has_planes => {}
            // Lines of text, palette loading, addressing, grey summing, cursor scaling: as asked, from the next mode on.
            0x34 if has_dac => {
                let off = self.byte(Byte::Al) & 1;
                let control = self.load(data::CONTROL) & !1 | off;
                self.store(data::CONTROL, control);
                self.set_byte(Byte::Al, 0x12);
            }
            0x36 if has_dac => {
                let off = u32::from(self.byte(Byte::Al) & 1);
                if !self.program_field(Role::ScreenOff, off) {
                    self.program_field(Role::VideoEnable, 1 - off);
                }
                self.set_byte(Byte::Al, 0x12);
            }
            _ => return Err(self.not_here(0x10)),
        }
        Ok(())
    }
}
