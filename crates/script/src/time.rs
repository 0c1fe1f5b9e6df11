//! Exact time: the clock of a processor and the dots of a board on one scale.
//!
//! Both clocks are whole numbers of millihertz, so a common *tick* exists of
//! which a dot and a processor clock are whole multiples. Nothing is rounded
//! until a dot has to be named.

use backporch_processor_timing::{BeamClock, ProcessorClock};
use backporch_signal::Hertz;

/// Dots and processor clocks in ticks.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Timebase {
    clock: ProcessorClock,
    ticks_per_dot: u128,
    ticks_per_clock: u128,
    dot_millihertz: u64,
}

impl Timebase {
    /// The scale on which both clocks are whole.
    #[must_use]
    pub fn new(dot_clock: Hertz, clock: ProcessorClock) -> Self {
        let dot_millihertz = dot_clock.millihertz();
        let dot = u128::from(clock.crystal_millihertz());
        let per_clock = u128::from(dot_millihertz) * u128::from(clock.divider());
        let common = num_integer::gcd(dot, per_clock).max(1);
        Self { clock, ticks_per_dot: dot / common, ticks_per_clock: per_clock / common, dot_millihertz }
    }

    /// The processor's clock.
    #[must_use]
    pub fn clock(&self) -> ProcessorClock {
        self.clock
    }

    /// The same processor clock beside another dot clock.
    #[must_use]
    pub fn at_dot_clock(self, dot_clock: Hertz) -> Self {
        if self.dot_millihertz == dot_clock.millihertz() { self } else { Self::new(dot_clock, self.clock) }
    }

    /// The beam beside this processor, at dot `from` when it starts.
    #[must_use]
    pub fn beam_from(&self, from: u64) -> BeamClock {
        BeamClock::new(self.clock, self.dot_millihertz, from)
    }

    /// The dot under way after `clocks` processor clocks.
    #[must_use]
    pub fn dot_at(&self, clocks: u64) -> u64 {
        clamp(u128::from(clocks) * self.ticks_per_clock / self.ticks_per_dot)
    }

    /// Whole processor clocks that fit into `dots`.
    #[must_use]
    pub fn clocks_in(&self, dots: u64) -> u64 {
        clamp(u128::from(dots) * self.ticks_per_dot / self.ticks_per_clock)
    }

    /// Processor clocks that have to pass before `dots` are over.
    #[must_use]
    pub fn clocks_to(&self, dots: u64) -> u64 {
        clamp((u128::from(dots) * self.ticks_per_dot).div_ceil(self.ticks_per_clock))
    }

    /// How long `dots` last, in microseconds.
    #[must_use]
    pub fn microseconds(&self, dots: u64) -> f64 {
        dots as f64 * 1e9 / self.dot_millihertz as f64
    }

    /// The first nanosecond of a dot.
    #[must_use]
    pub fn nanosecond_of(&self, dot: u64) -> u64 {
        DotTime { millihertz: self.dot_millihertz }.nanosecond_of(dot)
    }
}

/// Dots and nanoseconds of one dot clock.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct DotTime {
    millihertz: u64,
}

impl DotTime {
    /// Of this dot clock, to the millihertz.
    #[must_use]
    pub fn new(dot_clock: Hertz) -> Self {
        Self { millihertz: dot_clock.millihertz() }
    }

    /// The first whole nanosecond of a dot.
    #[must_use]
    pub fn nanosecond_of(&self, dot: u64) -> u64 {
        self.first(dot, 1_000_000_000_000)
    }

    /// The first whole picosecond of a dot.
    #[must_use]
    pub fn picosecond_of(&self, dot: u64) -> u64 {
        self.first(dot, 1_000_000_000_000_000)
    }

    /// The dot under way at a nanosecond.
    #[must_use]
    pub fn dot_at_nanosecond(&self, nanosecond: u64) -> u64 {
        clamp(u128::from(nanosecond) * u128::from(self.millihertz) / 1_000_000_000_000)
    }

    /// First whole unit of a dot; `a_millihertz_period` is a thousand seconds in that unit.
    fn first(&self, dot: u64, a_millihertz_period: u128) -> u64 {
        clamp((u128::from(dot) * a_millihertz_period).div_ceil(u128::from(self.millihertz)))
    }
}

fn clamp(value: u128) -> u64 {
    u64::try_from(value).unwrap_or(u64::MAX)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn base(dot_hz: f64, crystal_hz: u64, divide: u32) -> Timebase {
        Timebase::new(Hertz::new(dot_hz).unwrap(), ProcessorClock::new(crystal_hz, u64::from(divide)).unwrap())
    }

    /// A third of the dot clock: three dots a clock, for ever.
    #[test]
    fn clocks_of_one_crystal_never_drift() {
        let base = base(14_318_180.0, 14_318_180, 3);
        for clocks in [0, 1, 2, 1_000_000_007, 1 << 40] {
            assert_eq!(base.dot_at(clocks), clocks * 3);
            assert_eq!(base.clocks_in(clocks * 3), clocks);
        }
        assert_eq!(base.clocks_in(3 * 7 - 1), 6);
        assert_eq!(base.clocks_to(3 * 7 - 1), 7);
    }

    /// 8 MHz against 25.175 MHz: 3.146875 dots a clock, 1007 dots in 320 clocks.
    #[test]
    fn clocks_of_two_crystals_are_exact() {
        let base = base(25_175_000.0, 8_000_000, 1);
        assert_eq!(base.dot_at(320), 1007);
        assert_eq!(base.dot_at(319), 1003);
        assert_eq!(base.dot_at(320_000_000_000), 1_007_000_000_000);
        assert_eq!(base.clocks_in(1007), 320);
    }

    proptest! {
        #[test]
        fn nanoseconds_name_their_dot(dot in 0u64..1 << 40, hz in 1_000_000u32..100_000_000) {
            let time = DotTime::new(Hertz::new(f64::from(hz)).unwrap());
            prop_assert_eq!(time.dot_at_nanosecond(time.nanosecond_of(dot)), dot);
        }

        #[test]
        fn dots_and_clocks_bracket_each_other(clocks in 0u64..1 << 40, crystal in 8_000_000u64..50_000_000, divide in 1u32..8) {
            let base = base(25_175_000.0, crystal, divide);
            let dot = base.dot_at(clocks);
            prop_assert!(base.clocks_in(dot) <= clocks);
            prop_assert!(base.clocks_to(dot + 1) > clocks);
        }
    }
}
