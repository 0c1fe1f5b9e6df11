//! The timer: three counters that count down at a twelfth of the crystal
//! (8253 Programmable Interval Timer data sheet).
//!
//! Nothing counts by itself: a counter remembers when it was loaded and tells
//! its state at any later beat.

use backporch_processor_timing::USUAL_REFRESH_BEATS;

use super::controller::Unsupported;

/// How a counter's two bytes are reached.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Bytes {
    Low,
    High,
    Both,
}

/// One of the three counters.
#[derive(Clone, Debug)]
struct Counter {
    mode: u8,
    bytes: Bytes,
    /// What it counts from, 1 to 65536.
    from: u64,
    /// Beat at which it was loaded; `None` while a new count is awaited.
    loaded: Option<u64>,
    low_written: Option<u8>,
    latched: Option<u16>,
    high_next: bool,
    /// Beat at which its gate went low; `None` while it is high.
    shut: Option<u64>,
}

impl Counter {
    fn new() -> Self {
        let (mode, bytes, from) = (3, Bytes::Both, 0x1_0000);
        Self { mode, bytes, from, loaded: Some(0), low_written: None, latched: None, high_next: false, shut: None }
    }

    fn control(&mut self, bytes: Bytes, mode: u8) {
        *self = Self { mode, bytes, from: self.from, loaded: None, shut: self.shut, ..Self::new() };
    }

    /// Raises or lowers the gate. A low one stops the count; a rising one lets it go on, or begins it anew in the modes
    /// that repeat and in those that wait for it.
    fn set_gate(&mut self, high: bool, now: u64) {
        match (high, self.shut) {
            (false, None) => self.shut = Some(now),
            (true, Some(shut)) => {
                self.shut = None;
                self.loaded = match (self.mode, self.loaded) {
                    (0 | 4, loaded) => loaded.map(|loaded| loaded + (now - shut.max(loaded))),
                    (2 | 3, None) => None,
                    _ => Some(now),
                };
            }
            (true, None) | (false, Some(_)) => {}
        }
    }

    /// Beats counted since it was loaded.
    fn passed(&self, loaded: u64, now: u64) -> u64 {
        let stands = match self.mode {
            // Only these two wait for their gate before they begin, and then run on.
            1 | 5 => now,
            _ => self.shut.map_or(now, |shut| shut.min(now)),
        };
        stands.saturating_sub(loaded)
    }

    fn write(&mut self, value: u8, now: u64) {
        let count = match (self.bytes, self.low_written.take()) {
            (Bytes::Low, _) => u16::from(value),
            (Bytes::High, _) => u16::from(value) << 8,
            (Bytes::Both, None) => {
                self.low_written = Some(value);
                return;
            }
            (Bytes::Both, Some(low)) => u16::from_le_bytes([low, value]),
        };
        let from = if count == 0 { 0x1_0000 } else { u64::from(count) };
        if matches!(self.mode, 1 | 5) {
            self.from = from;
            return;
        }
        // A periodic counter under way finishes its period first.
        let loaded = match (self.mode, self.loaded) {
            (2 | 3, Some(loaded)) if self.shut.is_none() => now - (now - loaded) % self.from,
            _ => now,
        };
        (self.from, self.loaded) = (from, Some(loaded));
    }

    /// The count at a beat.
    fn count(&self, now: u64) -> u16 {
        let Some(loaded) = self.loaded else { return self.from as u16 };
        let passed = self.passed(loaded, now);
        match self.mode {
            2 => (self.from - passed % self.from) as u16,
            // The square wave counts by twos, once through each half.
            3 => (self.from - passed * 2 % self.from) as u16 & !1,
            _ => self.from.wrapping_sub(passed) as u16,
        }
    }

