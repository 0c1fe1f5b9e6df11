//! What a machine answers that does not have the service it is asked for.

use backporch_raster::Tap;

use super::Served;
use crate::machine::Machine;
use crate::registers::{Byte, Word};
use crate::trouble::Trouble;

/// "Invalid function": the error number of interrupt 21h (common practice).
const INVALID: u16 = 1;

/// "Bad command" of the disk services, "unsupported" of the system services,
/// "time out" of the serial port and of the printer (Technical Reference, firmware).
const BAD_COMMAND: u8 = 0x01;
const UNSUPPORTED: u8 = 0x86;
const TIME_OUT: u8 = 0x80;
const PRINTER_TIME_OUT: u8 = 0x01;

/// What the services with a control block for each file say: no such file, nothing more to read (common practice).
const NO_FILE: u8 = 0xFF;
const NO_RECORD: u8 = 1;

/// First service of interrupt 21h that tells a failure by carry (common practice).
const FIRST_WITH_CARRY: u8 = 0x2F;

impl Trouble {
    /// Whether a machine without the thing simply goes on.
    #[must_use]
    pub fn is_absence(&self) -> bool {
        match self {
            // The processor raises these itself, and would meet the same instruction again.
            Self::Interrupt(number) => !matches!(number, 0 | 6 | 0x0D),
            Self::PortRead(_) | Self::PortWritten(..) | Self::PortValue(..) | Self::Written(..) => true,
            Self::Service { .. } => true,
            _ => false,
        }
    }
}

impl<T: Tap> Machine<T> {
    /// Notes what was asked for and is not present, and answers as a machine without it.
    pub(super) fn answer_absent(&mut self, number: u8, trouble: Trouble) -> Served {
        self.hardware.lacks(trouble);
        let mut fails_with = |status: u8| {
            self.set_byte(Byte::Ah, status);
            Served::BackWith { carry: true }
        };
        match number {
            0x13 => fails_with(BAD_COMMAND),
            0x14 => fails_with(TIME_OUT),
            0x15 => fails_with(UNSUPPORTED),
            0x17 => fails_with(PRINTER_TIME_OUT),
            0x21 if self.byte(Byte::Ah) >= FIRST_WITH_CARRY => {
                self.set(Word::Ax, INVALID);
                Served::BackWith { carry: true }
            }
            0x21 => {
                let status = match self.byte(Byte::Ah) {
                    0x0F..=0x13 | 0x16 | 0x17 | 0x23 => NO_FILE,
                    0x14 | 0x15 | 0x21 | 0x22 | 0x27 | 0x28 => NO_RECORD,
                    _ => 0,
                };
                self.set_byte(Byte::Al, status);
                Served::Back
            }
            0x1A => Served::BackWith { carry: true },
            _ => Served::Back,
        }
    }
}
