//! The clock that runs while the machine is off, and the memory beside it, which tells firmware what there is: ports 70h and
//! 71h of machines of the AT class (data sheet of the 146818, real-time clock plus RAM; Technical Reference of the AT).

/// Registers of the clock.
mod register {
    pub const SECONDS: u8 = 0x00;
    pub const MINUTES: u8 = 0x02;
    pub const HOURS: u8 = 0x04;
    pub const WEEKDAY: u8 = 0x06;
    pub const DAY: u8 = 0x07;
    pub const MONTH: u8 = 0x08;
    pub const YEAR: u8 = 0x09;
    pub const A: u8 = 0x0A;
    pub const B: u8 = 0x0B;
    pub const C: u8 = 0x0C;
    pub const D: u8 = 0x0D;
    pub const EQUIPMENT: u8 = 0x14;
    pub const BASE_MEMORY: u8 = 0x15;
    /// Of what stands from 10h to 2Dh, the upper byte first.
    pub const CHECKSUM: u8 = 0x2E;
    pub const CENTURY: u8 = 0x32;
}

/// Register A: an update is under way.
const UPDATING: u8 = 0x80;
/// Register A as firmware sets it: a base of 32.768 kHz, 1024 periods a second.
const USUAL_A: u8 = 0x26;
/// Register B as firmware sets it: hours of a whole day, in digits.
const USUAL_B: u8 = 0x02;
/// Register B: no updates; binary numbers; hours of a whole day; the three requests for interrupts.
const SET: u8 = 0x80;
const BINARY: u8 = 0x04;
const WHOLE_DAY: u8 = 0x02;
const REQUESTS: u8 = 0x70;
/// Register C: an update has ended; a period is over.
const UPDATED: u8 = 0x10;
const PERIOD: u8 = 0x40;
/// Register D: the battery is good.
const VALID: u8 = 0x80;
/// Bit 7 of hours counted to twelve: afternoon.
const AFTERNOON: u8 = 0x80;

/// An update is announced 244 us before it begins and takes 1984 us (data sheet, base of 32.768 kHz), in nanoseconds.
const UPDATE_NS: u64 = (244 + 1984) * 1000;
const SECOND_NS: u64 = 1_000_000_000;

/// The day every run begins: Friday, 1 January 1988.
const DATE: [(u8, u8); 5] =
    [(register::WEEKDAY, 6), (register::DAY, 1), (register::MONTH, 1), (register::YEAR, 88), (register::CENTURY, 19)];

/// Bytes there are.
const BYTES: usize = 64;

/// The clock and its memory.
#[derive(Clone, Debug)]
pub struct ClockMemory {
    index: u8,
    bytes: [u8; BYTES],
    /// When register C was last read, in nanoseconds.
    asked: u64,
}

impl ClockMemory {
    /// As firmware has set it up: equipment (bits 4 and 5: the display, bit 0: a disk drive), KiB of memory.
    #[must_use]
    pub fn new(equipment: u8, kilobytes: u16) -> Self {
        let mut bytes = [0; BYTES];
        let mut put = |at: u8, value: u8| bytes[usize::from(at)] = value;
        put(register::A, USUAL_A);
        put(register::B, USUAL_B);
        put(register::EQUIPMENT, equipment);
        let [low, high] = kilobytes.to_le_bytes();
        put(register::BASE_MEMORY, low);
        put(register::BASE_MEMORY + 1, high);
        let sum: u16 = bytes[0x10..0x2E].iter().map(|byte| u16::from(*byte)).sum();
        let [high, low] = sum.to_be_bytes();
        bytes[usize::from(register::CHECKSUM)] = high;
        bytes[usize::from(register::CHECKSUM) + 1] = low;
        Self { index: register::D, bytes, asked: 0 }
    }

    /// Chooses a register; bit 7 is the mask of another interrupt.
    pub fn select(&mut self, value: u8) {
        self.index = value & 0x3F;
    }

    fn stored(&self, at: u8) -> u8 {
        self.bytes[usize::from(at)]
    }

