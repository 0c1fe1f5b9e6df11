//! Flags one by one, and what real mode has of the 80286's own state.

use super::{Done, Execution};
use crate::bus::Bus;
use crate::instruction::{Operand, Operation};
use crate::processor::Fault;
use crate::processor::{DescriptorTable, StepResult, vector};
use crate::registers::{Far, flag};
use crate::size::Size;
use backporch_processor_timing::Model;

/// Machine status: bits that can be set, and how the others read on the 80286
/// (iAPX 286 Programmer's Reference, machine status word; 80386 Programmer's
/// Reference Manual, control registers).
const STATUS_BITS: u32 = 0x000F;
const STATUS_FIXED: u32 = 0xFFF0;
const PROTECTION: u32 = 0x0001;
const MONITOR: u32 = 0x0002;
const EMULATION: u32 = 0x0004;
const TASK_SWITCHED: u32 = 0x0008;
/// Paging, which needs protection.
const PAGING: u32 = 0x8000_0000;

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
    /// (The 8086 Family User's Manual, ESC), or an interrupt, where the status
    /// word asks for it (iAPX 286 Programmer's Reference, interrupt 7).
    pub(super) fn esc(&mut self) -> Done {
        if self.processor.status & (EMULATION | TASK_SWITCHED) != 0 {
            return Err(Fault::Interrupt(vector::NO_COPROCESSOR));
        }
        match self.instruction.source {
            Operand::Memory => {
                let at = self.place()?;
                self.read(self.instruction.memory.segment, at, Size::Word)?;
                self.work(2);
                Ok(())
            }
            _ => Ok(()),
        }
    }

    pub(super) fn wait(&mut self) -> Done {
        let both = MONITOR | TASK_SWITCHED;
        if self.processor.status & both == both {
            return Err(Fault::Interrupt(vector::NO_COPROCESSOR));
        }
        self.work(1);
        Ok(())
    }

    fn table(&mut self) -> &mut DescriptorTable {
        match self.instruction.operation {
            Operation::Sgdt | Operation::Lgdt => &mut self.processor.global_table,
            _ => &mut self.processor.interrupt_table,
        }
    }

    fn table_words(&self) -> Result<[Far; 3], Fault> {
        let at = self.place()?;
        Ok([0, 2, 4].map(|more| at.plus(more)))
    }

    /// The sixth byte is FFh on the 80286; the 80386 has 0 there for operands of 16 bits (80386 Programmer's Reference
    /// Manual, SGDT).
    pub(super) fn store_table(&mut self) -> Done {
        let DescriptorTable { base, limit } = *self.table();
        let upper = match (self.processor.model, self.instruction.size) {
            (Model::P80386, Size::Double) => base >> 16,
            (Model::P80386, _) => base >> 16 & 0xFF,
            _ => base >> 16 & 0xFF | 0xFF00,
        };
        let words = [u32::from(limit), base & 0xFFFF, upper];
        let segment = self.instruction.memory.segment;
        self.table_words()?.into_iter().zip(words).try_for_each(|(at, word)| self.write(segment, at, Size::Word, word))
    }

    pub(super) fn load_table(&mut self) -> Done {
        let segment = self.instruction.memory.segment;
        let [limit, low, high] = self.table_words()?;
        let limit = self.read(segment, limit, Size::Word)? as u16;
        let low = self.read(segment, low, Size::Word)?;
        let kept = if self.instruction.size == Size::Double { 0xFFFF } else { 0xFF };
        let high = self.read(segment, high, Size::Word)? & kept;
        *self.table() = DescriptorTable { base: low | high << 16, limit };
        Ok(())
    }

    pub(super) fn smsw(&mut self) -> Done {
        let fixed = if self.processor.model == Model::P80286 { STATUS_FIXED } else { 0 };
        self.put(self.instruction.destination, self.processor.status | fixed)
    }

    pub(super) fn lmsw(&mut self) -> Result<StepResult, Fault> {
        let value = self.get_sized(self.instruction.destination, Size::Word)?;
        self.set_status(self.processor.status & !STATUS_BITS | value & STATUS_BITS)
    }

    fn set_status(&mut self, value: u32) -> Result<StepResult, Fault> {
        if value & PAGING != 0 && value & PROTECTION == 0 {
            return Err(Fault::Interrupt(vector::SEGMENT_OVERRUN));
        }
        self.processor.status = value;
        Ok(if value & PROTECTION != 0 { StepResult::Protected } else { StepResult::Done })
    }

    pub(super) fn clts(&mut self) -> Done {
        self.processor.status &= !TASK_SWITCHED;
        Ok(())
    }

    // ---- registers of the 80386 -----------------------------------------------------

    pub(super) fn load_control(&mut self) -> Result<StepResult, Fault> {
        if self.instruction.second != 0 {
            return self.load_kept().map(|()| StepResult::Done);
        }
        let value = self.get(self.instruction.destination)?;
        self.set_status(value & (STATUS_BITS | PAGING))
    }

    fn kept(&mut self) -> &mut u32 {
        let number = usize::from(self.instruction.second & 7);
        let kept = &mut self.processor.kept;
        match self.instruction.operation {
            Operation::LoadControl | Operation::StoreControl if number == 0 => &mut self.processor.status,
            Operation::LoadControl | Operation::StoreControl => &mut kept.control[number],
            Operation::LoadDebug | Operation::StoreDebug => &mut kept.debug[number],
            _ => &mut kept.test[number],
        }
    }

    pub(super) fn load_kept(&mut self) -> Done {
        let value = self.get(self.instruction.destination)?;
        *self.kept() = value;
        Ok(())
    }

    pub(super) fn store_kept(&mut self) -> Done {
        let value = *self.kept();
        self.put(self.instruction.destination, value)
    }
}
