//! The processor: fetches, decodes, executes, keeps the clocks, takes interrupts.

use crate::bus::Bus;
use crate::cache::Cache;
use crate::clocks::{self, Prefetch};
use crate::cost::Cost;
use crate::decode;
use crate::execute::{Execution, Fault};
use crate::instruction::{Instruction, Operation};
use crate::model::Model;
use crate::registers::{Far, Registers, Segment, Word, flag};

/// Interrupt numbers the processor raises itself (The 8086 Family User's
/// Manual, interrupts; iAPX 286 Programmer's Reference, real-address mode).
pub mod vector {
    /// Quotient does not fit.
    pub const DIVIDE_ERROR: u8 = 0;
    /// After each instruction while the trap flag is set.
    pub const SINGLE_STEP: u8 = 1;
    /// BOUND found its operand outside (80186).
    pub const BOUND: u8 = 5;
    /// No such instruction (80186).
    pub const UNDEFINED: u8 = 6;
    /// Interrupt beyond the table's limit (80286).
    pub const TABLE_LIMIT: u8 = 8;
    /// A word at offset FFFFh, or an instruction too long (80286).
    pub const SEGMENT_OVERRUN: u8 = 13;
}

/// What a step came to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Step {
    /// An instruction (or one repetition of a string) was executed.
    Done,
    /// The processor waits for an interrupt; no time has passed.
    Halted,
    /// A service stands where the next instruction would: the machine's turn.
    Service(u16),
    /// No instruction of this model, and the model has no interrupt for that.
    Undefined,
    /// Real mode would be left.
    Protected,
    /// The processor has shut down: no stack, or no interrupt table.
    Shutdown,
}

/// Where a descriptor table lies (80286).
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Table {
    /// 24-bit address.
    pub base: u32,
    /// Offset of the last byte.
    pub limit: u16,
}

/// Where a stack ends: pushing below is an overrun.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct StackEnd {
    /// Segment of the stack that is watched.
    pub segment: u16,
    /// Lowest offset that may be pushed to, at least 2.
    pub lowest: u16,
}

/// A processor.
#[derive(Clone, Debug)]
pub struct Processor {
    /// Its registers.
    pub registers: Registers,
    pub(crate) model: Model,
    pub(crate) global_table: Table,
    pub(crate) interrupt_table: Table,
    /// Machine status word (80286).
    pub(crate) status: u16,
    pub(crate) cache: Cache,
    pub(crate) prefetch: Prefetch,
    /// Whether interrupts wait for one more instruction.
    pub(crate) shadow: bool,
    /// Whether a jump was taken whose target's bytes are still to be paid for.
    pub(crate) target_due: bool,
    pub(crate) jumped: bool,
    /// Prefixes of the string instruction under way, where it is between two repetitions.
    pub(crate) repeating: Option<u8>,
    /// Bus cycles of the instruction under way.
    pub(crate) cycles: u32,
    /// Clocks of the instruction under way.
    pub(crate) spent: u32,
    halted: bool,
    stack_end: Option<StackEnd>,
    pub(crate) overran: bool,
}

impl Processor {
    /// A processor after reset, its queue approximated.
    ///
    /// Reset clears the flags and starts at FFFF0h (The 8086 Family User's Manual).
    #[must_use]
    pub fn new(model: Model) -> Self {
        let mut registers = Registers::default();
        registers.go_to(Far::new(0xFFFF, 0));
        Self {
            registers,
            model,
            global_table: Table { base: 0, limit: 0xFFFF },
            interrupt_table: Table { base: 0, limit: 0x03FF },
            status: 0,
            cache: Cache::default(),
            prefetch: Prefetch::new(model),
            shadow: false,
            target_due: false,
            jumped: false,
            repeating: None,
            cycles: 0,
            spent: 0,
            halted: false,
            stack_end: None,
            overran: false,
        }
    }

    /// The same without the approximated queue: the published tables alone.
    #[must_use]
    pub fn by_tables(model: Model) -> Self {
        Self { prefetch: Prefetch::ideal(model), ..Self::new(model) }
    }

    /// Which one it is.
    #[must_use]
    pub fn model(&self) -> Model {
        self.model
    }

    /// Watches a stack for overruns.
    pub fn watch_stack(&mut self, end: Option<StackEnd>) {
        self.stack_end = end;
    }

    /// Whether the watched stack has overrun.
    #[inline]
    #[must_use]
    pub fn overran(&self) -> bool {
        self.overran
    }

    /// Memory was written by something other than the processor.
    pub fn memory_changed(&mut self, addresses: impl IntoIterator<Item = u32>) {
        addresses.into_iter().for_each(|address| self.cache.wrote(address));
    }

    /// Whether an interrupt would be taken before the next instruction.
    #[inline]
    #[must_use]
    pub fn takes_interrupts(&self) -> bool {
        self.registers.has(flag::INTERRUPT) && !self.shadow
    }

    /// Whether it waits for an interrupt.
    #[inline]
    #[must_use]
    pub fn is_halted(&self) -> bool {
        self.halted
    }

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
        if first {
            self.pay_fetch(bus, &instruction);
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
        self.finish();
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
        }
    }

    fn finish(&mut self) {
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
        match execution.enter(vector) {
            Ok(()) => Step::Done,
            Err(_) => Step::Shutdown,
        }
    }

    /// Moves the stack pointer down by a word, or not at all.
    #[inline]
    pub(crate) fn lower_stack(&mut self) -> Result<u16, Fault> {
        let old = self.registers.word(Word::Sp);
        if old == 1 && self.model.is_80286() {
            return Err(Fault::Shutdown);
        }
        let lower = old.wrapping_sub(2);
        if let Some(end) = self.stack_end
            && lower < end.lowest
            && self.registers.segment(Segment::Ss) == end.segment
        {
            self.overran = true;
        }
        self.registers.set_word(Word::Sp, lower);
        Ok(lower)
    }
}

/// Whether an instruction goes to an interrupt by itself, which clears the
/// trap flag before it would act.
fn raises(operation: Operation) -> bool {
    use Operation::{Interrupt, InterruptOverflow, InterruptThree};
    matches!(operation, Interrupt | InterruptThree | InterruptOverflow)
}
