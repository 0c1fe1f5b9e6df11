//! Memory handed out, taken back and resized.

use backporch_raster::Tap;

use super::Served;
use crate::arena::Refused;
use crate::machine::Machine;
use crate::registers::{Byte, SegmentRegister, Word};
use crate::trouble::Trouble;

/// Error numbers of interrupt 21h (common practice).
const NOT_ENOUGH: u16 = 8;
const NO_BLOCK: u16 = 9;

impl<T: Tap> Machine<T> {
    pub(super) fn memory(&mut self) -> Result<Served, Trouble> {
        let (block, length) = (self.segment(SegmentRegister::Es), self.word(Word::Bx));
        let done = match self.byte(Byte::Ah) {
            0x48 => self.system.arena.take(length, self.system.program).map(|start| self.set(Word::Ax, start)),
            0x49 => self.system.arena.give(block),
            0x4A => self.system.arena.resize(block, length),
            0x50 => {
                self.system.program = length;
                self.note_owners();
                return Ok(Served::Back);
            }
            0x58 => return Ok(self.strategy()),
            _ => {
                self.set(Word::Bx, self.system.program);
                return Ok(Served::Back);
            }
        };
        self.note_owners();
        match done {
            Ok(()) => return Ok(Served::BackWith { carry: false }),
            Err(Refused::TooLarge(most)) => {
                self.set(Word::Bx, most);
                self.set(Word::Ax, NOT_ENOUGH);
            }
            Err(Refused::NoBlock) => self.set(Word::Ax, NO_BLOCK),
        }
        Ok(Served::BackWith { carry: true })
    }

    /// How memory is handed out: kept and reported; the first block that fits is always taken.
    fn strategy(&mut self) -> Served {
        match self.byte(Byte::Al) {
            0 => self.set(Word::Ax, self.system.strategy),
            1 => self.system.strategy = self.word(Word::Bx),
            _ => {
                self.set(Word::Ax, 1);
                return Served::BackWith { carry: true };
            }
        }
        Served::BackWith { carry: false }
    }
}
