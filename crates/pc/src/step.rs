//! One instruction after the other: fetched, decoded, executed, its clocks paid, interrupts taken.

use crate::bus::Bus;
use crate::clocks;
use crate::cost::Cost;
use crate::decode;
use crate::execute::Execution;
use crate::instruction::{Instruction, Operation};
use crate::processor::{Fault, Processor, Step, vector};
use crate::registers::{Far, Registers, flag};

/// Clocks of a hardware interrupt before the processor looks into its table: two acknowledging bus cycles and what
/// lies around them, as many as make the whole 61 clocks (The 8086 Family User's Manual, interrupt processing time).
const ACKNOWLEDGE: u64 = 13;

impl Processor {
    /// The instruction at an address, decoded.
    #[must_use]
    pub fn decode<B: Bus>(&self, bus: &B, at: Far) -> Instruction {
        if let Some(service) = bus.service(at.linear()) {
            return decode::service(service);
        }
        decode::decode(self.model, at.offset, |offset| bus.fetch(Far::new(at.segment, offset).linear()))
    }

    /// Executes the next instruction, or one repetition of a string instruction.
    pub fn step<B: Bus>(&mut self, bus: &mut B) -> Step {
        if self.halted {
            return Step::Halted;
        }
        let at = self.registers.next();
        let instruction = self.next_instruction(bus, at);
        match instruction.operation {
            Operation::Service => return Step::Service(instruction.immediate),
            Operation::Undefined | Operation::TooLong if !self.model.is_80286() => return Step::Undefined,
            _ => {}
        }
        self.shadow = false;
        (self.cycles, self.spent, self.jumped) = (0, 0, false);
        let first = self.repeating.take().is_none();
        if first && !self.sequenced {
            self.pay_fetch(bus, &instruction);
        }
        if first && self.sequenced && !self.unit.is_at(at) {
            // Something other than an instruction has led elsewhere.
            self.unit.flush(bus, self.clock, at);
        }
        let before = self.registers;
        let stepping = before.has(flag::TRAP);
        self.registers.ip = before.ip.wrapping_add(u16::from(instruction.length));
        let outcome = Execution { processor: self, bus, instruction: &instruction, start: before.ip, first }.run();
        let step = match outcome {
            Ok(step) => step,
            Err(Fault::Shutdown) => Step::Shutdown,
            Err(Fault::Interrupt(vector)) => self.fault(bus, before, vector),
        };
        self.finish(bus);
        self.halted = step == Step::Halted;
        if stepping && !self.shadow && outcome.is_ok() && !raises(instruction.operation) {
            return self.raise(bus, vector::SINGLE_STEP, clocks::of_exception(self.model));
        }
        if self.halted { Step::Done } else { step }
    }

    /// Takes a hardware interrupt.
    pub fn interrupt<B: Bus>(&mut self, bus: &mut B, vector: u8) -> Step {
        self.halted = false;
        // The 8086 comes back to the last prefix only (The 8086 Family User's Manual, REP).
        if let Some(prefixes) = self.repeating.take()
            && !self.model.is_80286()
        {
            self.registers.ip = self.registers.ip.wrapping_add(u16::from(prefixes.saturating_sub(1)));
        }
        if self.sequenced {
            self.clock += ACKNOWLEDGE;
        }
        self.raise(bus, vector, clocks::of_interrupt(self.model))
    }

    fn next_instruction<B: Bus>(&mut self, bus: &B, at: Far) -> Instruction {
        let address = at.linear();
        if let Some(kept) = self.cache.get(address) {
            return *kept;
        }
        let instruction = self.decode(bus, at);
        let whole = at.offset.checked_add(u16::from(instruction.length)).is_some();
        if whole && instruction.operation != Operation::Service {
            self.cache.keep(address, instruction);
        }
        instruction
    }

    fn pay_fetch<B: Bus>(&mut self, bus: &mut B, instruction: &Instruction) {
        let mut clocks = self.prefetch.take(instruction.length);
        if self.target_due {
            clocks += u32::from(instruction.length);
            self.target_due = false;
        }
        if clocks > 0 {
            bus.elapse(clocks);
            self.skip(clocks);
        }
    }

    fn finish<B: Bus>(&mut self, bus: &mut B) {
        if self.sequenced {
            return self.meet(bus);
        }
        if self.jumped {
            self.prefetch.jump();
        } else {
            self.prefetch.fill(self.spent, self.cycles);
        }
    }

    /// An instruction could not be completed. The 80286 comes back to it, the
    /// 8086 to the next one; there, only division fails (The 8086 Family
    /// User's Manual, interrupts; iAPX 286 Programmer's Reference, interrupt 0).
    fn fault<B: Bus>(&mut self, bus: &mut B, before: Registers, vector: u8) -> Step {
        if self.model.is_80286() {
            self.registers = before;
        }
        self.raise(bus, vector, clocks::of_exception(self.model))
    }

    fn raise<B: Bus>(&mut self, bus: &mut B, vector: u8, cost: Cost) -> Step {
        let instruction = decode::service(0);
        let start = self.registers.ip;
        let mut execution = Execution { processor: self, bus, instruction: &instruction, start, first: true };
        execution.charge(cost);
        let step = match execution.enter(vector) {
            Ok(()) => Step::Done,
            Err(_) => Step::Shutdown,
        };
        self.finish(bus);
        step
    }
}

/// Whether an instruction goes to an interrupt by itself, which clears the
/// trap flag before it would act.
fn raises(operation: Operation) -> bool {
    use Operation::{Int, Int3, Into};
    matches!(operation, Int | Int3 | Into)
}