    /// Reads the register chosen, at a time in nanoseconds since the start, which was midnight.
    pub fn read(&mut self, now: u64) -> u8 {
        let seconds = now / SECOND_NS;
        let number = |value: u64| {
            let value = value as u8;
            if self.stored(register::B) & BINARY != 0 { value } else { value / 10 * 16 + value % 10 }
        };
        match self.index {
            register::SECONDS => number(seconds % 60),
            register::MINUTES => number(seconds / 60 % 60),
            register::HOURS => {
                let hour = seconds / 3600 % 24;
                if self.stored(register::B) & WHOLE_DAY != 0 {
                    number(hour)
                } else {
                    number((hour + 11) % 12 + 1) | if hour >= 12 { AFTERNOON } else { 0 }
                }
            }
            register::A => {
                let updates = self.stored(register::B) & SET == 0 && now % SECOND_NS >= SECOND_NS - UPDATE_NS;
                self.stored(register::A) & !UPDATING | if updates { UPDATING } else { 0 }
            }
            register::C => {
                let before = std::mem::replace(&mut self.asked, now);
                let updated = self.stored(register::B) & SET == 0 && before / SECOND_NS != seconds;
                let period = self.periods(before) != self.periods(now);
                (if updated { UPDATED } else { 0 }) | if period { PERIOD } else { 0 }
            }
            register::D => VALID,
            index => match DATE.iter().find(|(at, _)| *at == index) {
                Some((_, value)) => number(u64::from(*value)),
                None => self.stored(index),
            },
        }
    }

    /// Periods since the start, by the lower half of register A (data sheet, base of 32.768 kHz).
    fn periods(&self, now: u64) -> u64 {
        let shift = match self.stored(register::A) & 0x0F {
            0 => return 0,
            // 256 and 128 periods a second, as 8 and 9.
            rate @ 1..=2 => rate + 6,
            rate => rate - 1,
        };
        (u128::from(now) * 32_768 / (u128::from(SECOND_NS) << shift)) as u64
    }

    /// Writes the register chosen; `false` where that asks for an interrupt, which is not present. Time and date cannot be
    /// set: runs are alike.
    pub fn write(&mut self, value: u8) -> bool {
        let is_clock = matches!(self.index, 0x00 | 0x02 | 0x04 | 0x06..=0x09 | register::C | register::D);
        if !is_clock && self.index != register::CENTURY {
            self.bytes[usize::from(self.index)] = value;
        }
        self.index != register::B || value & REQUESTS == 0
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(clock: &mut ClockMemory, at: u8, now: u64) -> u8 {
        clock.select(at);
        clock.read(now)
    }

    /// 13:05:59 in digits, as a number, and with hours to twelve; what updates and periods say (data sheet of the 146818).
    #[test]
    fn the_clock_tells_the_time_as_it_is_set_to() {
        let mut clock = ClockMemory::new(0x21, 640);
        let now = (13 * 3600 + 5 * 60 + 59) * SECOND_NS;
        assert_eq!([4, 2, 0].map(|at| read(&mut clock, at, now)), [0x13, 0x05, 0x59]);
        clock.select(register::B);
        assert!(clock.write(BINARY));
        assert_eq!([4, 2, 0].map(|at| read(&mut clock, at, now)), [1 | AFTERNOON, 5, 59]);
        assert_eq!(read(&mut clock, register::A, now + SECOND_NS - 2_228_000), USUAL_A | UPDATING);
        assert_eq!(read(&mut clock, register::A, now + SECOND_NS - 2_228_001), USUAL_A);
        assert_eq!(read(&mut clock, register::A, now + SECOND_NS), USUAL_A);
        assert_eq!(read(&mut clock, register::C, now), UPDATED | PERIOD);
        assert_eq!(read(&mut clock, register::C, now + 976_000), 0);
        // 976.5625 us a period.
        assert_eq!(read(&mut clock, register::C, now + 977_000), PERIOD);
        clock.select(register::B);
        assert!(!clock.write(PERIOD));
    }

    #[test]
    fn the_memory_tells_what_there_is() {
        let mut clock = ClockMemory::new(0x21, 640);
        let found = [0x14, 0x15, 0x16, 0x2E, 0x2F, 0x0D].map(|at| read(&mut clock, at, 0));
        assert_eq!(found, [0x21, 0x80, 0x02, 0, 0x21 + 0x80 + 0x02, VALID]);
        clock.select(0x3F);
        clock.write(0x5A);
        assert_eq!(clock.read(0), 0x5A);
    }
}
