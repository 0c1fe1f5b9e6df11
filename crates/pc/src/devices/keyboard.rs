//! The keyboard: presses by script or by hand, one scan code at a time.

use std::collections::VecDeque;

use super::keys::Key;

/// Added to a scan code when its key is let go (Technical Reference, keyboard).
const RELEASED: u8 = 0x80;

/// A key held for a time; times are in nanoseconds of the machine.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct KeyPress {
    /// The key.
    pub key: Key,
    /// When it goes down.
    pub from: u64,
    /// When it comes up.
    pub to: u64,
}

impl KeyPress {
    /// As long as a key is usually held: 60 ms (assumed).
    const SHORT: u64 = 60_000_000;

    /// A key pressed at a time and let go soon after.
    #[must_use]
    pub fn short(key: Key, at: u64) -> Self {
        Self { key, from: at, to: at.saturating_add(Self::SHORT) }
    }
}

/// How a key that is held repeats, in processor clocks.
#[derive(Clone, Copy, Debug)]
pub struct KeyRepeat {
    /// From the press to the first repetition.
    pub first: u64,
    /// From one repetition to the next.
    pub next: u64,
}

/// A key that is held, and when it next repeats.
#[derive(Clone, Copy, Debug)]
struct Held {
    code: u8,
    at: u64,
}

/// A keyboard.
#[derive(Clone, Debug)]
pub struct Keyboard {
    /// Scan codes to come and when, in processor clocks, in order.
    coming: VecDeque<(u64, u8)>,
    code: u8,
    full: bool,
    repeat: KeyRepeat,
    /// The key pressed last, while it is held.
    held: Option<Held>,
}

impl Keyboard {
    /// A keyboard whose held keys repeat so.
    #[must_use]
    pub fn new(repeat: KeyRepeat) -> Self {
        Self { coming: VecDeque::new(), code: 0, full: false, repeat, held: None }
    }

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
        let coming = self.coming.front().map(|(at, _)| *at);
        let next = coming.into_iter().chain(self.held.map(|held| held.at)).min()?;
        // The next waits until this one is read.
        (!self.full).then_some(next)
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
        let Some(due) = self.next().filter(|at| *at <= now) else {
            return false;
        };
        if let Some(&(_, code)) = self.coming.front().filter(|(at, _)| *at <= due) {
            self.coming.pop_front();
            let released = self.held.is_some_and(|held| code == held.code | RELEASED);
            if code & RELEASED == 0 {
                self.held = Some(Held { code, at: now + self.repeat.first });
            } else if released {
                self.held = None;
            }
            (self.code, self.full) = (code, true);
        } else if let Some(held) = &mut self.held {
            held.at = now + self.repeat.next;
            (self.code, self.full) = (held.code, true);
        }
        true
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
