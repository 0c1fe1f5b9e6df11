//! Services that take long and let the machine go on in between: text to the console, repeated characters.
//!
//! How far one has come is kept by the place of its return address, so that a
//! handler of an interrupt may use the same service meanwhile.

use backporch_raster::Tap;

use super::Owed;
use crate::machine::Machine;
use crate::registers::{Far, SegmentRegister, Word};

/// Services under way at once; one that never came back is forgotten.
const MOST: usize = 16;

impl<T: Tap> Machine<T> {
    /// How much of the service under way is done, 0 at its start.
    pub(super) fn take_progress(&mut self) -> u32 {
        let stack = self.at(SegmentRegister::Ss, Word::Sp);
        let known = self.system.progress.iter().position(|(place, _)| *place == stack);
        known.map_or(0, |known| self.system.progress.remove(known).1)
    }

    /// Keeps how much of the service under way is done.
    pub(super) fn keep_progress(&mut self, done: u32) {
        let stack: Far = self.at(SegmentRegister::Ss, Word::Sp);
        if self.system.progress.len() >= MOST {
            self.system.progress.remove(0);
        }
        self.system.progress.push((stack, done));
    }

    /// What the service under way still takes, where it is done.
    pub(super) fn take_owed(&mut self) -> Option<Owed> {
        if self.system.owed.is_empty() {
            return None;
        }
        let stack = self.at(SegmentRegister::Ss, Word::Sp);
        let known = self.system.owed.iter().position(|(place, _)| *place == stack)?;
        Some(self.system.owed.remove(known).1)
    }

    pub(super) fn keep_owed(&mut self, owed: Owed) {
        let stack = self.at(SegmentRegister::Ss, Word::Sp);
        if self.system.owed.len() >= MOST {
            self.system.owed.remove(0);
        }
        self.system.owed.push((stack, owed));
    }
}