    /// Whether its output is high at a beat.
    fn output(&self, now: u64) -> bool {
        let Some(loaded) = self.loaded else { return self.mode != 0 };
        let passed = self.passed(loaded, now);
        match self.mode {
            0 | 1 => passed >= self.from,
            // A low gate holds the output of the repeating modes high.
            2 | 3 if self.shut.is_some() => true,
            2 => passed % self.from != self.from - 1,
            3 => passed % self.from < self.from.div_ceil(2),
            _ => true,
        }
    }

    /// The first beat after `now` at which its output rises.
    fn rises_after(&self, now: u64) -> Option<u64> {
        let loaded = self.loaded?;
        let passed = now.saturating_sub(loaded);
        match self.mode {
            0 => (passed < self.from).then_some(loaded + self.from),
            2 | 3 => Some(loaded + (passed / self.from + 1) * self.from),
            _ => None,
        }
    }

    fn read(&mut self, now: u64) -> u8 {
        let [low, high] = self.latched.unwrap_or_else(|| self.count(now)).to_le_bytes();
        let upper = match self.bytes {
            Bytes::Low => false,
            Bytes::High => true,
            Bytes::Both => {
                self.high_next = !self.high_next;
                !self.high_next
            }
        };
        if self.bytes != Bytes::Both || upper {
            self.latched = None;
        }
        if upper { high } else { low }
    }
}

impl Counter {
    /// Beats from one rise of its output to the next, where it counts on and on.
    fn period(&self) -> Option<u64> {
        (self.loaded.is_some() && matches!(self.mode, 2 | 3)).then_some(self.from)
    }
}

/// The timer.
#[derive(Clone, Debug)]
pub struct Timer {
    counters: [Counter; 3],
}

impl Default for Timer {
    /// With memory refreshed as usual.
    fn default() -> Self {
        Self::with_refresh(USUAL_REFRESH_BEATS)
    }
}

impl Timer {
    /// The first counts 65536 beats, the clock of 18.2 ticks a second (common practice); the second asks for memory
    /// refresh each this many beats, 0 for as many as usual; the third counts square waves of 65536 beats.
    #[must_use]
    pub fn with_refresh(beats: u8) -> Self {
        let beats = if beats == 0 { USUAL_REFRESH_BEATS } else { beats };
        let refresh = Counter { mode: 2, bytes: Bytes::Low, from: u64::from(beats), ..Counter::new() };
        // The third one's gate is a bit of a port, low at the start.
        let gated = Counter { shut: Some(0), ..Counter::new() };
        Self { counters: [Counter::new(), refresh, gated] }
    }
}

impl Timer {
    /// Reads a counter (0 to 2) at a beat.
    pub fn read(&mut self, counter: u16, now: u64) -> u8 {
        self.counters[usize::from(counter) % 3].read(now)
    }

    /// Writes a counter (0 to 2) or the control word (3) at a beat.
    ///
    /// # Errors
    /// For decimal counting, modes that need a gate where there is none, and the commands of later timers.
    pub fn write(&mut self, register: u16, value: u8, now: u64) -> Result<(), Unsupported> {
        if register < 3 {
            self.counters[usize::from(register)].write(value, now);
            return Ok(());
        }
        let counter = self.counters.get_mut(usize::from(value >> 6)).ok_or(Unsupported)?;
        let bytes = match value >> 4 & 3 {
            0 => {
                counter.latched = counter.latched.or(Some(counter.count(now)));
                return Ok(());
            }
            1 => Bytes::Low,
            2 => Bytes::High,
            _ => Bytes::Both,
        };
        // Modes 6 and 7 are 2 and 3.
        let mode = match value >> 1 & 7 {
            6 => 2,
            7 => 3,
            mode => mode,
        };
        // The gates of the first two are tied high: nothing would ever begin the modes that wait for one to rise.
        if value & 1 != 0 || (matches!(mode, 1 | 5) && value >> 6 < 2) {
            return Err(Unsupported);
        }
        counter.control(bytes, mode);
        Ok(())
    }

