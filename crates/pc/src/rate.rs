//! Exact time: processor clocks to the beats of any other clock, in integers.

/// Crystal of the timer's clock and, on many machines, of the processor's, in
/// hertz: four times the colour subcarrier (SMPTE 170M), as the trade rounds it.
pub const CRYSTAL_HZ: u64 = 14_318_180;

/// The timer counts a twelfth of the crystal (common practice).
pub const TIMER_DIVIDER: u64 = 12;

/// A processor clock: a crystal, divided.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct ProcessorClock {
    crystal_hz: u64,
    divider: u64,
}

impl ProcessorClock {
    /// `None` unless the crystal is 1 Hz to 1 GHz, the divider 1 to 1000 and
    /// the clock at least 1 kHz.
    #[must_use]
    pub fn new(crystal_hz: u64, divider: u64) -> Option<Self> {
        let fits = (1..=1_000_000_000).contains(&crystal_hz) && (1..=1000).contains(&divider);
        (fits && crystal_hz / divider >= 1000).then_some(Self { crystal_hz, divider })
    }

    /// Clocks a second.
    #[must_use]
    pub fn hertz(self) -> f64 {
        self.crystal_hz as f64 / self.divider as f64
    }

    /// The clock at so many thousandths of its speed, to the hertz of its crystal.
    #[must_use]
    pub fn at_speed(self, permille: u32) -> Self {
        let crystal = u128::from(self.crystal_hz) * u128::from(permille) / 1000;
        Self::new(crystal as u64, self.divider).unwrap_or(self)
    }

    /// Clocks in a time, rounded down.
    #[must_use]
    pub fn clocks_in(self, nanoseconds: u64) -> u64 {
        Rate::new(self.crystal_hz, self.divider * 1_000_000_000).convert(nanoseconds)
    }

    /// Clocks after which a time is over.
    #[must_use]
    pub fn clocks_reaching(self, nanoseconds: u64) -> u64 {
        Rate::new(self.divider * 1_000_000_000, self.crystal_hz).first(nanoseconds)
    }

    /// Time of so many clocks in nanoseconds, rounded down.
    #[must_use]
    pub fn nanoseconds(self, clocks: u64) -> u64 {
        Rate::new(self.divider * 1_000_000_000, self.crystal_hz).convert(clocks)
    }

    /// Beats of a clock of so many millihertz to one clock of this one.
    #[must_use]
    pub fn to_millihertz(self, millihertz: u64) -> Rate {
        Rate::new(millihertz * self.divider, self.crystal_hz * 1000)
    }

    /// Beats of the timer to one clock of this one.
    #[must_use]
    pub fn to_timer(self) -> Rate {
        Rate::new(CRYSTAL_HZ * self.divider, self.crystal_hz * TIMER_DIVIDER)
    }
}

/// How many beats of one clock pass with one of another: a reduced fraction.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Rate {
    beats: u64,
    per: u64,
}

impl Rate {
    /// `beats` pass while `per` of the other clock do; nothing may be 0.
    fn new(beats: u64, per: u64) -> Self {
        let (mut one, mut two) = (beats.max(1), per.max(1));
        while two != 0 {
            (one, two) = (two, one % two);
        }
        Self { beats: beats.max(1) / one, per: per.max(1) / one }
    }

    /// Whole beats that have passed after `count` of the other clock.
    #[inline]
    #[must_use]
    pub fn convert(self, count: u64) -> u64 {
        match count.checked_mul(self.beats) {
            Some(product) => product / self.per,
            None => (u128::from(count) * u128::from(self.beats) / u128::from(self.per)) as u64,
        }
    }

    /// The first count of the other clock by which `beats` have passed.
    #[must_use]
    pub fn first(self, beats: u64) -> u64 {
        (u128::from(beats) * u128::from(self.per)).div_ceil(u128::from(self.beats)) as u64
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// 4.77 MHz is a third of the crystal, and the timer a quarter of that (common practice).
    #[test]
    fn the_classic_clocks_are_whole_parts_of_the_crystal() {
        let clock = ProcessorClock::new(CRYSTAL_HZ, 3).unwrap();
        assert_eq!(clock.to_timer(), Rate { beats: 1, per: 4 });
        assert_eq!(clock.to_millihertz(CRYSTAL_HZ * 1000).convert(7), 21);
        assert_eq!(
            ProcessorClock::new(8_000_000, 1).unwrap().to_millihertz(25_175_000_000),
            Rate { beats: 1007, per: 320 }
        );
    }

    proptest! {
        #[test]
        fn the_first_count_is_the_first(beats in 0u64..1 << 40, crystal in 1u64..100_000_000, divider in 1u64..100) {
            let Some(clock) = ProcessorClock::new(crystal, divider) else { return Ok(()) };
            let rate = clock.to_timer();
            let first = rate.first(beats);
            prop_assert!(rate.convert(first) >= beats);
            prop_assert!(first == 0 || rate.convert(first - 1) < beats);
        }
    }
}
