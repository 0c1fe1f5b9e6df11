//! Laying a program and what it expects around it into memory.

use backporch_raster::Tap;

use super::{Machine, StartError};
use crate::arena::Arena;
use crate::image::{ImageKind, ProgramImage};
use crate::registers::{Far, SegmentRegister, Word, flag};
use crate::rom;
use crate::stack_watch::StackPlace;
use crate::system::HANDLES;

/// First paragraph programs get: the interrupt table, the firmware's data and the system lie below.
const FIRST_PARAGRAPH: u16 = 0x0800;

/// End of memory in paragraphs.
const LAST_PARAGRAPH: u16 = 0xA000;

/// Paragraphs of what precedes a program, and of the smallest stack of a plain one.
const PREFIX: u16 = 0x10;
const LEAST_STACK: u16 = 0x10;

/// The interrupt that goes to where a program's end leads.
const TERMINATE: u16 = 0x22;

/// The environment a prompt gives: where programs are looked for, and the program's own name after a count of one.
const ENVIRONMENT: &[u8] = b"PATH=C:\\\0\0\x01\0C:\\PROGRAM.EXE\0";

/// Bytes that it has in all.
const ENVIRONMENT_BYTES: usize = 0x100;

/// What a program is started with.
#[derive(Clone, Debug)]
pub(crate) struct Birth {
    /// Its environment, whole.
    pub environment: Vec<u8>,
    /// What follows its name on its command line, at most [`LONGEST_TAIL`](super::LONGEST_TAIL) bytes.
    pub tail: Vec<u8>,
    /// Who started it, by the segment of what precedes that.
    pub parent: Option<u16>,
    /// Where that goes on.
    pub back: Far,
}

/// Memory that programs can be given.
pub(super) fn arena() -> Arena {
    Arena::new(FIRST_PARAGRAPH, LAST_PARAGRAPH)
}

impl<T: Tap> Machine<T> {
    /// Interrupt table, firmware data.
    pub(super) fn prepare_firmware(&mut self, mode: &str) {
        for number in 0..256u16 {
            self.store_word(Far::new(0, number * 4), rom::offset_of(number));
            self.store_word(Far::new(0, number * 4 + 2), rom::SEGMENT);
        }
        self.hardware.functionality = crate::services::functionality(self.hardware.adapter());
        self.prepare_data();
        self.prepare_keys();
        self.prepare_mode(mode);
    }

    /// The program a prompt starts.
    pub(super) fn load_program(&mut self, image: &ProgramImage, tail: &str) -> Result<(), StartError> {
        let tail = if tail.is_empty() { String::new() } else { format!(" {tail}") };
        let tail = tail.bytes().collect();
        let back = Far::new(rom::SEGMENT, rom::offset_of(TERMINATE));
        let mut environment = ENVIRONMENT.to_vec();
        environment.resize(ENVIRONMENT_BYTES, 0);
        self.place(image, &Birth { environment, tail, parent: None, back })
    }

    /// Lays a program and what precedes it into memory, and goes to its start.
    ///
    /// # Errors
    /// Where there is too little memory.
    pub(crate) fn place(&mut self, image: &ProgramImage, birth: &Birth) -> Result<(), StartError> {
        let paragraphs = image.bytes.len().div_ceil(16) as u32 + u32::from(PREFIX);
        let (least, most) = match &image.kind {
            ImageKind::Plain => (paragraphs + u32::from(LEAST_STACK), u32::from(u16::MAX)),
            ImageKind::Relocated { least, most, .. } => {
                (paragraphs + u32::from(*least), paragraphs + u32::from((*most).max(*least)))
            }
        };
        let no_place = |free: u16| StartError::Memory { needed: least * 16, free: u32::from(free) * 16 };
        let length = birth.environment.len().div_ceil(16) as u16;
        let environment = self.system.arena.take(length, 0).map_err(|_| no_place(self.system.arena.largest()))?;
        let free = self.system.arena.largest();
        let given = most.min(u32::from(free)) as u16;
        let taken = if least > u32::from(free) { None } else { self.system.arena.take(given, 0).ok() };
        let Some(program) = taken else {
            let _ = self.system.arena.give(environment);
            return Err(no_place(free));
        };
        self.system.arena.hand_over(environment, program);
        self.system.arena.hand_over(program, program);
        self.system.program = program;
        self.system.transfer = Far::new(program, 0x0080);
        self.note_owners();
        let place = u32::from(program) * 16..(u32::from(program) + u32::from(given)) * 16;
        self.processor.stack_watch().begin(place, start_of_stack(image, program, given));
        self.store_all(Far::new(environment, 0), &birth.environment);
        self.write_prefix(program, environment, program + given, birth);
        let load = program + PREFIX;
        self.lay(&image.at_segment(load), load);
        self.start(image, program, given);
        Ok(())
    }

