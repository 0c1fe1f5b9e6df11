//! Services: what firmware and system do for a program, behind its interrupts.
//!
//! Each interrupt's vector points at an address of the firmware where, instead
//! of an instruction, a service stands. The machine serves it here and goes
//! back as the handler's IRET would. A service that is not present is noted and
//! answered as by a machine that lacks it; on a strict machine it ends the program.
//!
//! A service takes clocks for each byte it draws, and one that draws much lets
//! the machine go on in between ([`Served::GoOn`]).

mod absent;
mod blocks;
mod blocks_written;
mod board;
mod clock;
mod console;
mod country;
mod data;
mod files;
mod font;
mod functionality;
mod identity;
mod keys;
mod memory;
mod mode;
mod mouse;
mod names;
mod palette;
mod pixels;
mod process;
mod progress;
mod screen;
mod text;
mod video;

use backporch_raster::Tap;

pub(crate) use functionality::table as functionality;
pub(crate) use process::Parent;

use crate::bus::Bus;
use crate::machine::Machine;
use crate::registers::{Byte, Far, SegmentRegister, Word, flag};
use crate::rom;
use crate::trouble::Trouble;

/// Clocks a service is taken to last, its IRET included (assumed: firmware differs).
const SERVICE_CLOCKS: u32 = 200;

/// Clocks a service takes for each byte it moves to the screen (assumed: a repeated string move and what goes with it).
const CLOCKS_A_BYTE: u32 = 10;

/// Clocks of a service that pass before the machine is looked after: some scan lines.
const CLOCKS_AT_ONCE: u32 = 1000;

/// Clocks between two looks of a service that waits (assumed).
const WAIT_CLOCKS: u32 = 40;

/// The interrupt by which a mouse's driver is informed of it (Technical Reference, system board).
pub(crate) const MOUSE_INTERRUPT: u8 = 0x74;

/// How a service ends.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Served {
    /// Back to the program.
    Back,
    /// Back, carry telling whether it failed.
    BackWith {
        /// Carry.
        carry: bool,
    },
    /// Back, the zero flag telling.
    BackZero(bool),
    /// Not yet: a key has to be pressed first.
    WaitForKey,
    /// Not yet: there is more to do.
    GoOn,
    /// It went elsewhere by itself.
    Gone,
    /// The program is over.
    Exit(u8),
    /// The program is over, and what it asked to keep of its memory stays.
    Stays(u8),
}

/// A service that is done, and the clocks it still takes.
#[derive(Clone, Copy, Debug)]
pub struct Owed {
    clocks: u32,
    served: Served,
}

impl<T: Tap> Machine<T> {
    /// Serves the service at which the program has arrived.
    pub(crate) fn serve(&mut self, number: u16) -> Result<Served, Trouble> {
        let owed = match self.take_owed() {
            Some(owed) => owed,
            None => {
                self.hardware.elapse(SERVICE_CLOCKS);
                let served = self.serve_number(number)?;
                let drawn = std::mem::take(&mut self.system.drawn).saturating_mul(CLOCKS_A_BYTE);
                Owed { clocks: drawn.saturating_add(std::mem::take(&mut self.system.pause)), served }
            }
        };
        let now = owed.clocks.min(CLOCKS_AT_ONCE);
        self.hardware.elapse(now);
        if owed.clocks > now {
            self.keep_owed(Owed { clocks: owed.clocks - now, ..owed });
            self.processor.registers.put(flag::INTERRUPT, true);
            return Ok(Served::GoOn);
        }
        let change = match owed.served {
            Served::Back => None,
            Served::BackWith { carry } => Some((flag::CARRY, carry)),
            Served::BackZero(zero) => Some((flag::ZERO, zero)),
            Served::WaitForKey => {
                // Interrupts go on meanwhile, as in firmware that waits.
                self.hardware.elapse(WAIT_CLOCKS);
                self.processor.registers.put(flag::INTERRUPT, true);
                return Ok(owed.served);
            }
            Served::GoOn => {
                self.processor.registers.put(flag::INTERRUPT, true);
                return Ok(owed.served);
            }
            Served::Gone | Served::Exit(_) | Served::Stays(_) => return Ok(owed.served),
        };
        self.give_back(change);
        Ok(owed.served)
    }

