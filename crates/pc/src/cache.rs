//! Decoded instructions, kept by address until a byte of theirs is written.

use crate::instruction::Instruction;

/// Slots; an address has one place only. A power of two.
const SLOTS: usize = 1 << 13;

/// Bytes of memory.
const MEMORY: usize = 1 << 20;

/// Longest instruction kept.
const LONGEST: u32 = 15;

/// Nothing is kept in this slot.
const EMPTY: u32 = u32::MAX;

/// Decoded instructions by 20-bit address.
///
/// `covered` has a bit for every byte that belongs to a kept instruction, so
/// that an ordinary write costs one look; a write to code throws out what
/// begins up to [`LONGEST`] bytes before it.
#[derive(Debug)]
pub struct Cache {
    slots: Box<[(u32, Option<Instruction>)]>,
    covered: Box<[u64]>,
}

impl Default for Cache {
    fn default() -> Self {
        Self { slots: vec![(EMPTY, None); SLOTS].into_boxed_slice(), covered: vec![0; MEMORY / 64].into_boxed_slice() }
    }
}

/// A clone is empty: what it would hold can be decoded again.
impl Clone for Cache {
    fn clone(&self) -> Self {
        Self::default()
    }
}

impl Cache {
    /// The instruction kept for an address.
    #[inline]
    #[must_use]
    pub fn get(&self, address: u32) -> Option<&Instruction> {
        let (tag, instruction) = &self.slots[slot(address)];
        if *tag == address { instruction.as_ref() } else { None }
    }

    /// Keeps an instruction whose bytes lie one after the other.
    pub fn keep(&mut self, address: u32, instruction: Instruction) {
        let bytes = address..address + u32::from(instruction.length);
        if bytes.end > MEMORY as u32 {
            return;
        }
        self.slots[slot(address)] = (address, Some(instruction));
        for byte in bytes {
            self.covered[byte as usize / 64] |= 1 << (byte % 64);
        }
    }

    /// A byte was written.
    #[inline]
    pub fn wrote(&mut self, address: u32) {
        let address = address & (MEMORY as u32 - 1);
        if self.covered[address as usize / 64] >> (address % 64) & 1 != 0 {
            self.forget(address);
        }
    }

    #[cold]
    fn forget(&mut self, written: u32) {
        for address in written.saturating_sub(LONGEST - 1)..=written {
            let (tag, kept) = &mut self.slots[slot(address)];
            let length = kept.as_ref().map_or(0, |kept| u32::from(kept.length));
            if *tag == address && address + length > written {
                (*tag, *kept) = (EMPTY, None);
            }
        }
        self.covered[written as usize / 64] &= !(1 << (written % 64));
    }
}

fn slot(address: u32) -> usize {
    address as usize & (SLOTS - 1)
}