    /// Lays bytes into system memory from a segment on; what does not fit is left out.
    pub(crate) fn lay(&mut self, bytes: &[u8], segment: u16) {
        let base = usize::from(segment) * 16;
        let place = self.hardware.memory_mut().get_mut(base..).unwrap_or_default();
        let len = bytes.len().min(place.len());
        place[..len].copy_from_slice(&bytes[..len]);
        self.processor.memory_loaded(base as u32, &bytes[..len]);
    }

    pub(crate) fn store_all(&mut self, at: Far, bytes: &[u8]) {
        for (offset, byte) in (0..).zip(bytes) {
            self.store(at.plus(offset), *byte);
        }
    }

    /// The 256 bytes before a program (common practice): how to end, memory's
    /// end, vectors to come back to, handles, environment, command line.
    fn write_prefix(&mut self, segment: u16, environment: u16, end: u16, birth: &Birth) {
        let at = |offset| Far::new(segment, offset);
        (0..0x100).for_each(|offset| self.store(at(offset), 0));
        self.store_word(at(0x00), 0x20CD);
        self.store_word(at(0x02), end);
        self.store_word(at(0x0A), birth.back.offset);
        self.store_word(at(0x0C), birth.back.segment);
        for (offset, number) in [(0x0E, 0x23), (0x12, 0x24)] {
            let vector = Far::new(0, number * 4);
            let (to, from) = (self.hardware.peek_word(vector.linear()), self.hardware.peek_word(vector.linear() + 2));
            self.store_word(at(offset), to);
            self.store_word(at(offset + 2), from);
        }
        self.store_word(at(0x16), birth.parent.unwrap_or(segment));
        // Handles by their number in the system: the console three times, serial port and printer; FFh is none.
        (0..HANDLES as u16).for_each(|handle| self.store(at(0x18 + handle), 0xFF));
        self.store_all(at(0x18), &[1, 1, 1, 0, 2]);
        self.store_word(at(0x2C), environment);
        self.store_word(at(0x32), HANDLES as u16);
        self.store_word(at(0x34), 0x18);
        self.store_word(at(0x36), segment);
        self.store_all(at(0x50), &[0xCD, 0x21, 0xCB]);
        self.name_blocks(segment, &birth.tail);
        self.store(at(0x80), birth.tail.len() as u8);
        self.store_all(at(0x81), &birth.tail);
        self.store(at(0x81 + birth.tail.len() as u16), 13);
    }

    /// The stack is watched by who owns what now.
    pub(crate) fn note_owners(&mut self) {
        let (blocks, program) = (self.system.arena.owned(), self.system.program);
        self.processor.stack_watch().set_owners(blocks, program);
    }

    fn start(&mut self, image: &ProgramImage, program: u16, given: u16) {
        let load = program + PREFIX;
        let stack = start_of_stack(image, program, given);
        let registers = &mut self.processor.registers;
        (0..8).for_each(|number| registers.set_word(Word::numbered(number), 0));
        for segment in [SegmentRegister::Es, SegmentRegister::Ds] {
            registers.set_segment(segment, program);
        }
        registers.put(flag::INTERRUPT, true);
        registers.set_segment(SegmentRegister::Ss, stack.segment);
        registers.set_word(Word::Sp, stack.offset);
        match image.kind {
            ImageKind::Plain => {
                registers.go_to(Far::new(program, 0x0100));
                // It ends where it returns to: the start of what precedes it.
                self.store_word(Far::new(program, stack.offset), 0);
            }
            ImageKind::Relocated { start, .. } => {
                registers.go_to(Far::new(load.wrapping_add(start.0), start.1));
                let hardware = &self.hardware;
                self.processor.stack_watch().spare(stack, |address| hardware.peek(address & 0xF_FFFF));
            }
        }
    }
}

/// Where a program's stack begins: at the end of its segment, or as much of one as there is, or where it says.
fn start_of_stack(image: &ProgramImage, program: u16, given: u16) -> StackPlace {
    match image.kind {
        ImageKind::Plain => {
            let top = (u32::from(given) * 16).min(0x1_0000) as u16;
            StackPlace { segment: program, offset: top.wrapping_sub(2) }
        }
        ImageKind::Relocated { stack, .. } => {
            StackPlace { segment: (program + PREFIX).wrapping_add(stack.0), offset: stack.1 }
        }
    }
}
