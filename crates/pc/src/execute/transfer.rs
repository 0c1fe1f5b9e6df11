//! Moves, stack, ports, pointers.

use super::{Done, Execution};
use crate::bus::{Bus, CycleKind};
use crate::instruction::{Operand, Operation};
use crate::processor::Fault;
use crate::registers::{Byte, Far, SegmentRegister, Word, flag};
use crate::size::Size;
use backporch_processor_timing::Model;

/// Registers of PUSHA, in order.
const ALL: [Word; 8] = [Word::Ax, Word::Cx, Word::Dx, Word::Bx, Word::Sp, Word::Bp, Word::Si, Word::Di];

impl<B: Bus> Execution<'_, B> {
    #[inline]
    pub(super) fn mov(&mut self) -> Done {
        let (destination, source, modrm) =
            (self.instruction.destination, self.instruction.source, self.instruction.modrm);
        match (destination, source) {
            (Operand::Memory, Operand::Immediate) => {
                self.work(1);
                self.take_immediate();
                self.work(2);
            }
            (_, Operand::Immediate) => self.take_immediate(),
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

    /// The 8086 and 80186 push SP as it is after the push, the 80286 as it was
    /// before (iAPX 286 Programmer's Reference, PUSH).
    pub(super) fn push_operand(&mut self) -> Done {
        let value = match self.instruction.destination {
            Operand::Word(Word::Sp) if !self.processor.model.is_from(Model::P80286) => {
                u32::from(self.word(Word::Sp).wrapping_sub(2))
            }
            operand => self.get(operand)?,
        };
        self.work(match (self.instruction.modrm, self.instruction.has_memory()) {
            (true, true) => 6,
            (true, false) => 5,
            _ => 4,
        });
        self.push_sized(value, self.instruction.size)
    }

    pub(super) fn pop_operand(&mut self) -> Done {
        let (modrm, memory) = (self.instruction.modrm, self.instruction.has_memory());
        self.work(if memory { 3 } else { 1 + u32::from(modrm) });
        let value = self.pop_sized(self.instruction.size)?;
        self.work(if memory { 4 } else { u32::from(modrm) });
        self.put(self.instruction.destination, value)
    }

    pub(super) fn pusha(&mut self) -> Done {
        let size = self.instruction.size;
        let values = ALL.map(|register| self.sized(register));
        values.into_iter().try_for_each(|value| self.push_sized(value, size))
    }

    pub(super) fn popa(&mut self) -> Done {
        for register in ALL.into_iter().rev() {
            let value = self.pop_sized(self.instruction.size)?;
            if register != Word::Sp {
                self.set_sized(register, value);
            }
        }
        Ok(())
    }

    /// Flags as the stack sees them: bit 1 is 1, and so are the upper four on
    /// the 8086 and 80186 (common practice), 0 on the 80286 in real mode (iAPX
    /// 286 Programmer's Reference); three of them are as set on the 80386.
    pub(super) fn flag_image(&self) -> u16 {
        let fixed = match self.processor.model {
            Model::P8088 | Model::P8086 | Model::P80186 => 0xF002,
            Model::P80286 | Model::P80386 => 0x0002,
        };
        self.processor.registers.flags() | fixed
    }

    pub(super) fn pushf(&mut self) -> Done {
        self.work(4);
        self.push_sized(u32::from(self.flag_image()), self.instruction.size)
    }

    pub(super) fn popf(&mut self) -> Done {
        self.work(1);
        let value = self.pop_sized(self.instruction.size)?;
        self.set_flags(value as u16);
        Ok(())
    }

    /// Sets the flags the processor has; those above 16 bits stay 0 in real mode.
    pub(super) fn set_flags(&mut self, value: u16) {
        let registers = &mut self.processor.registers;
        match self.processor.model {
            Model::P80386 => registers.set_all_flags(value),
            _ => registers.set_flags(value),
        }
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

    pub(super) fn input(&mut self, port: u16) -> u32 {
        self.pay_transfer(CycleKind::Input, Far::new(0, port), self.instruction.size);
        match self.instruction.size {
            Size::Byte => u32::from(self.bus.input(port)),
            Size::Word => u32::from(self.bus.input_word(port)),
            Size::Double => {
                let low = self.bus.input_word(port);
                u32::from(low) | u32::from(self.bus.input_word(port.wrapping_add(2))) << 16
            }
        }
    }

    pub(super) fn output(&mut self, port: u16, value: u32) {
        self.pay_transfer(CycleKind::Output, Far::new(0, port), self.instruction.size);
        match self.instruction.size {
            Size::Byte => self.bus.output(port, value as u8),
            Size::Word => self.bus.output_word(port, value as u16),
            Size::Double => {
                self.bus.output_word(port, value as u16);
                self.bus.output_word(port.wrapping_add(2), (value >> 16) as u16);
            }
        }
    }

    fn port(&self, operand: Operand) -> u16 {
        match operand {
            Operand::Immediate => self.instruction.immediate as u16 & 0xFF,
            _ => self.word(Word::Dx),
        }
    }

    // ---- addresses ------------------------------------------------------------------

    pub(super) fn xlat(&mut self) -> Done {
        let offset = self.offset().wrapping_add(u32::from(self.byte(Byte::Al)));
        let segment = self.instruction.memory.segment;
        let at = self.at(segment, if self.instruction.wide_address { offset } else { offset & 0xFFFF })?;
        self.work(4);
        let value = self.read(segment, at, Size::Byte)?;
        self.set_byte(Byte::Al, value as u8);
        Ok(())
    }

    pub(super) fn lea(&mut self) -> Done {
        let offset = self.offset();
        self.work(1);
        self.put(self.instruction.destination, offset)
    }

    pub(super) fn load_pointer(&mut self, register: SegmentRegister) -> Done {
        let (segment, offset) = self.pointer(5)?;
        self.put(self.instruction.destination, offset)?;
        self.processor.registers.set_segment(register, segment);
        self.processor.shadow |= register == SegmentRegister::Ss;
        Ok(())
    }

    /// The far pointer in the memory operand, segment and offset; `between` its words are some clocks.
    pub(super) fn pointer(&mut self, between: u32) -> Result<(u16, u32), Fault> {
        let (segment, at, size) = (self.instruction.memory.segment, self.place()?, self.instruction.size);
        let offset = self.read(segment, at, size)?;
        self.work(between);
        let upper = self.read(segment, at.plus(size.bytes()), Size::Word)?;
        Ok((upper as u16, offset))
    }

    /// MOVZX, MOVSX.
    pub(super) fn extended(&mut self) -> Done {
        let size = if self.instruction.second == 8 { Size::Byte } else { Size::Word };
        let value = self.get_sized(self.instruction.source, size)?;
        let signed = self.instruction.operation == Operation::Movsx;
        self.put(self.instruction.destination, if signed { size.signed(value) as u32 } else { value })
    }
}
