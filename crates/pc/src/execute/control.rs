//! Calls, jumps, branches, interrupts, frames.

use super::{Done, Execution};
use crate::bus::Bus;
use crate::instruction::Operation;
use crate::processor::Fault;
use crate::processor::vector;
use crate::registers::{Far, Segment, Word, flag};

/// Bytes of an entry of the interrupt table.
const VECTOR_BYTES: u16 = 4;

impl<B: Bus> Execution<'_, B> {
    #[inline]
    fn near(&mut self, offset: u16) {
        self.processor.registers.ip = offset;
        self.processor.jumped = true;
    }

    fn far(&mut self, to: Far) {
        self.processor.registers.go_to(to);
        self.processor.jumped = true;
    }

    fn relative(&self) -> u16 {
        self.processor.registers.ip.wrapping_add(self.instruction.immediate)
    }

    fn near_target(&mut self) -> Result<u16, Fault> {
        match self.instruction.operation {
            Operation::CallNearIndirect | Operation::JumpNearIndirect => self.get(self.instruction.destination),
            _ => Ok(self.relative()),
        }
    }

    fn far_target(&mut self) -> Result<Far, Fault> {
        match self.instruction.operation {
            Operation::CallFarIndirect | Operation::JumpFarIndirect => self.pointer(),
            _ => Ok(Far::new(self.instruction.second, self.instruction.immediate)),
        }
    }

    pub(super) fn call(&mut self) -> Done {
        let back = self.processor.registers.next();
        match self.instruction.operation {
            Operation::CallNear | Operation::CallNearIndirect => {
                let to = self.near_target()?;
                self.push(back.offset)?;
                self.near(to);
            }
            _ => {
                let to = self.far_target()?;
                self.push(back.segment)?;
                self.push(back.offset)?;
                self.far(to);
            }
        }
        Ok(())
    }

    pub(super) fn jump(&mut self) -> Done {
        match self.instruction.operation {
            Operation::JumpNear | Operation::JumpNearIndirect => {
                let to = self.near_target()?;
                self.near(to);
            }
            _ => {
                let to = self.far_target()?;
                self.far(to);
            }
        }
        Ok(())
    }

    pub(super) fn give_back(&mut self) -> Done {
        let offset = self.pop()?;
        match self.instruction.operation {
            Operation::Return => self.near(offset),
            _ => {
                let segment = self.pop()?;
                self.far(Far::new(segment, offset));
            }
        }
        self.set_word(Word::Sp, self.word(Word::Sp).wrapping_add(self.instruction.immediate));
        Ok(())
    }

    #[inline]
    pub(super) fn branch(&mut self) -> Done {
        let zero = self.processor.registers.has(flag::ZERO);
        let taken = match self.instruction.operation {
            Operation::JumpIf => self.condition(self.instruction.second),
            Operation::JumpCountZero => self.word(Word::Cx) == 0,
            operation => {
                let count = self.word(Word::Cx).wrapping_sub(1);
                self.set_word(Word::Cx, count);
                let wanted = match operation {
                    Operation::LoopEqual => zero,
                    Operation::LoopNotEqual => !zero,
                    _ => true,
                };
                count != 0 && wanted
            }
        };
        if taken {
            self.charge_taken();
            self.near(self.relative());
        }
        Ok(())
    }

    /// A condition as encoded: pairs, the odd one the opposite of the even one.
    fn condition(&self, code: u16) -> bool {
        let registers = &self.processor.registers;
        let less = registers.has(flag::SIGN) != registers.has(flag::OVERFLOW);
        let holds = match code >> 1 {
            0 => registers.has(flag::OVERFLOW),
            1 => registers.has(flag::CARRY),
            2 => registers.has(flag::ZERO),
            3 => registers.has(flag::CARRY | flag::ZERO),
            4 => registers.has(flag::SIGN),
            5 => registers.has(flag::PARITY),
            6 => less,
            _ => less || registers.has(flag::ZERO),
        };
        holds != (code & 1 != 0)
    }

    // ---- interrupts ---------------------------------------------------------------

    /// Goes to an interrupt's handler.
    pub fn enter(&mut self, number: u8) -> Done {
        let offset = u16::from(number) * VECTOR_BYTES;
        let table = self.processor.interrupt_table;
        if offset + VECTOR_BYTES - 1 > table.limit {
            // A table too short even for the error that says so leaves nothing to do.
            return match number {
                vector::TABLE_LIMIT => Err(Fault::Shutdown),
                _ => self.enter(vector::TABLE_LIMIT),
            };
        }
        let entry = (table.base + u32::from(offset)) & 0xF_FFFF;
        let offset = self.read_entry(entry);
        let to = Far::new(self.read_entry((entry + 2) & 0xF_FFFF), offset);
        let back = self.processor.registers.next();
        self.push_flags()?;
        self.processor.registers.put(flag::INTERRUPT | flag::TRAP, false);
        self.push(back.segment)?;
        self.push(back.offset)?;
        self.far(to);
        Ok(())
    }

    /// A word of the interrupt table, which lies outside any segment.
    fn read_entry(&mut self, address: u32) -> u16 {
        self.processor.cycles += 1;
        self.word_extra(address);
        self.bus.read_word(address)
    }

    pub(super) fn interrupt_overflow(&mut self) -> Done {
        match self.processor.registers.has(flag::OVERFLOW) {
            true => {
                self.charge_taken();
                self.enter(self.instruction.immediate as u8)
            }
            false => Ok(()),
        }
    }

    pub(super) fn interrupt_return(&mut self) -> Done {
        let offset = self.pop()?;
        let segment = self.pop()?;
        let flags = self.pop()?;
        self.far(Far::new(segment, offset));
        self.processor.registers.set_flags(flags);
        Ok(())
    }

    /// BOUND comes back to itself, whatever its handler did (iAPX 286 Programmer's Reference).
    pub(super) fn bound(&mut self) -> Done {
        let index = self.get(self.instruction.destination)? as i16;
        let Far { segment: upper, offset: lower } = self.pointer()?;
        match (lower as i16..=upper as i16).contains(&index) {
            true => Ok(()),
            false => Err(Fault::Interrupt(vector::BOUND)),
        }
    }

    // ---- frames -----------------------------------------------------------------------

    /// Nesting level of ENTER, counted modulo 32.
    pub(super) fn frame_level(&self) -> u16 {
        self.instruction.second & 31
    }

    pub(super) fn frame(&mut self) -> Done {
        let level = self.frame_level();
        self.push(self.word(Word::Bp))?;
        let frame = self.word(Word::Sp);
        if level > 0 {
            for _ in 1..level {
                let outer = self.word(Word::Bp).wrapping_sub(2);
                self.set_word(Word::Bp, outer);
                let stack = self.processor.registers.segment(Segment::Ss);
                let link = self.read(Far::new(stack, outer), true)?;
                self.push(link)?;
            }
            self.push(frame)?;
        }
        self.set_word(Word::Bp, frame);
        self.set_word(Word::Sp, self.word(Word::Sp).wrapping_sub(self.instruction.immediate));
        Ok(())
    }

    pub(super) fn leave(&mut self) -> Done {
        self.set_word(Word::Sp, self.word(Word::Bp));
        let frame = self.pop()?;
        self.set_word(Word::Bp, frame);
        Ok(())
    }
}
