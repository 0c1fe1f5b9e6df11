//! Arithmetic, logic, shifts, products and quotients.

use super::{Done, Execution};
use crate::alu::{self, ShiftOperation, of_result};
use crate::bus::Bus;
use crate::instruction::{Operand, Operation};
use crate::processor::Fault;
use crate::processor::vector;
use crate::registers::{Byte, Word, flag};
use crate::size::Size;
use backporch_processor_timing::Model;

/// Flags a rotate changes.
const ROTATED: u16 = flag::CARRY | flag::OVERFLOW;

impl<B: Bus> Execution<'_, B> {
    fn carry(&self) -> bool {
        self.processor.registers.has(flag::CARRY)
    }

    #[inline]
    pub(super) fn binary(&mut self) -> Done {
        let size = self.instruction.size;
        let (destination, operation) = (self.instruction.destination, self.instruction.operation);
        let source = self.instruction.source;
        let stores = !matches!(operation, Operation::Cmp | Operation::Test);
        let one = self.get(destination)?;
        match (destination, source) {
            (Operand::Memory, Operand::Immediate) => {
                self.work(2);
                self.take_immediate();
                self.work(if stores { 3 } else { 1 });
            }
            (_, Operand::Immediate) => {
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
        let logic = |result: u32| (result, of_result(size, result));
        let (result, flags) = match operation {
            Operation::Add => alu::add(size, one, two, false),
            Operation::Adc => alu::add(size, one, two, self.carry()),
            Operation::Sub | Operation::Cmp => alu::subtract(size, one, two, false),
            Operation::Sbb => alu::subtract(size, one, two, self.carry()),
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
        let (size, destination) = (self.instruction.size, self.instruction.destination);
        let value = self.get(destination)?;
        self.work(if destination == Operand::Memory { 5 } else { u32::from(self.instruction.modrm) });
        let keeping_carry = flag::STATUS & !flag::CARRY;
        let ((result, flags), changed) = match self.instruction.operation {
            Operation::Inc => (alu::add(size, value, 1, false), keeping_carry),
            Operation::Dec => (alu::subtract(size, value, 1, false), keeping_carry),
            Operation::Neg => (alu::subtract(size, 0, value, false), flag::STATUS),
            _ => ((!value & size.mask(), 0), 0),
        };
        self.put(destination, result)?;
        self.processor.registers.put_masked(changed, flags);
        Ok(())
    }

    // ---- shifts -----------------------------------------------------------------

    /// Bits to shift by: the 80186 and later count modulo 32, the 8086 all of CL
    /// (iAPX 286 Programmer's Reference, differences from the 8086).
    pub(super) fn shift_count(&self) -> u8 {
        let count = match self.instruction.source {
            Operand::Byte(register) => self.byte(register),
            Operand::Immediate => self.instruction.immediate as u8,
            _ => 1,
        };
        if self.processor.model.is_from(Model::P80186) { count & 31 } else { count }
    }

    pub(super) fn shift(&mut self) -> Done {
        let (size, destination) = (self.instruction.size, self.instruction.destination);
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
            if self.processor.model.is_from(Model::P80186) {
                return Ok(());
            }
            return self.put(destination, value);
        }
        let (kind, changed) = match self.instruction.operation {
            Operation::Rol => (ShiftOperation::Rol, ROTATED),
            Operation::Ror => (ShiftOperation::Ror, ROTATED),
            Operation::Rcl => (ShiftOperation::Rcl, ROTATED),
            Operation::Rcr => (ShiftOperation::Rcr, ROTATED),
            Operation::Shl => (ShiftOperation::Shl, flag::STATUS),
            Operation::Shr => (ShiftOperation::Shr, flag::STATUS),
            _ => (ShiftOperation::Sar, flag::STATUS),
        };
        let (result, flags) = alu::shift(kind, size, value, count, self.carry());
        self.put(destination, result)?;
        self.processor.registers.put_masked(changed, flags);
        Ok(())
    }

    /// One figure for bytes, one for words.
    fn by_width(&self, byte: u32, word: u32) -> u32 {
        if self.instruction.size == Size::Byte { byte } else { word }
    }

    /// An operand that came from memory costs a product or quotient a clock.
    fn memory_operand_clock(&self) -> u32 {
        u32::from(self.instruction.has_memory())
    }

    // ---- products -----------------------------------------------------------------

    fn set_product(&mut self, product: u64, upper_counts: bool) {
        let upper = product >> self.instruction.size.bits();
        match self.instruction.size {
            Size::Byte => self.set_word(Word::Ax, product as u16),
            _ => {
                self.set_sized(Word::Ax, product as u32);
                self.set_sized(Word::Dx, upper as u32);
            }
        }
        self.processor.registers.put(ROTATED, upper_counts);
    }

    pub(super) fn mul(&mut self) -> Done {
        let factor = self.get(self.instruction.destination)?;
        self.charge_multiplier(u64::from(factor));
        let product = u64::from(self.accumulator()) * u64::from(factor);
        let upper_counts = product > u64::from(self.instruction.size.mask());
        self.work(
            self.memory_operand_clock()
                + self.by_width(67, 115)
                + self.accumulator().count_ones()
                + u32::from(!upper_counts),
        );
        self.set_product(product, upper_counts);
        Ok(())
    }

    pub(super) fn imul(&mut self) -> Done {
        let size = self.instruction.size;
        let factor = size.signed(self.get(self.instruction.destination)?);
        self.charge_multiplier(factor.unsigned_abs());
        let other = size.signed(self.accumulator());
        let product = other * factor;
        let signs = match (other < 0, factor < 0) {
            (false, false) => 0,
            (true, true) => 1,
            (false, true) => 11,
            (true, false) => 14,
        };
        let fits = product == size.signed(product as u32);
        let bits = other.unsigned_abs().count_ones();
        self.work(self.memory_operand_clock() + self.by_width(77, 125) + signs + bits + u32::from(fits));
        // What lies above the product's two halves is nothing but its sign.
        self.set_product(product as u64, !fits);
        Ok(())
    }

    /// The multiplier is the operand that may lie in memory, or the immediate one where there is that.
    pub(super) fn imul_register(&mut self) -> Done {
        let size = self.instruction.size;
        let source = size.signed(self.get(self.instruction.source)?);
        let (one, multiplier) = match self.instruction.operation {
            Operation::ImulImmediate => (source, size.signed(self.instruction.immediate)),
            _ => (size.signed(self.get(self.instruction.destination)?), source),
        };
        self.charge_multiplier(multiplier.unsigned_abs());
        let product = one * multiplier;
        self.put(self.instruction.destination, product as u32 & size.mask())?;
        self.processor.registers.put(ROTATED, product != size.signed(product as u32));
        Ok(())
    }

    // ---- quotients -----------------------------------------------------------------

    fn dividend(&self) -> u64 {
        match self.instruction.size {
            Size::Byte => u64::from(self.word(Word::Ax)),
            size => u64::from(self.sized(Word::Dx)) << size.bits() | u64::from(self.sized(Word::Ax)),
        }
    }

    fn set_quotient(&mut self, quotient: u32, remainder: u32) {
        match self.instruction.size {
            Size::Byte => self.set_word(Word::Ax, u16::from_le_bytes([quotient as u8, remainder as u8])),
            _ => {
                self.set_sized(Word::Ax, quotient);
                self.set_sized(Word::Dx, remainder);
            }
        }
    }

    pub(super) fn div(&mut self) -> Done {
        let divisor = u64::from(self.get(self.instruction.destination)?);
        let dividend = self.dividend();
        let most = u64::from(self.instruction.size.mask());
        let Some(quotient) = dividend.checked_div(divisor).filter(|found| *found <= most) else {
            self.work(12 + self.memory_operand_clock());
            return Err(Fault::Interrupt(vector::DIVIDE_ERROR));
        };
        if self.processor.sequenced {
            let steps = division_clocks(dividend as u32, divisor as u32, self.by_width(8, 16));
            self.work(self.memory_operand_clock() + self.by_width(78, 142) + steps);
        }
        self.set_quotient(quotient as u32, (dividend % divisor) as u32);
        Ok(())
    }

    /// The most negative quotient is an error on the 8086 and none on later
    /// processors (The 8086 Family User's Manual, IDIV; iAPX 286 Programmer's
    /// Reference, differences from the 8086).
    pub(super) fn idiv(&mut self) -> Done {
        let size = self.instruction.size;
        let divisor = size.signed(self.get(self.instruction.destination)?);
        let unused = 64 - 2 * size.bits();
        let dividend = (self.dividend() << unused) as i64 >> unused;
        let most = i64::from(size.mask() >> 1);
        let least = if self.processor.model.is_from(Model::P80186) { -most - 1 } else { -most };
        let quotient = dividend.checked_div(divisor).filter(|found| (least..=most).contains(found));
        if self.processor.sequenced {
            self.work_signed_division(dividend, divisor, quotient.is_some());
        }
        let Some(quotient) = quotient else {
            return Err(Fault::Interrupt(vector::DIVIDE_ERROR));
        };
        self.set_quotient(quotient as u32, (dividend % divisor) as u32);
        Ok(())
    }

    /// Clocks of a signed division of the 8086, be it one that fails.
    fn work_signed_division(&mut self, dividend: i64, divisor: i64, fits: bool) {
        let (magnitude, by) = (dividend.unsigned_abs() as u32, divisor.unsigned_abs() as u32);
        let bits = self.by_width(8, 16);
        let signs = if dividend < 0 { 4 } else { 0 } + u32::from(divisor >= 0);
        let memory = self.memory_operand_clock();
        if magnitude >> bits >= by {
            return self.work(21 + signs + memory);
        }
        let around = if fits { self.by_width(98, 162) } else { self.by_width(92, 156) };
        self.work(memory + around + signs + division_clocks(magnitude, by, bits));
    }

    /// CBW and CWD, CWDE and CDQ.
    pub(super) fn extend(&mut self) -> Done {
        if self.instruction.operation == Operation::Cwd {
            self.work(3 + u32::from(self.word(Word::Ax) & 0x8000 != 0));
        }
        let size = self.instruction.size;
        match (self.instruction.operation, size) {
            (Operation::Cbw, Size::Double) => {
                self.set_sized(Word::Ax, Size::Word.signed(self.word(Word::Ax).into()) as u32)
            }
            (Operation::Cbw, _) => self.set_word(Word::Ax, i16::from(self.byte(Byte::Al) as i8) as u16),
            _ => self.set_sized(Word::Dx, if self.sized(Word::Ax) & size.top() != 0 { size.mask() } else { 0 }),
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
