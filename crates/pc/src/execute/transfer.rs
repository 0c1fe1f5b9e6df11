//! Moves, stack, ports, pointers.

use super::{Done, Execution};
use crate::bus::{Bus, CycleKind};
use crate::instruction::Operand;
use crate::processor::Fault;
use crate::registers::{Byte, Far, Segment, Word, flag};
use backporch_processor_timing::Model;

/// Words of PUSHA, in order.
const ALL: [Word; 8] = [Word::Ax, Word::Cx, Word::Dx, Word::Bx, Word::Sp, Word::Bp, Word::Si, Word::Di];

impl<B: Bus> Execution<'_, B> {
    #[inline]
    pub(super) fn mov(&mut self) -> Done {
        let (destination, source, modrm) =
            (self.instruction.destination, self.instruction.source, self.instruction.modrm);
        match (destination, source) {
            (Operand::Memory, Operand::Immediate(_)) => {
                self.work(1);
                self.take_immediate();
                self.work(2);
            }
            (_, Operand::Immediate(_)) => self.take_immediate(),
            (Operand::Memory, Operand::Segment(_)) => self.work(3),
            (Operand::Memory, _) if modrm => self.work(4),
            (Operand::Memory, _) => {
                self.take(2);
                self.work(2);
            }
            (_, Operand::Memory) if !modrm => {
                self.take(2);
                self.work(1);
            }
            _ => {}
        }
        let value = self.get(source)?;
        if source == Operand::Memory && modrm {
            self.work(2);
        }
        self.put(destination, value)
    }

    /// The 8086 pushes SP as it is after the push, the 80286 as it was before
    /// (iAPX 286 Programmer's Reference, PUSH).
    pub(super) fn push_operand(&mut self) -> Done {
        let value = match self.instruction.destination {
            Operand::Word(Word::Sp) if !self.processor.model.is_80286() => self.word(Word::Sp).wrapping_sub(2),
            operand => self.get(operand)?,
        };
        self.work(match (self.instruction.modrm, self.instruction.has_memory()) {
            (true, true) => 6,
            (true, false) => 5,
            _ => 4,
        });
        self.push(value)
    }

    pub(super) fn pop_operand(&mut self) -> Done {
        let (modrm, memory) = (self.instruction.modrm, self.instruction.has_memory());
        self.work(if memory { 3 } else { 1 + u32::from(modrm) });
        let value = self.pop()?;
        self.work(if memory { 4 } else { u32::from(modrm) });
        self.put(self.instruction.destination, value)
    }

    pub(super) fn pusha(&mut self) -> Done {
        let words = ALL.map(|register| self.word(register));
        words.into_iter().try_for_each(|word| self.push(word))
    }

    pub(super) fn popa(&mut self) -> Done {
        for register in ALL.into_iter().rev() {
            let value = self.pop()?;
            if register != Word::Sp {
                self.set_word(register, value);
            }
        }
        Ok(())
    }

    /// Flags as the stack sees them: bit 1 is 1, and so are the upper four on
    /// the 8086 (common practice), 0 on the 80286 in real mode (iAPX 286
    /// Programmer's Reference).
    pub(super) fn flag_image(&self) -> u16 {
        let fixed = match self.processor.model {
            Model::P8088 | Model::P8086 => 0xF002,
            Model::P80286 => 0x0002,
        };
        self.processor.registers.flags() | fixed
    }

    pub(super) fn pushf(&mut self) -> Done {
        self.work(4);
        self.push(self.flag_image())
    }

    pub(super) fn popf(&mut self) -> Done {
        self.work(1);
        let value = self.pop()?;
        self.processor.registers.set_flags(value);
        Ok(())
    }

    pub(super) fn lahf(&mut self) -> Done {
        self.set_byte(Byte::Ah, self.flag_image() as u8);
        Ok(())
    }

    pub(super) fn sahf(&mut self) -> Done {
        self.work(2);
        let value = u16::from(self.byte(Byte::Ah));
        self.processor.registers.put_masked(flag::STATUS & 0xFF, value);
        Ok(())
    }

    pub(super) fn xchg(&mut self) -> Done {
        let (one, two) = (self.instruction.destination, self.instruction.source);
        let (first, second) = (self.get(one)?, self.get(two)?);
        self.work(match (one, self.instruction.modrm) {
            (Operand::Memory, _) => 7,
            (_, true) => 2,
            (_, false) => 1,
        });
        // A memory operand is addressed by the registers as they were.
        match one {
            Operand::Memory => {
                self.put(one, second)?;
                self.put(two, first)
            }
            _ => {
                self.put(two, first)?;
                self.put(one, second)
            }
        }
    }

    // ---- ports --------------------------------------------------------------------

    pub(super) fn port_in(&mut self) -> Done {
        let port = self.port(self.instruction.source);
        self.take(self.instruction.immediate_bytes);
        self.work(1 + u32::from(self.instruction.immediate_bytes));
        let value = self.input(port);
        self.set_accumulator(value);
        Ok(())
    }

    pub(super) fn port_out(&mut self) -> Done {
        let port = self.port(self.instruction.destination);
        self.take(self.instruction.immediate_bytes);
        self.work(2 + u32::from(self.instruction.immediate_bytes));
        self.output(port, self.accumulator());
        Ok(())
    }

    pub(super) fn input(&mut self, port: u16) -> u16 {
        self.pay_transfer(CycleKind::Input, Far::new(0, port), self.instruction.wide);
        if self.instruction.wide { self.bus.input_word(port) } else { u16::from(self.bus.input(port)) }
    }

    pub(super) fn output(&mut self, port: u16, value: u16) {
        self.pay_transfer(CycleKind::Output, Far::new(0, port), self.instruction.wide);
        if self.instruction.wide {
            self.bus.output_word(port, value);
        } else {
            self.bus.output(port, value as u8)
        }
    }

    fn port(&self, operand: Operand) -> u16 {
        match operand {
            Operand::Immediate(port) => port & 0xFF,
            _ => self.word(Word::Dx),
        }
    }

    // ---- addresses ------------------------------------------------------------------

    pub(super) fn xlat(&mut self) -> Done {
        let at = self.place().plus(u16::from(self.byte(Byte::Al)));
        self.work(4);
        let value = self.read(at, false)?;
        self.set_byte(Byte::Al, value as u8);
        Ok(())
    }

    pub(super) fn lea(&mut self) -> Done {
        let offset = self.offset();
        self.work(1);
        self.put(self.instruction.destination, offset)
    }

    pub(super) fn load_pointer(&mut self, register: Segment) -> Done {
        let pointer = self.pointer(5)?;
        self.put(self.instruction.destination, pointer.offset)?;
        self.processor.registers.set_segment(register, pointer.segment);
        Ok(())
    }

    /// The far pointer in the memory operand; `between` its words are some clocks.
    pub(super) fn pointer(&mut self, between: u32) -> Result<Far, Fault> {
        let at = self.place();
        let offset = self.read(at, true)?;
        self.work(between);
        let segment = self.read(at.plus(2), true)?;
        Ok(Far::new(segment, offset))
    }
}
