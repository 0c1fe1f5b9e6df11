//! Memory refresh: at every period of timer 1 the bus is taken away for some
//! clocks; a bus cycle of the processor that comes meanwhile waits.

use backporch_processor_timing::Model;

/// Clocks from a request to the earliest grant, and those the bus is held.
///
/// PC: a request each 72 clocks of the 8088 takes 5 or 6 from a busy bus (derived from *Zen of Assembly Language:
/// Volume I, Knowledge*, 1990: figure 5.1 shows 6, rows bound by fetching 5.3 on average). AT: a little over 5 in a
/// hundred clocks in all (the same, chapter 15).
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Hold {
    lead: u64,
    length: u64,
}

/// Clocks a refresh takes of an AT at 10 MHz, and those from one to the next. The bus of a later machine keeps the same time,
/// however fast its processor is (assumed).
const AT_LENGTH: u64 = 8;
const AT_PERIOD: u64 = 151;

/// A cycle may be this many clocks old and still give way.
const LATE: u64 = 1;

/// When the bus was and will be taken.
#[derive(Clone, Debug)]
pub struct Refresh {
    hold: Hold,
    /// Whether the length of a hold follows the period.
    scaled: bool,
    /// Clocks from request to request; 0 is none.
    period: u64,
    /// Clock of the next request.
    next: u64,
    /// First clock the bus is free of the processor's last cycle.
    free: u64,
}

impl Refresh {
    /// None yet; a period has to be set.
    pub fn new(model: Model) -> Self {
        let length = if model.is_from(Model::P80286) { AT_LENGTH } else { 5 };
        let hold = Hold { lead: 2, length };
        Self { hold, scaled: model.is_from(Model::P80386), period: 0, next: 0, free: 0 }
    }

    /// Requests come each `period` clocks from `from` on; 0 for none.
    pub fn set_period(&mut self, period: u64, from: u64) {
        (self.period, self.next) = (period, from + period);
        if self.scaled {
            self.hold.length = (period * AT_LENGTH).div_ceil(AT_PERIOD);
        }
    }

    /// Clocks that a cycle of `length` clocks waits which the processor would begin at `start`.
    #[inline]
    pub fn wait(&mut self, start: u64, length: u64) -> u64 {
        let mut waits = 0;
        if self.period > 0 && self.next + self.hold.lead <= start + LATE {
            waits = self.hold_until(start).saturating_sub(start);
        }
        self.free = start + length + waits;
        waits
    }

    /// The clock at which the bus is the processor's, after all requests that came in time before `start`.
    fn hold_until(&mut self, start: u64) -> u64 {
        // Long ago: of no effect.
        let missed = start.saturating_sub(self.next) / self.period;
        self.next += missed.saturating_sub(1) * self.period;
        let mut until = start;
        loop {
            let granted = (self.next + self.hold.lead).max(self.free);
            if granted > start + LATE {
                return until;
            }
            self.next += self.period;
            until = granted + self.hold.length;
            self.free = until;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A two-byte instruction that waits for its bytes takes 1.81 us, 8.64 clocks, where the bus alone would take 8
    /// (published: *Zen of Assembly Language*, listing 4-7): 5.3 of 72 are lost.
    #[test]
    fn a_busy_bus_loses_five_or_six_clocks_each_period() {
        let mut refresh = Refresh::new(Model::P8088);
        refresh.set_period(72, 0);
        let (mut clock, mut lost) = (0, 0);
        while clock < 72_000 {
            let waits = refresh.wait(clock, 4);
            lost += waits;
            clock += 4 + waits;
        }
        assert!((5200..=5450).contains(&lost), "{lost}");
    }

    /// A bus that is idle most of the time loses next to nothing.
    #[test]
    fn an_idle_bus_hides_the_refresh() {
        let mut refresh = Refresh::new(Model::P8088);
        refresh.set_period(72, 0);
        let lost: u64 = (0..100).map(|number| refresh.wait(number * 720 + 40, 4)).sum();
        assert_eq!(lost, 0);
    }
}
