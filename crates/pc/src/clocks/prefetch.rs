//! Waiting for instruction bytes, approximated.
//!
//! The tables assume that an instruction's bytes are in the queue. Where many
//! short instructions follow each other, the queue runs dry, most of all
//! behind the 8088's byte-wide bus. The bench keeps one number for it: bytes
//! in the queue, counted in the clocks it takes to fetch them. Clocks in which
//! an instruction leaves the bus alone fill the queue up to its size, an
//! instruction takes its bytes out, and what is missing is waited for. A jump
//! empties the queue; the tables already charge for its first refill.
//!
//! This is an approximation: the real queue fetches whole words, at fixed
//! points of the bus cycle, and not all at once.

use super::bus_cycle;
use backporch_processor_timing::Model;

/// The queue of one processor.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Prefetch {
    /// Clocks to fetch a byte; 0 leaves waiting out.
    clocks_per_byte: u16,
    /// Clocks of one bus cycle without wait states.
    bus_cycle: u16,
    /// A full queue, in clocks.
    full: u16,
    /// What is in the queue, in clocks.
    filled: u16,
}

impl Prefetch {
    /// The queue of a model, full.
    ///
    /// 8088: 4 bytes by bytes, 8086: 6 bytes by words (The 8086 Family User's
    /// Manual); 80286: 6 bytes by words (iAPX 286 Hardware Reference Manual).
    #[must_use]
    pub fn new(model: Model) -> Self {
        let bus_cycle = bus_cycle(model);
        let (bytes, clocks_per_byte) = match model {
            Model::P8088 => (4, bus_cycle),
            Model::P8086 | Model::P80286 => (6, bus_cycle / 2),
        };
        let full = bytes * clocks_per_byte;
        Self { clocks_per_byte, bus_cycle, full, filled: full }
    }

    /// No waiting: the tables alone.
    #[must_use]
    pub fn ideal(model: Model) -> Self {
        Self { clocks_per_byte: 0, full: 0, filled: 0, ..Self::new(model) }
    }

    /// Takes an instruction's bytes out and gives the clocks to wait for them.
    #[inline]
    pub fn take(&mut self, bytes: u8) -> u32 {
        let needed = u16::from(bytes) * self.clocks_per_byte;
        let missing = needed.saturating_sub(self.filled);
        self.filled = self.filled.saturating_sub(needed);
        u32::from(missing)
    }

    /// Fills the queue while an instruction runs `clocks` and uses the bus `cycles` times.
    #[inline]
    pub fn fill(&mut self, clocks: u32, cycles: u32) {
        let free = clocks.saturating_sub(cycles * u32::from(self.bus_cycle));
        self.filled = self.full.min(self.filled.saturating_add(free.min(255) as u16));
    }

    /// A jump: what was fetched is thrown away, and the target's first bytes,
    /// here half a queue, come within the jump's own clocks.
    #[inline]
    pub fn jump(&mut self) {
        self.filled = self.full / 2;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The 8088's four-clock bus cycle fetches one byte: short instructions
    /// in a row cost four clocks a byte once the queue is dry (derived).
    #[test]
    fn short_instructions_wait_for_their_bytes() {
        let mut queue = Prefetch::new(Model::P8088);
        let mut clocks = 0;
        for _ in 0..100 {
            let waited = queue.take(2);
            queue.fill(2, 0);
            clocks += waited + 2;
        }
        assert!((700..=850).contains(&clocks), "about 8 clocks each, found {clocks} for 100");
        let mut ideal = Prefetch::ideal(Model::P8088);
        assert_eq!((0..100).map(|_| ideal.take(2)).sum::<u32>(), 0);
    }
}
