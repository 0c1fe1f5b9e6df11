//! Executes one decoded instruction.
//!
//! An [`Execution`] holds the processor, its bus and the instruction for as
//! long as it runs. This file has the ways to operands, memory, stack and
//! clocks, and the dispatch; the groups of instructions have a file each.

mod arithmetic;
mod control;
mod decimal;
mod string;
mod system;
mod timing;
mod transfer;

use crate::bus::{Bus, BusCycle, CycleKind};
use crate::clocks;
use crate::cost::Cost;
use crate::instruction::{Instruction, Operand, Operation};
use crate::processor::{Fault, Processor, Step, vector};
use crate::registers::{Byte, Far, Segment, Word};

/// Nothing, or why not.
pub type Done = Result<(), Fault>;

/// One instruction being executed.
#[derive(Debug)]
pub struct Execution<'a, B> {
    pub processor: &'a mut Processor,
    pub bus: &'a mut B,
    pub instruction: &'a Instruction,
    /// Offset of its first byte.
    pub start: u16,
    /// Whether it is not the continuation of a repeated string.
    pub first: bool,
}

impl<B: Bus> Execution<'_, B> {
    /// Executes it, its clocks first.
    #[inline]
    pub fn run(mut self) -> Result<Step, Fault> {
        use Operation::*;
        if self.first {
            self.take_opcode();
        }
        self.charge(self.instruction.cost);
        match self.instruction.operation {
            Mov => self.mov(),
            Push => self.push_operand(),
            Pop => self.pop_operand(),
            Pusha => self.pusha(),
            Popa => self.popa(),
            Pushf => self.pushf(),
            Popf => self.popf(),
            Xchg => self.xchg(),
            In => self.port_in(),
            Out => self.port_out(),
            Xlat => self.xlat(),
            Lea => self.lea(),
            Lds => self.load_pointer(Segment::Ds),
            Les => self.load_pointer(Segment::Es),
            Lahf => self.lahf(),
            Sahf => self.sahf(),
            Add | Or | Adc | Sbb | And | Sub | Xor | Cmp | Test => self.binary(),
            Inc | Dec | Neg | Not => self.unary(),
            Mul => self.mul(),
            Imul => self.imul(),
            ImulRegister => self.imul_register(),
            Div => self.div(),
            Idiv => self.idiv(),
            Aaa | Aas => self.ascii(),
            Aam => self.aam(),
            Aad => self.aad(),
            Daa | Das => self.decimal(),
            Cbw | Cwd => self.extend(),
            Rol | Ror | Rcl | Rcr | Shl | Shr | Sar => self.shift(),
            Movs | Cmps | Scas | Lods | Stos | Ins | Outs => self.string(),
            CallNear | CallNearIndirect | CallFar | CallFarIndirect => self.call(),
            JmpNear | JmpNearIndirect | JmpFar | JmpFarIndirect => self.jump(),
            Ret | Retf => self.ret(),
            Jcc | Loop | Loope | Loopne | Jcxz => self.branch(),
            Int | Int3 => self.int(),
            Into => self.enter_interrupt(),
            Iret => self.iret(),
            Bound => self.bound(),
            Enter => self.frame(),
            Leave => self.leave(),
            Clc | Cmc | Stc | Cld | Std | Cli | Sti => self.flag_bit(),
            Hlt => {
                if !self.processor.sequenced && !self.processor.published {
                    self.processor.clock = self.processor.pipeline.halt(self.processor.clock);
                }
                return Ok(Step::Halted);
            }
            Esc => self.esc(),
            Wait | Nop => {
                self.work(1);
                Ok(())
            }
            Service => Ok(()),
            Sgdt | Sidt => self.store_table(),
            Lgdt | Lidt => self.load_table(),
            Smsw => self.smsw(),
            Lmsw => return self.lmsw(),
            Clts => self.clts(),
            Undefined => Err(Fault::Interrupt(vector::UNDEFINED)),
            TooLong => Err(Fault::Interrupt(vector::SEGMENT_OVERRUN)),
        }?;
        Ok(Step::Done)
    }

    // ---- clocks ---------------------------------------------------------------

    /// Lets clocks pass.
    #[inline]
    fn pass(&mut self, clocks: u32) {
        self.processor.pass(self.bus, clocks);
    }

    /// Lets an instruction's clocks pass, as far as they are known before it runs.
    #[inline]
    pub fn charge(&mut self, cost: Cost) {
        if self.processor.sequenced {
            return;
        }
        if !self.processor.published {
            self.pass(clocks::beyond_published(self.instruction));
        }
        match cost {
            Cost::Flat(clocks) => self.pass(u32::from(clocks) - u32::from(self.compares_into_memory())),
            Cost::Jump(clocks) => {
                self.processor.target_due = self.processor.published;
                self.pass(u32::from(clocks));
            }
            Cost::Branch { not, .. } => self.pass(u32::from(not)),
            Cost::Bits { base, each } => {
                let memory = self.instruction.has_memory();
                let bits = u32::from(self.shift_count());
                // Nothing shifted is not written back.
                let saved = if bits == 0 && memory && !self.processor.published { 2 } else { 0 };
                self.pass(u32::from(base) + u32::from(each) * bits - saved);
            }
            Cost::Repeated { start, each } => {
                let start = if self.first { u32::from(start) } else { 0 };
                let each = if self.word(Word::Cx) != 0 { u32::from(each) } else { 0 };
                self.pass(start + each);
            }
            Cost::Frame { none, one, more, each } => {
                let clocks = match self.frame_level() {
                    0 => none,
                    1 => one,
                    level => more + each * (level - 1),
                };
                self.pass(u32::from(clocks));
            }
        }
    }

    /// A comparison of memory with a register takes the 80286 a clock less than published, as captures show it (see
    /// [`clocks::beyond_published`]).
    fn compares_into_memory(&self) -> bool {
        let Instruction { operation, destination, source, .. } = *self.instruction;
        let register = matches!(source, Operand::Byte(_) | Operand::Word(_));
        !self.processor.published && operation == Operation::Cmp && destination == Operand::Memory && register
    }

    /// A branch is taken after all: the rest of its clocks.
    #[inline]
    fn charge_taken(&mut self) {
        if let Cost::Branch { not, taken, target } = self.instruction.cost
            && !self.processor.sequenced
        {
            self.processor.target_due = target && self.processor.published;
            self.pass(u32::from(taken.saturating_sub(not)));
        }
    }

    // ---- registers --------------------------------------------------------------

    #[inline]
    fn word(&self, register: Word) -> u16 {
        self.processor.registers.word(register)
    }

    #[inline]
    fn set_word(&mut self, register: Word, value: u16) {
        self.processor.registers.set_word(register, value);
    }

    #[inline]
    fn byte(&self, register: Byte) -> u8 {
        self.processor.registers.byte(register)
    }

    #[inline]
    fn set_byte(&mut self, register: Byte, value: u8) {
        self.processor.registers.set_byte(register, value);
    }

    /// AL or AX, as the instruction is wide.
    fn accumulator(&self) -> u16 {
        self.word(Word::Ax) & crate::alu::mask(self.instruction.wide)
    }

    fn set_accumulator(&mut self, value: u16) {
        if self.instruction.wide { self.set_word(Word::Ax, value) } else { self.set_byte(Byte::Al, value as u8) }
    }

    // ---- memory -----------------------------------------------------------------

    /// The effective address.
    #[inline]
    fn offset(&self) -> u16 {
        self.instruction.memory.offset(&self.processor.registers)
    }

    /// The memory operand's address.
    #[inline]
    fn place(&self) -> Far {
        self.instruction.memory.place(&self.processor.registers)
    }

    /// Reads a byte or word. A word at offset FFFFh ends at offset 0 on the
    /// 8086 and interrupts the 80286.
    #[inline]
    fn read(&mut self, at: Far, wide: bool) -> Result<u16, Fault> {
        let address = at.linear();
        self.pay_transfer(CycleKind::Read, at, wide);
        if !wide {
            return Ok(u16::from(self.bus.read(address)));
        }
        match at.offset {
            0xFFFF => {
                self.no_overrun()?;
                let high = self.bus.read(Far::new(at.segment, 0).linear());
                Ok(u16::from_le_bytes([self.bus.read(address), high]))
            }
            _ => Ok(self.bus.read_word(address)),
        }
    }

    /// Writes a byte or word.
    #[inline]
    fn write(&mut self, at: Far, wide: bool, value: u16) -> Done {
        let address = at.linear();
        self.pay_transfer(CycleKind::Write, at, wide);
        self.processor.keep_fetched(self.bus, address);
        self.processor.cache.wrote(address);
        if !wide {
            self.bus.write(address, value as u8);
            return Ok(());
        }
        let next = at.plus(1).linear();
        self.processor.keep_fetched(self.bus, next);
        self.processor.cache.wrote(next);
        match at.offset {
            0xFFFF => {
                self.no_overrun()?;
                let [low, high] = value.to_le_bytes();
                self.bus.write(address, low);
                self.bus.write(next, high);
            }
            _ => self.bus.write_word(address, value),
        }
        Ok(())
    }

    /// The clocks of a transfer: its bus cycles, or what it costs beyond the tables.
    #[inline]
    fn pay_transfer(&mut self, kind: CycleKind, at: Far, wide: bool) {
        if self.processor.sequenced {
            return self.transfer(kind, at, wide);
        }
        if self.processor.published {
            if wide {
                self.word_extra(at.linear());
            }
            return;
        }
        self.pipelined(kind, at, wide);
    }

    /// A transfer of the 80286: reads while the instruction runs, writes when it has ended.
    fn pipelined(&mut self, kind: CycleKind, at: Far, wide: bool) {
        let address = at.linear();
        let split = wide && address & 1 != 0;
        let cycle = BusCycle { kind, address, wide: wide && !split, start: 0 };
        let writes = matches!(kind, CycleKind::Write | CycleKind::Output);
        // Instructions of many transfers have their writes within their published clocks.
        let within = self.processor.writes_within;
        let asked = if writes && !within { self.processor.clock } else { self.processor.read_at };
        let (start, mut end) = self.processor.pipeline.transfer(self.bus, asked, cycle);
        if split {
            let next = at.plus(1).linear();
            (_, end) = self.processor.pipeline.transfer(self.bus, end, BusCycle { address: next, ..cycle });
        }
        // A read keeps the instruction waiting to its end, a write to its beginning.
        let late = match (writes, within) {
            (true, true) => 0,
            (true, false) => start - asked,
            (false, _) => end - asked - u64::from(clocks::bus_cycle(self.processor.model)),
        };
        self.processor.read_at = end;
        if late > 0 {
            self.pass(late as u32);
        }
    }

    #[inline]
    fn word_extra(&mut self, address: u32) {
        let extra = clocks::of_word(self.processor.model, address);
        if extra > 0 {
            self.pass(extra);
        }
    }

    fn no_overrun(&self) -> Done {
        if self.processor.model.is_80286() { Err(Fault::Interrupt(vector::SEGMENT_OVERRUN)) } else { Ok(()) }
    }

    // ---- operands -----------------------------------------------------------------

    #[inline]
    fn get(&mut self, operand: Operand) -> Result<u16, Fault> {
        Ok(match operand {
            Operand::None => 0,
            Operand::Byte(register) => u16::from(self.byte(register)),
            Operand::Word(register) => self.word(register),
            Operand::Segment(register) => self.processor.registers.segment(register),
            Operand::Immediate(value) => value & crate::alu::mask(self.instruction.wide),
            Operand::Memory => return self.read(self.place(), self.instruction.wide),
        })
    }

    #[inline]
    fn put(&mut self, operand: Operand, value: u16) -> Done {
        match operand {
            Operand::Byte(register) => self.set_byte(register, value as u8),
            Operand::Word(register) => self.set_word(register, value),
            Operand::Segment(register) => self.set_segment(register, value),
            Operand::Memory => return self.write(self.place(), self.instruction.wide, value),
            Operand::None | Operand::Immediate(_) => {}
        }
        Ok(())
    }

    /// Loads a segment register. No interrupt comes before the next
    /// instruction, so that a stack pointer can be loaded with its segment: on
    /// the 8086 for every segment register, on the 80286 for the stack segment
    /// (The 8086 Family User's Manual; iAPX 286 Programmer's Reference, MOV).
    fn set_segment(&mut self, register: Segment, value: u16) {
        self.processor.registers.set_segment(register, value);
        self.processor.shadow = register == Segment::Ss || !self.processor.model.is_80286();
    }

    // ---- stack ----------------------------------------------------------------------

    fn push(&mut self, value: u16) -> Done {
        let offset = self.processor.lower_stack()?;
        let at = Far::new(self.processor.registers.segment(Segment::Ss), offset);
        self.write(at, true, value)
    }

    fn pop(&mut self) -> Result<u16, Fault> {
        let offset = self.word(Word::Sp);
        let at = Far::new(self.processor.registers.segment(Segment::Ss), offset);
        let value = self.read(at, true)?;
        self.set_word(Word::Sp, offset.wrapping_add(2));
        Ok(value)
    }
}
