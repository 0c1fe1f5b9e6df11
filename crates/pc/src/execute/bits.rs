//! Single bits, and shifts over two operands: what the 80386 added.

use super::{Done, Execution};
use crate::alu;
use crate::bus::Bus;
use crate::instruction::{Operand, Operation};
use crate::registers::{Byte, flag};

impl<B: Bus> Execution<'_, B> {
    /// SHLD, SHRD: nothing happens for a count of 0 (80386 Programmer's Reference Manual).
    pub(super) fn double_shift(&mut self) -> Done {
        let destination = self.instruction.destination;
        let value = self.get(destination)?;
        let filler = self.get(self.instruction.source)?;
        let counted = self.instruction.second == 1;
        let count = if counted { self.byte(Byte::Cl) } else { self.instruction.immediate as u8 } & 31;
        if count == 0 {
            return Ok(());
        }
        let left = self.instruction.operation == Operation::Shld;
        let (result, flags) = alu::shift_double(left, self.instruction.size, value, filler, count);
        self.put(destination, result)?;
        self.processor.registers.put_masked(flag::STATUS, flags);
        Ok(())
    }

    /// BT, BTS, BTR, BTC: the number of the bit may lead beyond the operand in memory where a register holds it
    /// (80386 Programmer's Reference Manual, BT).
    pub(super) fn bit(&mut self) -> Done {
        let size = self.instruction.size;
        let number = self.get(self.instruction.source)?;
        let bit = 1 << (number & (size.bits() - 1));
        let beyond = self.instruction.destination == Operand::Memory && self.instruction.source != Operand::Immediate;
        let segment = self.instruction.memory.segment;
        let at = if beyond {
            let steps = (size.signed(number) >> size.bits().trailing_zeros()) as u32;
            let offset = self.offset().wrapping_add(steps.wrapping_mul(u32::from(size.bytes())));
            Some(self.at(segment, if self.instruction.wide_address { offset } else { offset & 0xFFFF })?)
        } else {
            None
        };
        let value = match at {
            Some(at) => self.read(segment, at, size)?,
            None => self.get(self.instruction.destination)?,
        };
        let changed = match self.instruction.operation {
            Operation::Bts => value | bit,
            Operation::Btr => value & !bit,
            Operation::Btc => value ^ bit,
            _ => value,
        };
        if self.instruction.operation != Operation::Bt {
            match at {
                Some(at) => self.write(segment, at, size, changed)?,
                None => self.put(self.instruction.destination, changed)?,
            }
        }
        self.processor.registers.put(flag::CARRY, value & bit != 0);
        Ok(())
    }

    /// BSF, BSR: the register stays as it is where no bit is set (80386 Programmer's Reference Manual leaves it undefined).
    pub(super) fn scan(&mut self) -> Done {
        let size = self.instruction.size;
        let value = self.get(self.instruction.source)?;
        self.processor.registers.put(flag::ZERO, value == 0);
        let forward = self.instruction.operation == Operation::Bsf;
        let passed = match (value, forward) {
            (0, _) => size.bits(),
            (_, true) => value.trailing_zeros(),
            (_, false) => value.leading_zeros() - (32 - size.bits()),
        };
        self.charge_scanned(passed);
        if value == 0 {
            return Ok(());
        }
        let number = if forward { passed } else { size.bits() - 1 - passed };
        self.put(self.instruction.destination, number)
    }

    /// SETcc.
    pub(super) fn set_condition(&mut self) -> Done {
        let holds = self.condition(self.instruction.second);
        self.put(self.instruction.destination, u32::from(holds))
    }
}