    /// Whether a service does at once and to the letter what its caller says, so that its moment is the caller's: a
    /// page, colours, palette and DAC.
    pub(crate) fn does_as_told(&self, number: u16) -> bool {
        number == 0x10 && matches!(self.byte(Byte::Ah), 0x05 | 0x0B | 0x10)
    }

    fn serve_number(&mut self, number: u16) -> Result<Served, Trouble> {
        match number {
            rom::service::AFTER_TICK => Ok(self.after_tick()),
            rom::service::AFTER_MOUSE => Ok(self.after_mouse()),
            rom::service::NOWHERE.. => Err(Trouble::Nowhere),
            _ => match self.serve_interrupt(if number == rom::service::MOUSE { 0x33 } else { number as u8 }) {
                Err(trouble) if trouble.is_absence() && !self.hardware.strict => {
                    Ok(self.answer_absent(number as u8, trouble))
                }
                served => served,
            },
        }
    }

    fn serve_interrupt(&mut self, number: u8) -> Result<Served, Trouble> {
        match number {
            0x06 => Err(Trouble::Undefined),
            0x08 => Ok(self.tick()),
            0x09 => Ok(self.key_came()),
            0x10 => self.video(),
            0x11 => Ok(self.equipment()),
            0x12 => Ok(self.memory_size()),
            0x16 => self.keys(),
            0x1A => self.clock(),
            // Break, the user's tick, critical errors, idle time: for whoever takes them.
            0x1B | 0x1C | 0x23 | 0x24 | 0x28 => Ok(Served::Back),
            0x20 | 0x22 => Ok(Served::Exit(0)),
            0x27 => Ok(self.stay(self.word(Word::Dx).div_ceil(16), 0)),
            0x21 => self.system_service(),
            0x33 => self.mouse(),
            MOUSE_INTERRUPT => Ok(self.call_mouse_handler()),
            0x29 => {
                self.print(self.byte(Byte::Al));
                Ok(Served::Back)
            }
            // Interrupts of a kind that carries a service number in AH.
            0x15 => self.system_board(),
            0x13 | 0x14 | 0x17 | 0x2F | 0x67 => Err(Trouble::Service { interrupt: number, ax: self.word(Word::Ax) }),
            _ => Err(Trouble::Interrupt(number)),
        }
    }

    /// Interrupt 21h.
    fn system_service(&mut self) -> Result<Served, Trouble> {
        match self.byte(Byte::Ah) {
            0x00 => Ok(Served::Exit(0)),
            0x01 | 0x02 | 0x06..=0x0C => self.console(),
            0x0F..=0x17 | 0x21..=0x24 | 0x27 | 0x28 => self.blocks(),
            0x29 => Ok(self.parse_name()),
            0x0E | 0x19 | 0x1A | 0x2F | 0x36 | 0x3B..=0x47 | 0x4E | 0x4F | 0x56 | 0x57 | 0x67 | 0x68 => self.files(),
            // Nothing is kept back from the disk, and nothing is read again.
            0x0D | 0x2E => Ok(Served::Back),
            0x31 => Ok(self.stay(self.word(Word::Dx), self.byte(Byte::Al))),
            0x4B => self.start_program(),
            0x4D => Ok(self.ask_child()),
            0x38 => Ok(self.country()),
            0x25 => {
                let at = Far::new(0, u16::from(self.byte(Byte::Al)) * 4);
                self.store_word(at, self.word(Word::Dx));
                self.store_word(Far::new(0, at.offset + 2), self.segment(SegmentRegister::Ds));
                Ok(Served::Back)
            }
            0x35 => {
                let entry = u32::from(self.byte(Byte::Al)) * 4;
                let (offset, segment) = (self.hardware.peek_word(entry), self.hardware.peek_word(entry + 2));
                self.set(Word::Bx, offset);
                self.processor.registers.set_segment(SegmentRegister::Es, segment);
                Ok(Served::Back)
            }
            0x2A..=0x2D | 0x30 | 0x33 | 0x54 => self.system_clock(),
            0x48..=0x4A | 0x50 | 0x51 | 0x58 | 0x62 => self.memory(),
            0x4C => Ok(Served::Exit(self.byte(Byte::Al))),
            _ => Err(self.not_here(0x21)),
        }
    }

