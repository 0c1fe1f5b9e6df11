//! Laying a program and what it expects around it into memory.

use backporch_raster::Tap;

use super::{LoadError, Machine};
use crate::arena::Arena;
use crate::image::{Image, ImageKind};
use crate::processor::StackEnd;
use crate::registers::{Far, Segment, Word, flag};
use crate::rom;

/// First paragraph programs get: the interrupt table, the firmware's data and the system lie below.
const FIRST_PARAGRAPH: u16 = 0x0800;

/// End of memory in paragraphs.
const LAST_PARAGRAPH: u16 = 0xA000;

/// Paragraphs of the environment, and of what precedes a program.
const ENVIRONMENT: u16 = 0x10;
const PREFIX: u16 = 0x10;

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

    pub(super) fn load_program(&mut self, image: &Image, tail: &str) -> Result<(), LoadError> {
        let paragraphs = image.bytes.len().div_ceil(16) as u32 + u32::from(PREFIX);
        let free = u32::from(LAST_PARAGRAPH - FIRST_PARAGRAPH - ENVIRONMENT);
        let (least, most) = match &image.kind {
            ImageKind::Plain => (0x1000, u32::from(u16::MAX)),
            ImageKind::Relocated { least, most, .. } => {
                (paragraphs + u32::from(*least), paragraphs + u32::from((*most).max(*least)))
            }
        };
        let missing = LoadError::Memory { needed: least * 16, free: free * 16 };
        if least > free {
            return Err(missing);
        }
        let environment = self.system.arena.take(ENVIRONMENT).map_err(|_| missing.clone())?;
        let program = self.system.arena.take(most.min(free) as u16).map_err(|_| missing)?;
        self.system.program = program;
        self.system.transfer = Far::new(program, 0x0080);
        self.write_environment(environment);
        self.write_prefix(program, environment, program + most.min(free) as u16, tail);
        let load = program + PREFIX;
        let base = usize::from(load) * 16;
        let bytes = image.at_segment(load);
        self.hardware.memory_mut()[base..base + bytes.len()].copy_from_slice(&bytes);
        self.start(image, program, load);
        Ok(())
    }

    /// No variables, and the program's own name.
    fn write_environment(&mut self, segment: u16) {
        let bytes = b"\0\0\x01\0C:\\PROGRAM.EXE\0";
        for (offset, byte) in (0..).zip(bytes) {
            self.store(Far::new(segment, offset), *byte);
        }
    }

    /// The 256 bytes before a program (common practice): how to end, memory's
    /// end, vectors to come back to, environment, command line.
    fn write_prefix(&mut self, segment: u16, environment: u16, end: u16, tail: &str) {
        let at = |offset| Far::new(segment, offset);
        self.store_word(at(0x00), 0x20CD);
        self.store_word(at(0x02), end);
        for (offset, number) in [(0x0A, 0x22), (0x0E, 0x23), (0x12, 0x24)] {
            self.store_word(at(offset), rom::offset_of(number));
            self.store_word(at(offset + 2), rom::SEGMENT);
        }
        self.store_word(at(0x2C), environment);
        for (offset, byte) in (0x50..).zip([0xCD, 0x21, 0xCB]) {
            self.store(at(offset), byte);
        }
        let tail = if tail.is_empty() { String::new() } else { format!(" {tail}") };
        self.store(at(0x80), tail.len() as u8);
        for (offset, byte) in (0x81..).zip(tail.bytes().chain([13])) {
            self.store(at(offset), byte);
        }
    }

    fn start(&mut self, image: &Image, program: u16, load: u16) {
        let registers = &mut self.processor.registers;
        for segment in [Segment::Es, Segment::Ds] {
            registers.set_segment(segment, program);
        }
        registers.put(flag::INTERRUPT, true);
        let lowest = match image.kind {
            ImageKind::Plain => {
                registers.go_to(Far::new(program, 0x0100));
                registers.set_segment(Segment::Ss, program);
                registers.set_word(Word::Sp, 0xFFFE);
                0x0100 + image.bytes.len() as u16
            }
            ImageKind::Relocated { start, stack, .. } => {
                registers.go_to(Far::new(load.wrapping_add(start.0), start.1));
                registers.set_segment(Segment::Ss, load.wrapping_add(stack.0));
                registers.set_word(Word::Sp, stack.1);
                0
            }
        };
        let segment = registers.segment(Segment::Ss);
        let own_from = u32::from(program) * 16;
        self.processor.watch_stack(Some(StackEnd { segment, lowest, own_from }));
        // A plain program ends where it returns to: the start of what precedes it.
        if image.kind == ImageKind::Plain {
            self.store_word(Far::new(program, 0xFFFE), 0);
        }
    }
}
