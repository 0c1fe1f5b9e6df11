//! The clock tick, the time of day, and what tells programs what they run on.

use backporch_raster::Tap;

use super::Served;
use crate::machine::Machine;
use crate::registers::{Byte, Far, Word};
use crate::rom;
use crate::trouble::Trouble;
use backporch_processor_timing::Model;

/// Ticks since midnight, and whether midnight has passed (Technical Reference, firmware data area).
const TICKS: Far = Far { segment: 0x0040, offset: 0x006C };
const MIDNIGHT: Far = Far { segment: 0x0040, offset: 0x0070 };

/// Ticks of a day (common practice).
const TICKS_OF_A_DAY: u32 = 0x0018_00B0;

/// The day every run begins, at midnight: runs are alike whenever they are made.
const YEAR: u16 = 1988;
const MONTH_AND_DAY: u16 = 0x0101;
const FRIDAY: u8 = 5;

/// Version of the system that programs are given: 3.30.
const VERSION: u16 = 0x1E03;

/// Two decimal digits in a byte.
fn digits(number: u8) -> u8 {
    number / 10 * 16 + number % 10
}

impl<T: Tap> Machine<T> {
    fn ticks(&self) -> u32 {
        let word =
            |more: u16| u32::from(self.hardware.peek_word(Far::new(TICKS.segment, TICKS.offset + more).linear()));
        word(0) | word(2) << 16
    }

    fn set_ticks(&mut self, ticks: u32) {
        self.store_word(TICKS, ticks as u16);
        self.store_word(Far::new(TICKS.segment, TICKS.offset + 2), (ticks >> 16) as u16);
    }

    /// Interrupt 08h: counts, then calls the user's handler, interrupt 1Ch.
    pub(super) fn tick(&mut self) -> Served {
        let ticks = self.ticks() + 1;
        if ticks >= TICKS_OF_A_DAY {
            self.store(MIDNIGHT, 1);
        }
        self.set_ticks(ticks % TICKS_OF_A_DAY);
        self.push(self.processor.registers.flags() | 2);
        self.push(rom::SEGMENT);
        self.push(rom::offset_of(rom::service::AFTER_TICK));
        let entry = 0x1C * 4;
        let handler = Far::new(self.hardware.peek_word(entry + 2), self.hardware.peek_word(entry));
        self.processor.registers.go_to(handler);
        Served::Gone
    }

    /// What is left of interrupt 08h after the user's handler.
    pub(super) fn after_tick(&mut self) -> Served {
        self.hardware.controller.end();
        Served::Back
    }

    /// Interrupt 1Ah.
    pub(super) fn clock(&mut self) -> Result<Served, Trouble> {
        match self.byte(Byte::Ah) {
            0x00 => {
                let ticks = self.ticks();
                let midnight = self.load(MIDNIGHT);
                self.set(Word::Cx, (ticks >> 16) as u16);
                self.set(Word::Dx, ticks as u16);
                self.set_byte(Byte::Al, midnight);
                self.store(MIDNIGHT, 0);
            }
            0x01 => self.set_ticks(u32::from(self.word(Word::Cx)) << 16 | u32::from(self.word(Word::Dx))),
            // The clock that runs while the machine is off, in digits.
            0x02 if self.processor.model().is_from(Model::P80286) => {
                let [hour, minute, second] = self.time_of_day().map(digits);
                self.set(Word::Cx, u16::from_be_bytes([hour, minute]));
                self.set(Word::Dx, u16::from_be_bytes([second, 0]));
                return Ok(Served::BackWith { carry: false });
            }
            0x04 if self.processor.model().is_from(Model::P80286) => {
                let [century, year] = [YEAR / 100, YEAR % 100].map(|number| digits(number as u8));
                self.set(Word::Cx, u16::from_be_bytes([century, year]));
                self.set(Word::Dx, MONTH_AND_DAY);
                return Ok(Served::BackWith { carry: false });
            }
            _ => return Err(self.not_here(0x1A)),
        }
        Ok(Served::Back)
    }

    /// Hour, minute and second since the run began at midnight.
    fn time_of_day(&self) -> [u8; 3] {
        let seconds = self.hardware.clock().nanoseconds(self.hardware.clocks()) / 1_000_000_000;
        [seconds / 3600 % 24, seconds / 60 % 60, seconds % 60].map(|part| part as u8)
    }

    /// Date, time, version, break checking.
    pub(super) fn system_clock(&mut self) -> Result<Served, Trouble> {
        match self.byte(Byte::Ah) {
            0x2A => {
                self.set(Word::Cx, YEAR);
                self.set(Word::Dx, MONTH_AND_DAY);
                self.set_byte(Byte::Al, FRIDAY);
            }
            0x2C => {
                let hundredths = self.hardware.clock().nanoseconds(self.hardware.clocks()) / 10_000_000 % 100;
                let [hour, minute, second] = self.time_of_day();
                self.set(Word::Cx, u16::from_be_bytes([hour, minute]));
                self.set(Word::Dx, u16::from_be_bytes([second, hundredths as u8]));
            }
            // The date and the time cannot be set.
            0x2B | 0x2D => self.set_byte(Byte::Al, 0xFF),
            0x30 => {
                self.set(Word::Ax, VERSION);
                self.set(Word::Bx, 0);
                self.set(Word::Cx, 0);
            }
            0x33 if self.byte(Byte::Al) <= 1 => self.set_byte(Byte::Dl, 0),
            0x54 => self.set_byte(Byte::Al, 0),
            _ => return Err(self.not_here(0x21)),
        }
        Ok(Served::Back)
    }
}
