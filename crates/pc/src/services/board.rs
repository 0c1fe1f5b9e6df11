//! Interrupt 15h: what the system board of machines with an 80286 or 80386 does besides (Technical Reference, firmware).

use backporch_raster::Tap;

use super::Served;
use crate::machine::Machine;
use crate::registers::{Byte, Word};
use crate::trouble::Trouble;
use backporch_processor_timing::Model;

impl<T: Tap> Machine<T> {
    pub(super) fn system_board(&mut self) -> Result<Served, Trouble> {
        if !self.processor.model().is_from(Model::P80286) {
            return Err(self.not_here(0x15));
        }
        match self.byte(Byte::Ah) {
            // No program takes keys before their interrupt does, and none waits for a device.
            0x4F => return Ok(Served::BackWith { carry: true }),
            0x85 | 0x90 | 0x91 => self.set_byte(Byte::Ah, 0),
            // This many microseconds go by.
            0x86 => {
                let microseconds = u64::from(self.word(Word::Cx)) << 16 | u64::from(self.word(Word::Dx));
                let clocks = self.hardware.clock().clocks_in(microseconds * 1000);
                self.system.pause = clocks.min(u64::from(u32::MAX)) as u32;
            }
            // There is no memory beyond the first mebibyte.
            0x88 => self.set(Word::Ax, 0),
            _ => return Err(self.not_here(0x15)),
        }
        Ok(Served::BackWith { carry: false })
    }
}
