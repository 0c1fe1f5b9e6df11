//! Calls, jumps, branches, interrupts, frames.

use super::{Done, Execution};
use crate::bus::{Bus, CycleKind};
use crate::instruction::Operation;
use crate::processor::Fault;
use crate::processor::vector;
use crate::registers::{Far, SegmentRegister, Word, flag};
use crate::size::Size;

/// Bytes of an entry of the interrupt table.
const VECTOR_BYTES: u16 = 4;

impl<B: Bus> Execution<'_, B> {
    /// Goes on at an offset of the code segment, which ends at FFFFh (80386 Programmer's Reference Manual, real-address mode
    /// exceptions).
    #[inline]
    fn near(&mut self, offset: u32) -> Done {
        self.processor.registers.ip = self.code_offset(offset)?;
        self.processor.jumped = true;
        self.flush();
        Ok(())
    }

    #[inline]
    fn code_offset(&self, offset: u32) -> Result<u16, Fault> {
        u16::try_from(offset).map_err(|_| self.overrun(SegmentRegister::Cs))
    }

    fn far(&mut self, to: Far) {
        self.processor.registers.go_to(to);
        self.processor.jumped = true;
        self.flush();
    }

    fn relative(&self) -> u32 {
        let target = u32::from(self.processor.registers.ip).wrapping_add(self.instruction.immediate);
        if self.instruction.size == Size::Double { target } else { target & 0xFFFF }
    }

    fn near_target(&mut self) -> Result<u32, Fault> {
        match self.instruction.operation {
            Operation::CallNearIndirect | Operation::JmpNearIndirect => self.get(self.instruction.destination),
            _ => Ok(self.relative()),
        }
    }

    fn far_target(&mut self) -> Result<Far, Fault> {
        match self.instruction.operation {
            Operation::CallFarIndirect => {
                let (segment, offset) = self.pointer(4)?;
                Ok(Far::new(segment, self.code_offset(offset)?))
            }
            Operation::JmpFarIndirect => {
                let (segment, at, size) = (self.instruction.memory.segment, self.place()?, self.instruction.size);
                let offset = self.read(segment, at, size)?;
                self.work(3);
                self.suspend();
                self.work(2);
                let upper = self.read(segment, at.plus(size.bytes()), Size::Word)?;
                Ok(Far::new(upper as u16, self.code_offset(offset)?))
            }
            _ => Ok(Far::new(self.instruction.second, self.code_offset(self.instruction.immediate)?)),
        }
    }

    pub(super) fn call(&mut self) -> Done {
        let back = self.processor.registers.next();
        let size = self.instruction.size;
        self.about_to_call();
        match self.instruction.operation {
            Operation::CallNear | Operation::CallNearIndirect => {
                self.take(self.instruction.immediate_bytes);
                let to = self.near_target()?;
                self.work(self.settling(2, 1));
                self.suspend();
                self.work(4);
                self.near(to)?;
                self.work(3);
                self.push_sized(u32::from(back.offset), size)?;
            }
            operation => {
                self.take(self.instruction.immediate_bytes);
                let to = self.far_target()?;
                if operation == Operation::CallFar {
                    self.work(1);
                    self.suspend();
                    self.work(4);
                } else {
                    self.work(5);
                }
                self.push_sized(u32::from(back.segment), size)?;
                self.work(4);
                self.far(to);
                self.work(3);
                self.push_sized(u32::from(back.offset), size)?;
            }
        }
        Ok(())
    }

    /// Clocks from where an indirect target is known, in memory or in a register.
    fn settling(&self, memory: u32, register: u32) -> u32 {
        match (self.instruction.modrm, self.instruction.has_memory()) {
            (false, _) => 0,
            (true, true) => memory,
            (true, false) => register,
        }
    }

    pub(super) fn jump(&mut self) -> Done {
        match self.instruction.operation {
            Operation::JmpNear => {
                self.take_immediate();
                self.suspend();
                self.work(4);
                let to = self.near_target()?;
                self.near(to)?;
            }
            Operation::JmpNearIndirect => {
                let to = self.near_target()?;
                self.work(self.settling(2, 1));
                self.suspend();
                self.work(1);
                self.near(to)?;
            }
            operation => {
                self.take(self.instruction.immediate_bytes);
                if operation == Operation::JmpFar {
                    self.suspend();
                    self.work(2);
                }
                let to = self.far_target()?;
                self.far(to);
            }
        }
        Ok(())
    }

    pub(super) fn ret(&mut self) -> Done {
        let releasing = self.instruction.immediate_bytes > 0;
        self.take(self.instruction.immediate_bytes);
        let far = self.instruction.operation == Operation::Retf;
        self.work(if releasing || far { 3 } else { 1 });
        let size = self.instruction.size;
        let offset = self.pop_sized(size)?;
        self.suspend();
        if far {
            self.work(4);
            let segment = self.pop_sized(size)? as u16;
            self.far(Far::new(segment, self.code_offset(offset)?));
        } else {
            self.work(1 + u32::from(releasing));
            self.near(offset)?;
        }
        self.set_word(Word::Sp, self.word(Word::Sp).wrapping_add(self.instruction.immediate as u16));
        Ok(())
    }

    #[inline]
    pub(super) fn branch(&mut self) -> Done {
        let zero = self.processor.registers.has(flag::ZERO);
        if self.instruction.operation != Operation::Jcc {
            self.work(2);
        }
        self.take(1);
        let taken = match self.instruction.operation {
            Operation::Jcc => self.condition(self.instruction.second),
            Operation::Jcxz => self.index(Word::Cx) == 0,
            operation => {
                self.set_index(Word::Cx, self.index(Word::Cx).wrapping_sub(1));
                let count = self.index(Word::Cx);
                let wanted = match operation {
                    Operation::Loope => zero,
                    Operation::Loopne => !zero,
                    _ => true,
                };
                count != 0 && wanted
            }
        };
        self.work(1);
        if taken {
            self.charge_taken();
            self.work(u32::from(self.instruction.operation != Operation::Loop));
            self.suspend();
            self.work(4);
            self.near(self.relative())?;
        }
        Ok(())
    }

    /// A condition as encoded: pairs, the odd one the opposite of the even one.
    pub(super) fn condition(&self, code: u16) -> bool {
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

    pub(super) fn int(&mut self) -> Done {
        if self.instruction.immediate_bytes > 0 {
            self.take_immediate();
            self.work(1);
        } else {
            self.work(4);
        }
        self.about_to_call();
        self.enter(self.instruction.immediate as u8)
    }

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
        self.suspend();
        self.work(4);
        let offset = self.read_entry(entry);
        self.work(2);
        let to = Far::new(self.read_entry((entry + 2) & 0xF_FFFF), offset);
        let back = self.processor.registers.next();
        self.work(3);
        let flags = self.flag_image();
        self.push(flags)?;
        self.processor.registers.put(flag::INTERRUPT | flag::TRAP, false);
        self.work(6);
        self.push(back.segment)?;
        self.work(4);
        self.far(to);
        self.work(3);
        self.push(back.offset)
    }

    /// A word of the interrupt table, which lies outside any segment.
    fn read_entry(&mut self, address: u32) -> u16 {
        self.pay_transfer(CycleKind::Read, Far::new((address >> 4) as u16, (address & 15) as u16), Size::Word);
        self.bus.read_word(address)
    }

    pub(super) fn enter_interrupt(&mut self) -> Done {
        self.work(2);
        if self.processor.registers.has(flag::OVERFLOW) {
            self.charge_taken();
            self.work(3);
            self.enter(self.instruction.immediate as u8)
        } else {
            Ok(())
        }
    }

    pub(super) fn iret(&mut self) -> Done {
        self.work(3);
        let size = self.instruction.size;
        let offset = self.pop_sized(size)?;
        self.suspend();
        self.work(4);
        let segment = self.pop_sized(size)? as u16;
        self.far(Far::new(segment, self.code_offset(offset)?));
        self.work(2);
        let flags = self.pop_sized(size)?;
        self.set_flags(flags as u16);
        Ok(())
    }

    /// BOUND comes back to itself, whatever its handler did (iAPX 286 Programmer's Reference).
    pub(super) fn bound(&mut self) -> Done {
        let (segment, at, size) = (self.instruction.memory.segment, self.place()?, self.instruction.size);
        let index = size.signed(self.get(self.instruction.destination)?);
        let lower = size.signed(self.read(segment, at, size)?);
        let upper = size.signed(self.read(segment, at.plus(size.bytes()), size)?);
        if (lower..=upper).contains(&index) { Ok(()) } else { Err(Fault::Interrupt(vector::BOUND)) }
    }

    // ---- frames -----------------------------------------------------------------------

    /// Nesting level of ENTER, counted modulo 32.
    pub(super) fn frame_level(&self) -> u16 {
        self.instruction.second & 31
    }

    pub(super) fn frame(&mut self) -> Done {
        let (level, size) = (self.frame_level(), self.instruction.size);
        self.push_sized(self.sized(Word::Bp), size)?;
        let frame = self.word(Word::Sp);
        if level > 0 {
            for _ in 1..level {
                let outer = self.word(Word::Bp).wrapping_sub(size.bytes());
                self.set_word(Word::Bp, outer);
                let stack = self.processor.registers.segment(SegmentRegister::Ss);
                let link = self.read(SegmentRegister::Ss, Far::new(stack, outer), size)?;
                self.push_sized(link, size)?;
            }
            self.push_sized(self.frame_pointer(frame), size)?;
        }
        self.set_sized(Word::Bp, self.frame_pointer(frame));
        self.set_word(Word::Sp, self.word(Word::Sp).wrapping_sub(self.instruction.immediate as u16));
        Ok(())
    }

    /// The stack pointer as ENTER leaves it in the frame pointer: its upper half takes no part in the stack.
    fn frame_pointer(&self, frame: u16) -> u32 {
        self.processor.registers.double(Word::Sp) & 0xFFFF_0000 | u32::from(frame)
    }

    pub(super) fn leave(&mut self) -> Done {
        self.set_word(Word::Sp, self.word(Word::Bp));
        let frame = self.pop_sized(self.instruction.size)?;
        self.set_sized(Word::Bp, frame);
        Ok(())
    }
}
