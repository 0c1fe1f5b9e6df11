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
        let source = self.instruction.source;
        let stores = !matches!(operation, Operation::Cmp | Operation::Test);
        let one = self.get(destination)?;
        match (destination, source) {
            (Operand::Memory, Operand::Immediate(_)) => {
                self.work(2);
                self.take_immediate();
                self.work(if stores { 3 } else { 1 });
            }
            (_, Operand::Immediate(_)) => {
                self.work(u32::from(operation == Operation::Test && self.instruction.modrm));
                self.take_immediate();
            }
            (Operand::Memory, _) => self.work(if stores { 6 } else { 3 }),
            (_, Operand::Memory) => {}
            _ => self.work(1),
        }
        let two = self.get(source)?;
        if source == Operand::Memory {
            self.work(3);
        }
        let logic = |result: u16| (result, of_result(wide, result));
        let (result, flags) = match operation {
            Operation::Add => alu::add(wide, one, two, false),
            Operation::Adc => alu::add(wide, one, two, self.carry()),
            Operation::Sub | Operation::Cmp => alu::subtract(wide, one, two, false),
            Operation::Sbb => alu::subtract(wide, one, two, self.carry()),
            Operation::Or => logic(one | two),
            Operation::Xor => logic(one ^ two),
            _ => logic(one & two),
        };
        if stores {
            self.put(destination, result)?;
        }
        self.processor.registers.put_masked(flag::STATUS, flags);
        Ok(())
    }

    #[inline]
    pub(super) fn unary(&mut self) -> Done {
        let (wide, destination) = (self.instruction.wide, self.instruction.destination);
        let value = self.get(destination)?;
        self.work(if destination == Operand::Memory { 5 } else { u32::from(self.instruction.modrm) });
        let keeping_carry = flag::STATUS & !flag::CARRY;
        let ((result, flags), changed) = match self.instruction.operation {
            Operation::Inc => (alu::add(wide, value, 1, false), keeping_carry),
            Operation::Dec => (alu::subtract(wide, value, 1, false), keeping_carry),
            Operation::Neg => (alu::subtract(wide, 0, value, false), flag::STATUS),
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
        let by_register = matches!(self.instruction.source, Operand::Byte(_));
        let memory = destination == Operand::Memory;
        self.work(match (memory, by_register) {
            (true, true) => 10 + 4 * u32::from(count),
            (true, false) => 5,
            (false, true) => 6 + 4 * u32::from(count),
            (false, false) => 0,
        });
        if count == 0 {
            if self.processor.model.is_80286() {
                return Ok(());
            }
            return self.put(destination, value);
        }
        let (kind, changed) = match self.instruction.operation {
            Operation::Rol => (Shift::Rol, ROTATED),
            Operation::Ror => (Shift::Ror, ROTATED),
            Operation::Rcl => (Shift::Rcl, ROTATED),
            Operation::Rcr => (Shift::Rcr, ROTATED),
            Operation::Shl => (Shift::Shl, flag::STATUS),
            Operation::Shr => (Shift::Shr, flag::STATUS),
            _ => (Shift::Sar, flag::STATUS),
        };
        let (result, flags) = alu::shift(kind, wide, value, count, self.carry());
        self.put(destination, result)?;
        self.processor.registers.put_masked(changed, flags);
        Ok(())
    }

    /// One figure for bytes, one for words.
    fn by_width(&self, byte: u32, word: u32) -> u32 {
        if self.instruction.wide { word } else { byte }
    }

    /// An operand that came from memory costs a product or quotient a clock.
    fn memory_operand_clock(&self) -> u32 {
        u32::from(self.instruction.has_memory())
    }

    // ---- products -----------------------------------------------------------------

    fn set_product(&mut self, product: u32, upper_counts: bool) {
        self.set_word(Word::Ax, product as u16);
        if self.instruction.wide {
            self.set_word(Word::Dx, (product >> 16) as u16);
        }
        self.processor.registers.put(ROTATED, upper_counts);
    }

    pub(super) fn mul(&mut self) -> Done {
        let factor = self.get(self.instruction.destination)?;
        let product = u32::from(self.accumulator()) * u32::from(factor);
        let upper_empty = product <= u32::from(mask(self.instruction.wide));
        self.work(
            self.memory_operand_clock()
                + self.by_width(67, 115)
                + self.accumulator().count_ones()
                + u32::from(upper_empty),
        );
        self.set_product(product, product > u32::from(mask(self.instruction.wide)));
        Ok(())
    }

    pub(super) fn imul(&mut self) -> Done {
        let wide = self.instruction.wide;
        let factor = signed(wide, self.get(self.instruction.destination)?);
        let product = signed(wide, self.accumulator()) * factor;
        let signs = match (signed(wide, self.accumulator()) < 0, factor < 0) {
            (false, false) => 0,
            (true, true) => 1,
            (false, true) => 11,
            (true, false) => 14,
        };
        let fits = product == signed(wide, product as u16);
        let bits = signed(wide, self.accumulator()).unsigned_abs().count_ones();
        self.work(self.memory_operand_clock() + self.by_width(77, 125) + signs + bits + u32::from(fits));
        self.set_product(product as u32, product != signed(wide, product as u16));
        Ok(())
    }

    pub(super) fn imul_register(&mut self) -> Done {
        let factor = signed(true, self.get(self.instruction.source)?);
        let product = factor * signed(true, self.instruction.immediate);
        self.put(self.instruction.destination, product as u16)?;
        self.processor.registers.put(ROTATED, product != signed(true, product as u16));
        Ok(())
    }

    // ---- quotients -----------------------------------------------------------------

    fn dividend(&self) -> u32 {
        let low = u32::from(self.word(Word::Ax));
        if self.instruction.wide { low | u32::from(self.word(Word::Dx)) << 16 } else { low }
    }

    fn set_quotient(&mut self, quotient: u16, remainder: u16) {
        if self.instruction.wide {
            self.set_word(Word::Ax, quotient);
            self.set_word(Word::Dx, remainder);
        } else {
            self.set_word(Word::Ax, u16::from_le_bytes([quotient as u8, remainder as u8]))
        }
    }

    pub(super) fn div(&mut self) -> Done {
        let divisor = u32::from(self.get(self.instruction.destination)?);
        let dividend = self.dividend();
        let quotient = dividend.checked_div(divisor).filter(|found| *found <= u32::from(mask(self.instruction.wide)));
        let Some(quotient) = quotient else {
            self.work(12 + self.memory_operand_clock());
            return Err(Fault::Interrupt(vector::DIVIDE_ERROR));
        };
        let steps = division_clocks(dividend, divisor, self.by_width(8, 16));
        self.work(self.memory_operand_clock() + self.by_width(78, 142) + steps);
        self.set_quotient(quotient as u16, (dividend % divisor) as u16);
        Ok(())
    }

    /// The most negative quotient is an error on the 8086 and none on the 80286
    /// (The 8086 Family User's Manual, IDIV; iAPX 286 Programmer's Reference,
    /// differences from the 8086).
    pub(super) fn idiv(&mut self) -> Done {
        let wide = self.instruction.wide;
        let divisor = i64::from(signed(wide, self.get(self.instruction.destination)?));
        let dividend = if wide { i64::from(self.dividend() as i32) } else { i64::from(self.dividend() as u16 as i16) };
        let most = i64::from(mask(wide) >> 1);
        let least = if self.processor.model.is_80286() { -most - 1 } else { -most };
        let quotient = dividend.checked_div(divisor).filter(|found| (least..=most).contains(found));
        let (magnitude, by) = (dividend.unsigned_abs() as u32, divisor.unsigned_abs() as u32);
        let bits = self.by_width(8, 16);
        let signs = if dividend < 0 { 4 } else { 0 } + u32::from(divisor >= 0);
        if magnitude >> bits >= by {
            self.work(21 + signs + self.memory_operand_clock());
            return Err(Fault::Interrupt(vector::DIVIDE_ERROR));
        }
        let steps = signs + division_clocks(magnitude, by, bits);
        let Some(quotient) = quotient else {
            self.work(self.memory_operand_clock() + self.by_width(92, 156) + steps);
            return Err(Fault::Interrupt(vector::DIVIDE_ERROR));
        };
        self.work(self.memory_operand_clock() + self.by_width(98, 162) + steps);
        self.set_quotient(quotient as u16, (dividend % divisor) as u16);
        Ok(())
    }

    pub(super) fn extend(&mut self) -> Done {
        if self.instruction.operation == Operation::Cwd {
            self.work(3 + u32::from(self.word(Word::Ax) & 0x8000 != 0));
        }
        match self.instruction.operation {
            Operation::Cbw => self.set_word(Word::Ax, i16::from(self.byte(Byte::Al) as i8) as u16),
            _ => self.set_word(Word::Dx, when(self.word(Word::Ax) & 0x8000 != 0, 0xFFFF)),
        }
        Ok(())
    }
}

/// What a division takes beyond its fixed clocks. It goes bit by bit: a bit
/// that needs a comparison to be set costs one clock, a last bit that is set two
/// (derived from the captures named in `timing`).
pub(super) fn division_clocks(dividend: u32, divisor: u32, bits: u32) -> u32 {
    let (mut rest, mut clocks, mut last) = (u64::from(dividend), 0, false);
    let divisor = u64::from(divisor) << bits;
    for _ in 0..bits {
        let carry = rest >> (2 * bits - 1) & 1 != 0;
        rest <<= 1;
        last = rest >= divisor;
        if last {
            rest -= divisor;
            clocks += u32::from(!carry);
        }
    }
    clocks + 2 * u32::from(last)
}

/// A byte or word as a signed number.
fn signed(wide: bool, value: u16) -> i32 {
    if wide { i32::from(value as i16) } else { i32::from(value as u8 as i8) }
}
