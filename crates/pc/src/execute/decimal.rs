//! Decimal adjustments.

use super::arithmetic::division_clocks;
use super::{Done, Execution};
use crate::alu::of_result;
use crate::bus::Bus;
use crate::instruction::Operation;
use crate::processor::Fault;
use crate::processor::vector;
use crate::registers::{Byte, Word, flag};
use crate::size::Size;
use backporch_processor_timing::Model;

const RESULT: u16 = flag::SIGN | flag::ZERO | flag::PARITY;

impl<B: Bus> Execution<'_, B> {
    /// AAA, AAS: AL and AH change apart on the 8086 (The 8086 Family User's Manual); on the 80286 a carry out of AL
    /// reaches AH (open data set: single-step tests of an 80286, captured from hardware, 2025).
    pub(super) fn ascii(&mut self) -> Done {
        let (low, high) = (self.byte(Byte::Al), self.byte(Byte::Ah));
        let adjust = low & 15 > 9 || self.processor.registers.has(flag::AUXILIARY);
        self.work(if adjust { 6 } else { 7 });
        let joined = self.processor.model.is_from(Model::P80286);
        let (low, high) = match (adjust, self.instruction.operation) {
            (false, _) => (low, high),
            (true, Operation::Aaa) => {
                let (low, carry) = low.overflowing_add(6);
                (low, high.wrapping_add(1 + u8::from(carry && joined)))
            }
            (true, _) => {
                let (low, borrow) = low.overflowing_sub(6);
                (low, high.wrapping_sub(1 + u8::from(borrow && joined)))
            }
        };
        self.set_word(Word::Ax, u16::from_le_bytes([low & 15, high]));
        self.processor.registers.put(flag::AUXILIARY | flag::CARRY, adjust);
        Ok(())
    }

    /// DAA, DAS.
    pub(super) fn decimal(&mut self) -> Done {
        self.work(2);
        let registers = &mut self.processor.registers;
        let old = registers.byte(Byte::Al);
        let lower = old & 15 > 9 || registers.has(flag::AUXILIARY);
        let upper = old > 0x99 || registers.has(flag::CARRY);
        let by = if lower { 0x06 } else { 0 } + if upper { 0x60 } else { 0 };
        let (new, carry) = match self.instruction.operation {
            Operation::Daa => (old.wrapping_add(by), upper),
            _ => (old.wrapping_sub(by), upper || lower && old < 6),
        };
        registers.set_byte(Byte::Al, new);
        registers.put(flag::AUXILIARY, lower);
        registers.put(flag::CARRY, carry);
        registers.put_masked(RESULT, of_result(Size::Byte, u32::from(new)));
        Ok(())
    }

    pub(super) fn aam(&mut self) -> Done {
        let (low, base) = (self.byte(Byte::Al), self.instruction.immediate as u8);
        self.take_immediate();
        let Some(high) = low.checked_div(base) else {
            self.work(9);
            return Err(Fault::Interrupt(vector::DIVIDE_ERROR));
        };
        if self.processor.sequenced {
            self.work(73 + division_clocks(u32::from(low), u32::from(base), 8));
        }
        let low = low % base;
        self.set_word(Word::Ax, u16::from_le_bytes([low, high]));
        self.processor.registers.put_masked(RESULT, of_result(Size::Byte, u32::from(low)));
        Ok(())
    }

    pub(super) fn aad(&mut self) -> Done {
        self.take_immediate();
        self.work(55 + (self.instruction.immediate as u8).count_ones());
        let tens = self.byte(Byte::Ah).wrapping_mul(self.instruction.immediate as u8);
        let value = self.byte(Byte::Al).wrapping_add(tens);
        self.set_word(Word::Ax, u16::from(value));
        self.processor.registers.put_masked(RESULT, of_result(Size::Byte, u32::from(value)));
        Ok(())
    }
}