    /// That service is not present.
    fn not_here(&self, interrupt: u8) -> Trouble {
        Trouble::Service { interrupt, ax: self.word(Word::Ax) }
    }

    // ---- registers and memory -------------------------------------------------------

    fn word(&self, register: Word) -> u16 {
        self.processor.registers.word(register)
    }

    fn set(&mut self, register: Word, value: u16) {
        self.processor.registers.set_word(register, value);
    }

    fn byte(&self, register: Byte) -> u8 {
        self.processor.registers.byte(register)
    }

    fn set_byte(&mut self, register: Byte, value: u8) {
        self.processor.registers.set_byte(register, value);
    }

    fn segment(&self, register: SegmentRegister) -> u16 {
        self.processor.registers.segment(register)
    }

    /// The address a segment and a word register make.
    fn at(&self, segment: SegmentRegister, offset: Word) -> Far {
        Far::new(self.segment(segment), self.word(offset))
    }

    /// Writes a byte for a service.
    pub(crate) fn store(&mut self, at: Far, value: u8) {
        self.hardware.poke(at.linear(), value);
        self.processor.memory_changed([at.linear()]);
    }

    pub(crate) fn store_word(&mut self, at: Far, value: u16) {
        let [low, high] = value.to_le_bytes();
        self.store(at, low);
        self.store(at.plus(1), high);
    }

    fn load(&self, at: Far) -> u8 {
        self.hardware.peek(at.linear())
    }

    /// The text at an address up to `end`, at most 128 bytes.
    fn text(&self, from: Far, end: u8) -> Vec<u8> {
        let bytes = (0..128).map(|index| self.load(from.plus(index)));
        bytes.take_while(|byte| *byte != end).collect()
    }

    // ---- the stack ----------------------------------------------------------------------

    fn push(&mut self, value: u16) {
        let offset = self.word(Word::Sp).wrapping_sub(2);
        self.set(Word::Sp, offset);
        self.store_word(self.at(SegmentRegister::Ss, Word::Sp), value);
    }

    fn pop(&mut self) -> u16 {
        let value = self.hardware.peek_word(self.at(SegmentRegister::Ss, Word::Sp).linear());
        self.set(Word::Sp, self.word(Word::Sp).wrapping_add(2));
        value
    }

    /// Goes back as an IRET does, with flags of the program changed.
    fn give_back(&mut self, change: Option<(u16, bool)>) {
        let (offset, segment, flags) = (self.pop(), self.pop(), self.pop());
        self.processor.registers.go_to(Far::new(segment, offset));
        self.processor.registers.set_flags(flags);
        if let Some((flags, on)) = change {
            self.processor.registers.put(flags, on);
        }
    }

    // ---- small ones ----------------------------------------------------------------------

    /// Interrupt 11h: the equipment word of the firmware's data.
    fn equipment(&mut self) -> Served {
        self.set(Word::Ax, self.hardware.peek_word(data::EQUIPMENT.linear()));
        Served::Back
    }

    /// Interrupt 12h, in KiB.
    fn memory_size(&mut self) -> Served {
        self.set(Word::Ax, self.hardware.peek_word(data::MEMORY_SIZE.linear()));
        Served::Back
    }
}
