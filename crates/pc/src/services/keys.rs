//! Keys: the keyboard's interrupt and the service that hands its characters out.

use backporch_raster::Tap;

use super::Served;
use crate::devices::keys::Key;
use crate::machine::Machine;
use crate::registers::{Byte, Far, Word};
use crate::trouble::Trouble;

/// Firmware data: shift state, and a ring of words between two pointers
/// (Technical Reference, firmware data area).
const SEGMENT: u16 = 0x0040;
const SHIFTS: Far = Far { segment: SEGMENT, offset: 0x0017 };
const HEAD: Far = Far { segment: SEGMENT, offset: 0x001A };
const TAIL: Far = Far { segment: SEGMENT, offset: 0x001C };
const RING: std::ops::Range<u16> = 0x001E..0x003E;

/// Bits of the shift state and the scan codes that set them.
const SHIFT_KEYS: [(u8, u8); 4] = [(0x36, 0x01), (0x2A, 0x02), (0x1D, 0x04), (0x38, 0x08)];
const EITHER_SHIFT: u8 = 0x03;
const CONTROL: u8 = 0x04;

impl<T: Tap> Machine<T> {
    /// Empties the ring, at the start.
    pub(crate) fn prepare_keys(&mut self) {
        self.store_word(HEAD, RING.start);
        self.store_word(TAIL, RING.start);
    }

    /// Interrupt 09h: a scan code has come.
    pub(super) fn key_came(&mut self) -> Served {
        let code = self.hardware.keyboard.read();
        self.hardware.keyboard.acknowledge();
        self.hardware.reconsider();
        let released = code & 0x80 != 0;
        let shifts = self.load(SHIFTS);
        match SHIFT_KEYS.iter().find(|(scan, _)| *scan == code & 0x7F) {
            Some((_, bit)) if released => self.store(SHIFTS, shifts & !bit),
            Some((_, bit)) => self.store(SHIFTS, shifts | bit),
            None => {
                if let Some(key) = Key::of_scan_code(code).filter(|_| !released) {
                    let character = key.character(shifts & EITHER_SHIFT != 0, shifts & CONTROL != 0);
                    self.put_key(u16::from_be_bytes([key.scan_code(), character]));
                }
            }
        }
        self.hardware.controller.end();
        Served::Back
    }

    fn pointer(&self, at: Far) -> u16 {
        let found = self.hardware.peek_word(at.linear());
        // A program may have written anything here.
        if RING.contains(&found) && found.is_multiple_of(2) { found } else { RING.start }
    }

    fn after(pointer: u16) -> u16 {
        if pointer + 2 >= RING.end { RING.start } else { pointer + 2 }
    }

    /// A full ring loses the key.
    fn put_key(&mut self, key: u16) {
        let tail = self.pointer(TAIL);
        let next = Self::after(tail);
        if next != self.pointer(HEAD) {
            self.store_word(Far::new(SEGMENT, tail), key);
            self.store_word(TAIL, next);
        }
    }

    /// The next key, which stays: scan code in the upper half, character in the lower.
    pub(super) fn next_key(&self) -> Option<u16> {
        let head = self.pointer(HEAD);
        (head != self.pointer(TAIL)).then(|| self.hardware.peek_word(Far::new(SEGMENT, head).linear()))
    }

    /// Takes the next key.
    pub(super) fn take_key(&mut self) -> Option<u16> {
        let key = self.next_key()?;
        self.store_word(HEAD, Self::after(self.pointer(HEAD)));
        Some(key)
    }

    /// Interrupt 16h.
    pub(super) fn keys(&mut self) -> Result<Served, Trouble> {
        match self.byte(Byte::Ah) {
            0x00 | 0x10 => match self.take_key() {
                Some(key) => self.set(Word::Ax, key),
                None => return Ok(Served::WaitForKey),
            },
            0x01 | 0x11 => {
                let next = self.next_key();
                if let Some(key) = next {
                    self.set(Word::Ax, key);
                }
                return Ok(Served::BackZero(next.is_none()));
            }
            0x02 | 0x12 => self.set_byte(Byte::Al, self.load(SHIFTS)),
            _ => return Err(self.not_here(0x16)),
        }
        Ok(Served::Back)
    }
}