    /// Raises or lowers the gate of counter 2 at a beat.
    pub fn set_gate(&mut self, high: bool, now: u64) {
        self.counters[2].set_gate(high, now);
    }

    /// Beats of a counter's period, where it counts on and on.
    #[must_use]
    pub fn period(&self, counter: usize) -> Option<u64> {
        self.counters[counter % 3].period()
    }

    /// Whole periods that a counter which counts on and on has been through.
    #[must_use]
    pub fn periods(&self, counter: usize, now: u64) -> u64 {
        let counter = &self.counters[counter % 3];
        let loaded = counter.loaded.filter(|_| counter.period().is_some());
        loaded.map_or(0, |loaded| counter.passed(loaded, now) / counter.from)
    }

    /// Whether a counter's output is high.
    #[must_use]
    pub fn output(&self, counter: usize, now: u64) -> bool {
        self.counters[counter % 3].output(now)
    }

    /// The first beat after `now` at which counter 0 asks for an interrupt.
    #[must_use]
    pub fn next_interrupt(&self, now: u64) -> Option<u64> {
        self.counters[0].rises_after(now)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_clock_of_the_machine_ticks_every_65536_beats() {
        let timer = Timer::default();
        assert_eq!(timer.next_interrupt(0), Some(65536));
        assert_eq!(timer.next_interrupt(65536), Some(131_072));
        assert!(timer.output(0, 32767) && !timer.output(0, 32768));
    }

    #[test]
    fn a_latched_count_is_read_low_byte_first() {
        let mut timer = Timer::default();
        timer.write(3, 0x34, 100).unwrap();
        timer.write(0, 0x34, 100).unwrap();
        timer.write(0, 0x12, 100).unwrap();
        timer.write(3, 0x00, 104).unwrap();
        assert_eq!((timer.read(0, 999), timer.read(0, 999)), (0x30, 0x12));
        assert_eq!(timer.next_interrupt(104), Some(100 + 0x1234));
    }

    #[test]
    fn interrupt_on_terminal_count_comes_once() {
        let mut timer = Timer::default();
        timer.write(3, 0x10, 50).unwrap();
        timer.write(0, 20, 50).unwrap();
        assert_eq!(timer.next_interrupt(50), Some(70));
        assert_eq!(timer.next_interrupt(70), None);
        assert_eq!(timer.write(3, 0x11, 0), Err(Unsupported), "decimal counting");
    }

    /// 8253 data sheet: a low gate stops modes 0 and 4, and the square wave begins anew when it rises; mode 1 waits for it.
    #[test]
    fn the_gate_of_the_third_counter_stops_and_starts_it() {
        let mut timer = Timer::default();
        timer.set_gate(true, 0);
        timer.write(3, 0xB0, 0).unwrap();
        timer.write(2, 100, 0).unwrap();
        timer.write(2, 0, 0).unwrap();
        timer.set_gate(false, 40);
        assert!(!timer.output(2, 150), "60 beats are left");
        timer.set_gate(true, 200);
        assert!(!timer.output(2, 259) && timer.output(2, 260));

        timer.write(3, 0xB6, 300).unwrap();
        timer.write(2, 10, 300).unwrap();
        timer.write(2, 0, 300).unwrap();
        timer.set_gate(false, 307);
        assert!(timer.output(2, 400));
        timer.set_gate(true, 500);
        assert!(timer.output(2, 504) && !timer.output(2, 505) && timer.output(2, 510));

        timer.write(3, 0xB2, 600).unwrap();
        timer.write(2, 20, 600).unwrap();
        timer.write(2, 0, 600).unwrap();
        assert!(timer.output(2, 650), "it waits for its gate to rise");
        timer.set_gate(false, 660);
        timer.set_gate(true, 700);
        assert!(!timer.output(2, 719) && timer.output(2, 720));
        assert_eq!(timer.write(3, 0x32, 0), Err(Unsupported), "the first has no gate");
    }
}
