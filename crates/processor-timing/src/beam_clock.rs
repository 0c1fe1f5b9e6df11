//! The beam on the processor's clock: exact, and at the dot clock the board selects.

use crate::clock::{ProcessorClock, Rate};

/// Which dot the beam is at when this many processor clocks have passed.
///
/// A straight line of dots over clocks, its slope a fraction of the two rates; when the board selects another dot
/// clock, another line begins where the beam is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct BeamClock {
    clock: ProcessorClock,
    /// Thousandths of a hertz.
    dot_clock: u64,
    /// Dots to one processor clock.
    rate: Rate,
    /// Clocks at which this dot clock was selected.
    since: u64,
    /// Dot the beam was at then.
    from: u64,
}

impl BeamClock {
    /// With a dot clock in thousandths of a hertz, and the beam at dot `from` when the processor starts.
    #[must_use]
    pub fn new(clock: ProcessorClock, dot_clock: u64, from: u64) -> Self {
        Self { clock, dot_clock, rate: clock.to_millihertz(dot_clock), since: 0, from }
    }

    /// The same with the beam at another dot when the processor starts.
    #[must_use]
    pub fn starting_at(self, from: u64) -> Self {
        Self::new(self.clock, self.dot_clock, from)
    }

    /// The dot the beam is at after `clocks`; the dot it was at when its clock was selected, for a time before that.
    #[inline]
    #[must_use]
    pub fn dot_at(&self, clocks: u64) -> u64 {
        self.from.saturating_add(self.rate.convert(clocks.saturating_sub(self.since)))
    }

    /// The first clock by which the beam is at a dot.
    #[must_use]
    pub fn clocks_reaching(&self, dot: u64) -> u64 {
        self.since + self.rate.first(dot.saturating_sub(self.from))
    }

    /// Clocks a bus cycle that starts at `start` waits for a board that serves the processor when it can: its command comes
    /// a clock after its start, `served` gives the dot of service for the dot of the command, and the processor goes on at
    /// its first clock after that dot.
    #[inline]
    #[must_use]
    pub fn wait_for(&self, start: u64, served: impl FnOnce(u64) -> u64) -> u32 {
        let command = start + 1;
        self.clocks_reaching(served(self.dot_at(command)) + 1).saturating_sub(command) as u32
    }

    /// The board runs at this dot clock, in thousandths of a hertz, from `clocks` on; gives whether it is another one.
    pub fn select(&mut self, dot_clock: u64, clocks: u64) -> bool {
        if self.dot_clock == dot_clock {
            return false;
        }
        let from = self.dot_at(clocks);
        *self = Self { since: clocks, ..Self::new(self.clock, dot_clock, from) };
        true
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A second at the one dot clock and a second at the other are both dot clocks' worth of dots.
    #[test]
    fn every_dot_clock_counts_for_the_time_it_is_selected() {
        let mut beam = BeamClock::new(ProcessorClock::new(8_000_000, 1).unwrap(), 25_175_000_000, 100);
        assert_eq!(beam.dot_at(8_000_000), 25_175_100);
        assert!(!beam.select(25_175_000_000, 4_000_000));
        assert!(beam.select(28_322_000_000, 8_000_000));
        assert_eq!(beam.dot_at(8_000_000), 25_175_100);
        assert_eq!(beam.dot_at(16_000_000), 53_497_100);
        for dot in [25_175_101, 30_000_000, 53_497_100] {
            let clocks = beam.clocks_reaching(dot);
            assert!(beam.dot_at(clocks) >= dot && beam.dot_at(clocks - 1) < dot);
        }
    }
}
