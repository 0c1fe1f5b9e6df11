//! Function 38h of interrupt 21h: how a country writes dates, amounts and times.

use backporch_raster::Tap;

use super::Served;
use crate::machine::Machine;
use crate::registers::{Byte, SegmentRegister, Word};
use crate::rom;

/// Month-day-year, a currency sign, separators, 12 hours (common practice for the first country code).
const ANSWER: [u8; 18] = [0, 0, b'$', 0, 0, 0, 0, b',', 0, b'.', 0, b'-', 0, b':', 0, 0, 2, 0];

/// The first country code.
const COUNTRY: u16 = 1;

impl<T: Tap> Machine<T> {
    pub(super) fn country(&mut self) -> Served {
        if self.word(Word::Dx) == u16::MAX || !matches!(self.byte(Byte::Al), 0 | 1) {
            // No country is set, and there is but one.
            self.set(Word::Ax, 2);
            return Served::BackWith { carry: true };
        }
        let at = self.at(SegmentRegister::Ds, Word::Dx);
        // Nothing stands behind the address of the service that turns letters into capitals.
        let entry = [0, 0].into_iter().chain(rom::SEGMENT.to_le_bytes());
        let bytes = ANSWER.into_iter().chain(entry).chain([b',', 0]);
        for (index, byte) in (0u16..).zip(bytes) {
            self.store(at.plus(index), byte);
        }
        self.set(Word::Ax, COUNTRY);
        self.set(Word::Bx, COUNTRY);
        Served::BackWith { carry: false }
    }
}
