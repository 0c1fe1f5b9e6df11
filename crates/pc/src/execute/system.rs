//! Flags one by one, and what real mode has of the 80286's own state.

use super::{Done, Execution};
use crate::bus::Bus;
use crate::instruction::{Operand, Operation};
use crate::processor::Fault;
use crate::processor::{Step, Table};
use crate::registers::{Far, flag};

/// Machine status: bits that can be set, and how the others read
/// (iAPX 286 Programmer's Reference, machine status word).
const STATUS_BITS: u16 = 0x000F;
const STATUS_FIXED: u16 = 0xFFF0;
const PROTECTION: u16 = 0x0001;
const TASK_SWITCHED: u16 = 0x0008;

impl<B: Bus> Execution<'_, B> {
    pub(super) fn flag_bit(&mut self) -> Done {
        let registers = &mut self.processor.registers;
        match self.instruction.operation {
            Operation::Clc => registers.put(flag::CARRY, false),
            Operation::Stc => registers.put(flag::CARRY, true),
            Operation::Cmc => registers.put(flag::CARRY, !registers.has(flag::CARRY)),
            Operation::Cld => registers.put(flag::DIRECTION, false),
            Operation::Std => registers.put(flag::DIRECTION, true),
            Operation::Cli => registers.put(flag::INTERRUPT, false),
            _ => {
                // Interrupts wait for one more instruction (The 8086 Family User's Manual, STI).
                self.processor.shadow = !registers.has(flag::INTERRUPT);
                registers.put(flag::INTERRUPT, true);
            }
        }
        Ok(())
    }

    /// Without a coprocessor only the operand's bus cycle remains
    /// (The 8086 Family User's Manual, ESC).
    pub(super) fn esc(&mut self) -> Done {
        match self.instruction.source {
            Operand::Memory => {
                self.read(self.place(), true)?;
                self.work(2);
                Ok(())
            }
            _ => Ok(()),
        }
    }

    fn table(&mut self) -> &mut Table {
        match self.instruction.operation {
            Operation::Sgdt | Operation::Lgdt => &mut self.processor.global_table,
            _ => &mut self.processor.interrupt_table,
        }
    }

    fn table_words(&self) -> [Far; 3] {
        let at = self.place();
        [0, 2, 4].map(|more| at.plus(more))
    }

    pub(super) fn store_table(&mut self) -> Done {
        let Table { base, limit } = *self.table();
        let words = [limit, base as u16, (base >> 16) as u16 | 0xFF00];
        self.table_words().into_iter().zip(words).try_for_each(|(at, word)| self.write(at, true, word))
    }

    pub(super) fn load_table(&mut self) -> Done {
        let [limit, low, high] = self.table_words();
        let limit = self.read(limit, true)?;
        let low = u32::from(self.read(low, true)?);
        let high = u32::from(self.read(high, true)? & 0xFF);
        *self.table() = Table { base: low | high << 16, limit };
        Ok(())
    }

    pub(super) fn smsw(&mut self) -> Done {
        self.put(self.instruction.destination, self.processor.status | STATUS_FIXED)
    }

    pub(super) fn lmsw(&mut self) -> Result<Step, Fault> {
        let value = self.get(self.instruction.destination)?;
        self.processor.status = value & STATUS_BITS;
        Ok(if value & PROTECTION != 0 { Step::Protected } else { Step::Done })
    }

    pub(super) fn clts(&mut self) -> Done {
        self.processor.status &= !TASK_SWITCHED;
        Ok(())
    }
}
