//! Arithmetic, logic, shifts, products and quotients.

use super::{Done, Execution};
use crate::alu::{self, Shift, mask, of_result, when};
use crate::bus::Bus;
use crate::instruction::{Operand, Operation};
use crate::processor::Fault;
use crate::processor::vector;
use crate::registers::{Byte, Word, flag};

/// Flags a rotate changes.
const ROTATED: u16 = flag::CARRY | flag::OVERFLOW;

impl<B: Bus> Execution<'_, B> {
    fn carry(&self) -> bool {
        self.processor.registers.has(flag::CARRY)
    }

    #[inline]
    pub(super) fn binary(&mut self) -> Done {
        let wide = self.instruction.wide;
        let (destination, operation) = (self.instruction.destination, self.instruction.operation);
        let one = self.get(destination)?;
        let two = self.get(self.instruction.source)?;
        let logic = |result: u16| (result, of_result(wide, result));
        let (result, flags) = match operation {
            Operation::Add => alu::add(wide, one, two, false),
            Operation::AddCarry => alu::add(wide, one, two, self.carry()),
            Operation::Subtract | Operation::Compare => alu::subtract(wide, one, two, false),
            Operation::SubtractBorrow => alu::subtract(wide, one, two, self.carry()),
            Operation::Or => logic(one | two),
            Operation::Xor => logic(one ^ two),
            _ => logic(one & two),
        };
        if !matches!(operation, Operation::Compare | Operation::Test) {
            self.put(destination, result)?;
        }
        self.processor.registers.put_masked(flag::STATUS, flags);
        Ok(())
    }

    #[inline]
    pub(super) fn unary(&mut self) -> Done {
        let (wide, destination) = (self.instruction.wide, self.instruction.destination);
        let value = self.get(destination)?;
        let keeping_carry = flag::STATUS & !flag::CARRY;
        let ((result, flags), changed) = match self.instruction.operation {
            Operation::Increment => (alu::add(wide, value, 1, false), keeping_carry),
            Operation::Decrement => (alu::subtract(wide, value, 1, false), keeping_carry),
            Operation::Negate => (alu::subtract(wide, 0, value, false), flag::STATUS),
            _ => ((!value & mask(wide), 0), 0),
        };
        self.put(destination, result)?;
        self.processor.registers.put_masked(changed, flags);
        Ok(())
    }

    // ---- shifts -----------------------------------------------------------------

    /// Bits to shift by: the 80286 counts modulo 32, the 8086 all of CL
    /// (iAPX 286 Programmer's Reference, differences from the 8086).
    pub(super) fn shift_count(&self) -> u8 {
        let count = match self.instruction.source {
            Operand::Byte(register) => self.byte(register),
            Operand::Immediate(count) => count as u8,
            _ => 1,
        };
        if self.processor.model.is_80286() { count & 31 } else { count }
    }

    pub(super) fn shift(&mut self) -> Done {
        let (wide, destination) = (self.instruction.wide, self.instruction.destination);
        let value = self.get(destination)?;
        let count = self.shift_count();
        if count == 0 {
            return self.put(destination, value);
        }
        let (kind, changed) = match self.instruction.operation {
            Operation::RotateLeft => (Shift::RotateLeft, ROTATED),
            Operation::RotateRight => (Shift::RotateRight, ROTATED),
            Operation::RotateCarryLeft => (Shift::RotateCarryLeft, ROTATED),
            Operation::RotateCarryRight => (Shift::RotateCarryRight, ROTATED),
            Operation::ShiftLeft => (Shift::Left, flag::STATUS),
            Operation::ShiftRight => (Shift::Right, flag::STATUS),
            _ => (Shift::Arithmetic, flag::STATUS),
        };
        let (result, flags) = alu::shift(kind, wide, value, count, self.carry());
        self.put(destination, result)?;
        self.processor.registers.put_masked(changed, flags);
        Ok(())
    }

    // ---- products -----------------------------------------------------------------

    fn set_product(&mut self, product: u32, upper_counts: bool) {
        self.set_word(Word::Ax, product as u16);
        if self.instruction.wide {
            self.set_word(Word::Dx, (product >> 16) as u16);
        }
        self.processor.registers.put(ROTATED, upper_counts);
    }

    pub(super) fn multiply(&mut self) -> Done {
        let factor = self.get(self.instruction.destination)?;
        let product = u32::from(self.accumulator()) * u32::from(factor);
        self.set_product(product, product > u32::from(mask(self.instruction.wide)));
        Ok(())
    }

    pub(super) fn multiply_signed(&mut self) -> Done {
        let wide = self.instruction.wide;
        let factor = signed(wide, self.get(self.instruction.destination)?);
        let product = signed(wide, self.accumulator()) * factor;
        self.set_product(product as u32, product != signed(wide, product as u16));
        Ok(())
    }

    pub(super) fn multiply_into(&mut self) -> Done {
        let factor = signed(true, self.get(self.instruction.source)?);
        let product = factor * signed(true, self.instruction.immediate);
        self.put(self.instruction.destination, product as u16)?;
        self.processor.registers.put(ROTATED, product != signed(true, product as u16));
        Ok(())
    }

    // ---- quotients -----------------------------------------------------------------

    fn dividend(&self) -> u32 {
        let low = u32::from(self.word(Word::Ax));
        match self.instruction.wide {
            true => low | u32::from(self.word(Word::Dx)) << 16,
            false => low,
        }
    }

    fn set_quotient(&mut self, quotient: u16, remainder: u16) {
        match self.instruction.wide {
            true => {
                self.set_word(Word::Ax, quotient);
                self.set_word(Word::Dx, remainder);
            }
            false => self.set_word(Word::Ax, u16::from_le_bytes([quotient as u8, remainder as u8])),
        }
    }

    pub(super) fn divide(&mut self) -> Done {
        let divisor = u32::from(self.get(self.instruction.destination)?);
        let dividend = self.dividend();
        let quotient = dividend.checked_div(divisor).filter(|found| *found <= u32::from(mask(self.instruction.wide)));
        let quotient = quotient.ok_or(Fault::Interrupt(vector::DIVIDE_ERROR))?;
        self.set_quotient(quotient as u16, (dividend % divisor) as u16);
        Ok(())
    }

    /// The most negative quotient is an error on the 8086 and none on the 80286
    /// (The 8086 Family User's Manual, IDIV; iAPX 286 Programmer's Reference,
    /// differences from the 8086).
    pub(super) fn divide_signed(&mut self) -> Done {
        let wide = self.instruction.wide;
        let divisor = i64::from(signed(wide, self.get(self.instruction.destination)?));
        let dividend = match wide {
            true => i64::from(self.dividend() as i32),
            false => i64::from(self.dividend() as u16 as i16),
        };
        let most = i64::from(mask(wide) >> 1);
        let least = if self.processor.model.is_80286() { -most - 1 } else { -most };
        let quotient = dividend.checked_div(divisor).filter(|found| (least..=most).contains(found));
        let quotient = quotient.ok_or(Fault::Interrupt(vector::DIVIDE_ERROR))?;
        self.set_quotient(quotient as u16, (dividend % divisor) as u16);
        Ok(())
    }

    pub(super) fn extend(&mut self) -> Done {
        match self.instruction.operation {
            Operation::ByteToWord => self.set_word(Word::Ax, i16::from(self.byte(Byte::Al) as i8) as u16),
            _ => self.set_word(Word::Dx, when(self.word(Word::Ax) & 0x8000 != 0, 0xFFFF)),
        }
        Ok(())
    }
}

/// A byte or word as a signed number.
fn signed(wide: bool, value: u16) -> i32 {
    match wide {
        true => i32::from(value as i16),
        false => i32::from(value as u8 as i8),
    }
}
