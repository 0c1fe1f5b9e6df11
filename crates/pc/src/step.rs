//! One instruction after the other: fetched, decoded, executed, its clocks paid, interrupts taken.

use crate::bus::Bus;
use crate::clocks;
use crate::cost::ClockCost;
use crate::decode;
use crate::execute::Execution;
use crate::instruction::{Instruction, Operation};
use crate::processor::{Fault, Processor, StepResult, vector};
use crate::registers::{CpuRegisters, Far, flag};
use backporch_processor_timing::Model;

/// Clocks of a hardware interrupt before the processor looks into its table: two acknowledging bus cycles and what
/// lies around them, as many as make the whole 61 clocks (The 8086 Family User's Manual, interrupt processing time).
const ACKNOWLEDGE: u64 = 13;

/// Bytes behind an instruction's first that it, or the next ones, may have been fetched with.
const LONGEST_AHEAD: u32 = 32;

/// Bytes of the longest instruction without needless prefixes (The 8086 Family User's Manual: six, and one prefix).
const LONGEST_INSTRUCTION: u8 = 7;

/// Clocks an 80286 takes to notice an overrun, beyond an interrupt's (open data set: single-step tests of an 80286,
/// captured from hardware, 2025).
const OVERRUN: u32 = 6;

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
    pub fn step<B: Bus>(&mut self, bus: &mut B) -> StepResult {
        if self.halted {
            return StepResult::Halted;
        }
        let at = self.registers.next();
        self.at = at;
        let instruction = self.next_instruction(bus, at);
        if self.stack_watch.as_ref().is_some_and(|watch| watch.has_destroyed()) {
            self.look_at_stack(at, &instruction);
        }
        match instruction.operation {
            Operation::Service => return StepResult::Service(instruction.immediate as u16),
            Operation::Undefined if !self.model.is_from(Model::P80186) => return StepResult::Undefined,
            Operation::TooLong if !self.model.is_from(Model::P80286) => return StepResult::Undefined,
            _ => {}
        }
        self.shadow = false;
        self.jumped = false;
        let first = self.repeating.take().is_none();
        if first && !self.sequenced {
            self.pay_fetch(bus, at, &instruction);
        }
        if first && self.sequenced && !self.unit.is_at(at) {
            // Something other than an instruction has led elsewhere.
            self.fetched.clear();
            self.unit.flush(bus, self.clock, at);
        }
        if !self.sequenced {
            self.read_at = self.clock + clocks::to_read(self.model, &instruction, first);
            self.writes_within = clocks::writes_within(instruction.operation);
        }
        // Only where instructions may be come back to.
        let before = self.model.is_from(Model::P80186).then_some(self.registers);
        let start = self.registers.ip;
        let stepping = self.registers.has(flag::TRAP);
        self.registers.ip = start.wrapping_add(u16::from(instruction.length));
        let outcome = Execution { processor: self, bus, instruction: &instruction, start, first }.run();
        let step = match outcome {
            Ok(step) => step,
            Err(Fault::Shutdown) => StepResult::Shutdown,
            Err(Fault::Interrupt(vector)) => self.fault(bus, before, vector),
        };
        self.finish(bus);
        self.halted = step == StepResult::Halted;
        if stepping && !self.shadow && outcome.is_ok() && !raises(instruction.operation) {
            return self.raise(bus, vector::SINGLE_STEP, clocks::of_exception(self.model));
        }
        if self.halted { StepResult::Done } else { step }
    }

    /// Whether an instruction that is about to be executed still is what the program had there.
    #[cold]
    fn look_at_stack(&mut self, at: Far, instruction: &Instruction) {
        // What is no instruction any more may have been one of any length.
        let is_none = matches!(instruction.operation, Operation::Undefined | Operation::TooLong);
        let length = if is_none { LONGEST_INSTRUCTION } else { instruction.length };
        let place = self.stack_place();
        let fetched = &self.fetched;
        let addresses = (0..u16::from(length)).map(|byte| at.plus(byte).linear());
        // Bytes that were fetched before are executed as they were.
        let read = addresses.filter(|address| !fetched.iter().any(|(kept, _)| kept == address));
        if let Some(watch) = &mut self.stack_watch {
            watch.execute(at, place, read);
        }
    }

    /// Takes a hardware interrupt.
    pub fn interrupt<B: Bus>(&mut self, bus: &mut B, vector: u8) -> StepResult {
        self.halted = false;
        let place = self.stack_place();
        if let Some(watch) = &mut self.stack_watch {
            watch.interrupt(place);
        }
        // The 8086 comes back to the last prefix only (The 8086 Family User's Manual, REP).
        if let Some(prefixes) = self.repeating.take()
            && !self.model.is_from(Model::P80186)
        {
            self.registers.ip = self.registers.ip.wrapping_add(u16::from(prefixes.saturating_sub(1)));
        }
        if self.sequenced {
            self.clock += ACKNOWLEDGE;
        }
        self.raise(bus, vector, clocks::of_interrupt(self.model))
    }

    #[inline]
    fn next_instruction<B: Bus>(&mut self, bus: &B, at: Far) -> Instruction {
        if self.fetched.is_empty()
            && let Some(kept) = self.cache.get(at.linear())
        {
            return *kept;
        }
        self.decoded(bus, at)
    }

    #[cold]
    fn decoded<B: Bus>(&mut self, bus: &B, at: Far) -> Instruction {
        let address = at.linear();
        if !self.fetched.is_empty() {
            self.fetched.retain(|(kept, _)| kept.wrapping_sub(address) < LONGEST_AHEAD);
            return decode::decode(self.model, at.offset, |offset| {
                self.fetched_byte(bus, Far::new(at.segment, offset).linear())
            });
        }
        let instruction = self.decode(bus, at);
        let whole = at.offset.checked_add(u16::from(instruction.length)).is_some();
        let place = self.stack_place();
        if let Some(watch) = &mut self.stack_watch {
            watch.decode(place, address, instruction.length);
        }
        if whole && instruction.operation != Operation::Service {
            self.cache.keep(address, instruction);
        }
        instruction
    }

    /// Waits for the instruction's bytes, and gives the decoder the one behind it.
    fn pay_fetch<B: Bus>(&mut self, bus: &mut B, at: Far, instruction: &Instruction) {
        if self.published {
            if std::mem::take(&mut self.target_due) {
                let wide = self.model.is_from(Model::P80386);
                let parts = if wide { clocks::components(instruction) as u32 } else { u32::from(instruction.length) };
                self.pass(bus, parts);
            }
            return;
        }
        self.pipeline.begin(self.clock, at, instruction.length, clocks::decoding(self.model, instruction));
        let ready = self.pipeline.finish(bus);
        self.clock = self.clock.max(ready);
        self.meet(bus);
        let behind = at.plus(u16::from(instruction.length));
        if !instruction.operation.ends_decoding() {
            let next = self.next_instruction(bus, behind);
            self.pipeline.begin(self.clock, behind, next.length, clocks::decoding(self.model, &next));
        }
    }

    fn finish<B: Bus>(&mut self, bus: &mut B) {
        self.meet(bus);
    }

    /// An instruction could not be completed. The 80286 comes back to it, the
    /// 8086 to the next one; there, only division fails (The 8086 Family
    /// User's Manual, interrupts; iAPX 286 Programmer's Reference, interrupt 0).
    /// The 80186 divides as the 8086 does, and comes back to what it does not
    /// have (assumed).
    #[cold]
    fn fault<B: Bus>(&mut self, bus: &mut B, before: Option<CpuRegisters>, number: u8) -> StepResult {
        if let Some(before) = before
            && (self.model.is_from(Model::P80286) || number != vector::DIVIDE_ERROR)
        {
            self.registers = before;
            if number == vector::SEGMENT_OVERRUN && self.model == Model::P80286 && !self.published {
                self.pass(bus, OVERRUN);
            }
        }
        self.raise(bus, number, clocks::of_exception(self.model))
    }

    fn raise<B: Bus>(&mut self, bus: &mut B, vector: u8, cost: ClockCost) -> StepResult {
        let instruction = decode::service(0);
        let start = self.registers.ip;
        (self.read_at, self.writes_within) = (self.clock, true);
        let mut execution = Execution { processor: self, bus, instruction: &instruction, start, first: true };
        execution.charge(cost);
        let step = match execution.enter(vector) {
            Ok(()) => StepResult::Done,
            Err(_) => StepResult::Shutdown,
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
