//! The processor: its registers and everything else it remembers.

use crate::bus::Bus;
use crate::bus_unit::BusUnit;
use crate::cache::Cache;
use crate::pipeline::Pipeline;
use crate::registers::{CpuRegisters, Far, SegmentRegister, Word, flag};
use crate::stack_watch::{Overrun, StackPlace, StackWatch};
use backporch_processor_timing::Model;

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
    /// An instruction for a coprocessor that the status word says is not there (80286).
    pub const NO_COPROCESSOR: u8 = 7;
    /// Interrupt beyond the table's limit (80286).
    pub const TABLE_LIMIT: u8 = 8;
    /// An operand in the stack segment that reaches beyond its end (80386).
    pub const STACK_OVERRUN: u8 = 12;
    /// An operand that reaches beyond its segment's end, or an instruction too long (80286); a jump to beyond it (80386).
    pub const SEGMENT_OVERRUN: u8 = 13;
}

/// What a step came to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum StepResult {
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
pub struct DescriptorTable {
    /// 24-bit address.
    pub base: u32,
    /// Offset of the last byte.
    pub limit: u16,
}

/// Registers of the 80386 that real mode keeps and nothing looks at.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(crate) struct Kept {
    pub control: [u32; 8],
    pub debug: [u32; 8],
    pub test: [u32; 8],
}

/// Why an instruction was not completed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Fault {
    /// The processor interrupts itself.
    Interrupt(u8),
    /// It shuts down.
    Shutdown,
}

/// Most bytes a processor has fetched ahead: its queue and an instruction being decoded.
const MOST_FETCHED: u32 = 32;

/// A processor.
#[derive(Clone, Debug)]
pub struct Processor {
    /// Its registers.
    pub registers: CpuRegisters,
    pub(crate) model: Model,
    pub(crate) global_table: DescriptorTable,
    pub(crate) interrupt_table: DescriptorTable,
    /// Machine status word (80286), and what else the first control register has (80386).
    pub(crate) status: u32,
    /// What was written to the other control registers, the debug and the test registers: nothing of it acts in real mode.
    pub(crate) kept: Kept,
    pub(crate) cache: Cache,
    /// Bytes as they were fetched, of memory written since: address and value.
    pub(crate) fetched: Vec<(u32, u8)>,
    /// Units ahead of execution, of an 80286.
    pub(crate) pipeline: Pipeline,
    /// Whether the published tables alone count.
    pub(crate) published: bool,
    /// Whether the instruction under way writes before its clocks are over.
    pub(crate) writes_within: bool,
    /// Clock in which the instruction under way asks for its next read.
    pub(crate) read_at: u64,
    /// Queue and bus, where instructions are sequences of steps.
    pub(crate) unit: BusUnit,
    pub(crate) sequenced: bool,
    /// Clocks since the start, as far as the execution unit has come.
    pub(crate) clock: u64,
    /// As many of them have elapsed for the bus.
    met: u64,
    /// Whether interrupts wait for one more instruction.
    pub(crate) shadow: bool,
    /// Whether a jump was taken whose target's bytes are still to be paid for.
    pub(crate) target_due: bool,
    pub(crate) jumped: bool,
    /// Prefixes of the string instruction under way, where it is between two repetitions.
    pub(crate) repeating: Option<u8>,
    pub(crate) halted: bool,
    /// The instruction under way.
    pub(crate) at: Far,
    /// What looks after a program's stack.
    pub(crate) stack_watch: Option<Box<StackWatch>>,
}

impl Processor {
    /// A processor after reset.
    ///
    /// Reset clears the flags and starts at FFFF0h (The 8086 Family User's Manual).
    #[must_use]
    pub fn new(model: Model) -> Self {
        let mut registers = CpuRegisters::default();
        registers.go_to(Far::new(0xFFFF, 0));
        Self {
            registers,
            model,
            global_table: DescriptorTable { base: 0, limit: 0xFFFF },
            interrupt_table: DescriptorTable { base: 0, limit: 0x03FF },
            status: 0,
            kept: Kept::default(),
            cache: Cache::default(),
            fetched: Vec::new(),
            pipeline: Pipeline::new(model),
            published: false,
            writes_within: false,
            read_at: 0,
            unit: BusUnit::new(model),
            sequenced: !model.is_from(Model::P80186),
            clock: 0,
            met: 0,
            shadow: false,
            target_due: false,
            jumped: false,
            repeating: None,
            halted: false,
            at: Far::default(),
            stack_watch: None,
        }
    }

