//! The keyboard: presses by script or by hand, one scan code at a time.

use std::collections::VecDeque;

use super::keys::Key;

/// Added to a scan code when its key is let go (Technical Reference, keyboard).
const RELEASED: u8 = 0x80;

/// A keyboard.
#[derive(Clone, Debug, Default)]
pub struct Keyboard {
    /// Scan codes to come and when, in processor clocks, in order.
    coming: VecDeque<(u64, u8)>,
    code: u8,
    full: bool,
}

impl Keyboard {
    /// A key goes down and, later, up again; times are in processor clocks.
    pub fn press(&mut self, key: Key, down: u64, up: u64) {
        self.turn(key, true, down);
        self.turn(key, false, up.max(down));
    }

    /// A key goes down, or up, at a time in processor clocks.
    pub fn turn(&mut self, key: Key, down: bool, at: u64) {
        let code = if down { key.scan_code() } else { key.scan_code() | RELEASED };
        self.coming.push_back((at, code));
        self.coming.make_contiguous().sort_by_key(|(at, _)| *at);
    }

    /// When the next scan code comes, where one is to come.
    #[must_use]
    pub fn next(&self) -> Option<u64> {
        let (at, _) = self.coming.front()?;
        // The next waits until this one is read.
        (!self.full).then_some(*at)
    }

    /// Whether a key is still to be pressed.
    #[must_use]
    pub fn has_more(&self) -> bool {
        self.coming.iter().any(|(_, code)| code & RELEASED == 0)
    }

    /// Whether a key is still to be pressed after a time in processor clocks.
    #[must_use]
    pub fn has_more_after(&self, now: u64) -> bool {
        self.coming.iter().any(|(at, code)| *at > now && code & RELEASED == 0)
    }

    /// Lets a scan code in whose time has come; `true` where it asks for an interrupt.
    pub fn attend(&mut self, now: u64) -> bool {
        match self.next() {
            Some(at) if at <= now => {
                if let Some((_, code)) = self.coming.pop_front() {
                    (self.code, self.full) = (code, true);
                }
                true
            }
            _ => false,
        }
    }

    /// Whether a scan code waits to be read.
    #[must_use]
    pub fn is_full(&self) -> bool {
        self.full
    }

    /// Reads the scan code; the last one again where none is new.
    #[must_use]
    pub fn read(&self) -> u8 {
        self.code
    }

    /// Lets the next scan code come.
    pub fn acknowledge(&mut self) {
        self.full = false;
    }
}
