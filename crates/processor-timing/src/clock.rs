//! A processor's clock, and exact time: clocks to the beats of any other clock, in integers.

use serde::{Deserialize, Serialize};

/// Crystal of the timer's clock and, on many machines, of the processor's, in
/// hertz: four times the colour subcarrier (SMPTE 170M), as the trade rounds it.
pub const CRYSTAL_HZ: u64 = 14_318_180;

/// The timer counts a twelfth of the crystal (common practice).
pub const TIMER_DIVIDER: u64 = 12;

/// Beats of the timer from one memory refresh to the next, as firmware sets it: 15.09 us (Technical Reference, system board).
pub const USUAL_REFRESH_BEATS: u8 = 18;

/// Nanoseconds in a second, times the thousandths of a hertz.
const NANOSECONDS_MILLI: u64 = 1_000_000_000_000;

/// Normal speed, in thousandths.
pub const NORMAL_SPEED: u32 = 1000;

/// A processor clock: a crystal, divided.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(try_from = "ClockForm", into = "ClockForm")]
pub struct ProcessorClock {
    crystal_millihertz: u64,
    divider: u64,
}

/// A clock as files write it.
#[derive(Clone, Copy, Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct ClockForm {
    crystal_hz: u64,
    divide: u32,
}

impl TryFrom<ClockForm> for ProcessorClock {
    type Error = String;

    /// Files may ask for 1 to 100 MHz.
    fn try_from(form: ClockForm) -> Result<Self, String> {
        let ClockForm { crystal_hz, divide } = form;
        let made = Self::new(crystal_hz, u64::from(divide)).filter(|clock| (1e6..=1e8).contains(&clock.hertz()));
        made.ok_or_else(|| {
            format!("found {crystal_hz} Hz / {divide}, allowed 1 to 100 MHz from a divisor of 1 to 1000")
        })
    }
}

impl From<ProcessorClock> for ClockForm {
    fn from(clock: ProcessorClock) -> Self {
        Self { crystal_hz: clock.crystal_millihertz / 1000, divide: clock.divider as u32 }
    }
}

impl ProcessorClock {
    /// `None` unless the crystal is 1 Hz to 100 GHz, the divider 1 to 1000 and
    /// the clock 1 kHz to 1 GHz.
    #[must_use]
    pub fn new(crystal_hz: u64, divider: u64) -> Option<Self> {
        let fits = (1..=100_000_000_000).contains(&crystal_hz) && (1..=1000).contains(&divider);
        (fits && (1000..=1_000_000_000).contains(&(crystal_hz / divider)))
            .then(|| Self { crystal_millihertz: crystal_hz * 1000, divider })
    }

    /// The crystal, in thousandths of a hertz.
    #[must_use]
    pub fn crystal_millihertz(self) -> u64 {
        self.crystal_millihertz
    }

    /// What divides the crystal.
    #[must_use]
    pub fn divider(self) -> u64 {
        self.divider
    }

    /// Clocks a second.
    #[must_use]
    pub fn hertz(self) -> f64 {
        self.crystal_millihertz as f64 / 1000.0 / self.divider as f64
    }

    /// The clock at `permille` thousandths of its speed (1 to 100,000), to the millihertz of its crystal.
    #[must_use]
    pub fn at_speed(self, permille: u32) -> Self {
        let permille = u64::from(permille.clamp(1, 100 * NORMAL_SPEED));
        let crystal = u128::from(self.crystal_millihertz) * u128::from(permille);
        Self { crystal_millihertz: crystal.div_ceil(u128::from(NORMAL_SPEED)) as u64, ..self }
    }

    /// Clocks in a time, rounded down.
    #[must_use]
    pub fn clocks_in(self, nanoseconds: u64) -> u64 {
        Rate::new(self.crystal_millihertz, self.divider * NANOSECONDS_MILLI).convert(nanoseconds)
    }

    /// Clocks after which a time is over.
    #[must_use]
    pub fn clocks_reaching(self, nanoseconds: u64) -> u64 {
        Rate::new(self.divider * NANOSECONDS_MILLI, self.crystal_millihertz).first(nanoseconds)
    }

    /// Time of this many clocks in nanoseconds, rounded down.
    #[must_use]
    pub fn nanoseconds(self, clocks: u64) -> u64 {
        Rate::new(self.divider * NANOSECONDS_MILLI, self.crystal_millihertz).convert(clocks)
    }

    /// Time in nanoseconds by which this many clocks have passed: [`Self::clocks_in`] gives them back.
    #[must_use]
    pub fn nanoseconds_reaching(self, clocks: u64) -> u64 {
        Rate::new(self.crystal_millihertz, self.divider * NANOSECONDS_MILLI).first(clocks)
    }

    /// Beats of a clock of this many millihertz to one clock of this one.
    #[must_use]
    pub fn to_millihertz(self, millihertz: u64) -> Rate {
        Rate::new(millihertz * self.divider, self.crystal_millihertz)
    }

    /// Beats of the timer to one clock of this one.
    #[must_use]
    pub fn to_timer(self) -> Rate {
        Rate::new(CRYSTAL_HZ * 1000 * self.divider, self.crystal_millihertz * TIMER_DIVIDER)
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
        let (beats, per) = (beats.max(1), per.max(1));
        let common = num_integer::gcd(beats, per);
        Self { beats: beats / common, per: per / common }
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

    #[test]
    fn no_crystal_is_too_fast_to_be_refused() {
        assert_eq!(ProcessorClock::new(u64::MAX, 1000), None);
        assert_eq!(ProcessorClock::new(0, 0), None);
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

        #[test]
        fn clocks_told_as_a_time_come_back(clocks in 0u64..1 << 46, crystal in 1u64..1_000_000_000, divider in 1u64..100) {
            let Some(clock) = ProcessorClock::new(crystal, divider) else { return Ok(()) };
            prop_assume!(clocks as f64 / clock.hertz() < 1e9);
            prop_assert_eq!(clock.clocks_in(clock.nanoseconds_reaching(clocks)), clocks);
        }
    }
}