    /// The same by the published tables alone: no queue, no bus.
    #[must_use]
    pub fn by_tables(model: Model) -> Self {
        Self { published: true, sequenced: false, ..Self::new(model) }
    }

    /// A byte is about to be written: where it was fetched already, the old one is executed.
    #[inline]
    pub(crate) fn keep_fetched<B: Bus>(&mut self, bus: &B, address: u32) {
        let fetched_to = if self.sequenced { self.unit.next() } else { self.pipeline.next() };
        let head = self.registers.next().linear();
        let ahead = fetched_to.linear().wrapping_sub(head);
        if address.wrapping_sub(head) < ahead && ahead <= MOST_FETCHED && !self.published {
            self.fetched.push((address, self.fetched_byte(bus, address)));
        }
    }

    /// A byte of an instruction, as it was fetched.
    pub(crate) fn fetched_byte<B: Bus>(&self, bus: &B, address: u32) -> u8 {
        let kept = self.fetched.iter().find(|(kept, _)| *kept == address);
        kept.map_or_else(|| bus.fetch(address), |(_, byte)| *byte)
    }

    /// Lets the bus come as far as the execution unit.
    #[inline]
    pub(crate) fn meet<B: Bus>(&mut self, bus: &mut B) {
        if self.clock > self.met {
            bus.elapse((self.clock - self.met) as u32);
            self.met = self.clock;
        }
    }

    /// Starts counting at a clock, with this many bytes of the next instructions in the queue and the bus idle.
    pub fn start_at(&mut self, clock: u64, bytes: u8) {
        (self.clock, self.met) = (clock, clock);
        let next = self.registers.next();
        self.pipeline.flush(clock, next);
        self.unit.set(next.plus(u16::from(bytes)), bytes, self.clock);
    }

    /// Clocks of an instruction whose steps are not known.
    #[inline]
    pub(crate) fn pass<B: Bus>(&mut self, bus: &mut B, clocks: u32) {
        self.clock += u64::from(clocks);
        self.meet(bus);
    }

    /// Time has passed while the processor waited.
    pub(crate) fn wait_until(&mut self, clock: u64) {
        (self.clock, self.met) = (clock, clock);
    }

    /// Whether a repeated string instruction is under way.
    #[must_use]
    pub fn is_repeating(&self) -> bool {
        self.repeating.is_some()
    }

    /// Clocks since the start.
    #[must_use]
    pub fn clock(&self) -> u64 {
        self.clock
    }

    /// Which one it is.
    #[must_use]
    pub fn model(&self) -> Model {
        self.model
    }

    /// Watches a program's stack for overruns from now on.
    pub(crate) fn stack_watch(&mut self) -> &mut StackWatch {
        self.stack_watch.get_or_insert_with(|| Box::new(StackWatch::new()))
    }

    /// What the watched stack has overrun, with the instruction that pushed.
    #[inline]
    #[must_use]
    pub fn overran(&self) -> Option<(Far, Overrun)> {
        self.stack_watch.as_ref().and_then(|watch| watch.found())
    }

    /// Where the stack pointer stands.
    #[inline]
    pub(crate) fn stack_place(&self) -> StackPlace {
        StackPlace { segment: self.registers.segment(SegmentRegister::Ss), offset: self.registers.word(Word::Sp) }
    }

    /// Memory was written by something other than the processor.
    pub fn memory_changed(&mut self, addresses: impl IntoIterator<Item = u32>) {
        let place = self.stack_place();
        for address in addresses {
            self.cache.wrote(address);
            if let Some(watch) = &mut self.stack_watch {
                watch.write(place, address);
            }
        }
    }

    /// A program, or a part of one, was loaded.
    pub(crate) fn memory_loaded(&mut self, from: u32, bytes: &[u8]) {
        (from..).zip(bytes).for_each(|(address, _)| self.cache.wrote(address));
        if let Some(watch) = &mut self.stack_watch {
            watch.load(from, bytes);
        }
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

    /// Moves the stack pointer down by this many bytes, or not at all.
    #[inline]
    pub(crate) fn lower_stack(&mut self, bytes: u16) -> Result<u16, Fault> {
        let old = self.registers.word(Word::Sp);
        let lower = old.wrapping_sub(bytes);
        if old != 0 && lower > old && self.model.is_from(Model::P80286) {
            return Err(match self.model {
                Model::P80386 => Fault::Interrupt(vector::STACK_OVERRUN),
                _ => Fault::Shutdown,
            });
        }
        let place = self.stack_place();
        if let Some(watch) = &mut self.stack_watch {
            watch.push(self.at, place, bytes);
        }
        self.registers.set_word(Word::Sp, lower);
        Ok(lower)
    }
}
