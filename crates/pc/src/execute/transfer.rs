//! Moves, stack, ports, pointers.

use super::{Done, Execution};
use crate::bus::Bus;
use crate::instruction::Operand;
use crate::model::Model;
use crate::processor::Fault;
use crate::registers::{Byte, Far, Segment, Word, flag};

/// Words of PUSHA, in order.
const ALL: [Word; 8] = [Word::Ax, Word::Cx, Word::Dx, Word::Bx, Word::Sp, Word::Bp, Word::Si, Word::Di];

impl<B: Bus> Execution<'_, B> {
    #[inline]
    pub(super) fn mov(&mut self) -> Done {
        let value = self.get(self.instruction.source)?;
        self.put(self.instruction.destination, value)
    }

    /// The 8086 pushes SP as it is after the push, the 80286 as it was before
    /// (iAPX 286 Programmer's Reference, PUSH).
    pub(super) fn push_operand(&mut self) -> Done {
        let value = match self.instruction.destination {
            Operand::Word(Word::Sp) if !self.processor.model.is_80286() => self.word(Word::Sp).wrapping_sub(2),
            operand => self.get(operand)?,
        };
        self.push(value)
    }

    pub(super) fn pop_operand(&mut self) -> Done {
        let value = self.pop()?;
        self.put(self.instruction.destination, value)
    }

    pub(super) fn push_all(&mut self) -> Done {
        let words = ALL.map(|register| self.word(register));
        words.into_iter().try_for_each(|word| self.push(word))
    }

    pub(super) fn pop_all(&mut self) -> Done {
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
    fn flag_image(&self) -> u16 {
        let fixed = match self.processor.model {
            Model::P8088 | Model::P8086 => 0xF002,
            Model::P80286 => 0x0002,
        };
        self.processor.registers.flags() | fixed
    }

    pub(super) fn push_flags(&mut self) -> Done {
        self.push(self.flag_image())
    }

    pub(super) fn pop_flags(&mut self) -> Done {
        let value = self.pop()?;
        self.processor.registers.set_flags(value);
        Ok(())
    }

    pub(super) fn load_flags(&mut self) -> Done {
        self.set_byte(Byte::Ah, self.flag_image() as u8);
        Ok(())
    }

    pub(super) fn store_flags(&mut self) -> Done {
        let value = u16::from(self.byte(Byte::Ah));
        self.processor.registers.put_masked(flag::STATUS & 0xFF, value);
        Ok(())
    }

    pub(super) fn exchange(&mut self) -> Done {
        let (one, two) = (self.instruction.destination, self.instruction.source);
        let (first, second) = (self.get(one)?, self.get(two)?);
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
        let value = self.input(port);
        self.set_accumulator(value);
        Ok(())
    }

    pub(super) fn port_out(&mut self) -> Done {
        let port = self.port(self.instruction.destination);
        self.output(port, self.accumulator());
        Ok(())
    }

    pub(super) fn input(&mut self, port: u16) -> u16 {
        self.processor.cycles += 1;
        match self.instruction.wide {
            true => {
                self.word_extra(u32::from(port));
                self.bus.input_word(port)
            }
            false => u16::from(self.bus.input(port)),
        }
    }

    pub(super) fn output(&mut self, port: u16, value: u16) {
        self.processor.cycles += 1;
        match self.instruction.wide {
            true => {
                self.word_extra(u32::from(port));
                self.bus.output_word(port, value);
            }
            false => self.bus.output(port, value as u8),
        }
    }

    fn port(&self, operand: Operand) -> u16 {
        match operand {
            Operand::Immediate(port) => port & 0xFF,
            _ => self.word(Word::Dx),
        }
    }

    // ---- addresses ------------------------------------------------------------------

    pub(super) fn translate(&mut self) -> Done {
        let mut at = self.place();
        at.offset = at.offset.wrapping_add(u16::from(self.byte(Byte::Al)));
        let value = self.read(at, false)?;
        self.set_byte(Byte::Al, value as u8);
        Ok(())
    }

    pub(super) fn load_address(&mut self) -> Done {
        let offset = self.offset();
        self.put(self.instruction.destination, offset)
    }

    pub(super) fn load_pointer(&mut self, register: Segment) -> Done {
        let pointer = self.pointer()?;
        self.put(self.instruction.destination, pointer.offset)?;
        self.processor.registers.set_segment(register, pointer.segment);
        Ok(())
    }

    /// The far pointer in the memory operand.
    pub(super) fn pointer(&mut self) -> Result<Far, Fault> {
        let at = self.place();
        let offset = self.read(at, true)?;
        let segment = self.read(Far::new(at.segment, at.offset.wrapping_add(2)), true)?;
        Ok(Far::new(segment, offset))
    }
}
