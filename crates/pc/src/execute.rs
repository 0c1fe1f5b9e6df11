//! Executes one decoded instruction.
//!
//! An [`Execution`] holds the processor, its bus and the instruction for as
//! long as it runs. This file has the ways to operands, memory, stack and
//! clocks, and the dispatch; the groups of instructions have a file each.

mod arithmetic;
mod bits;
mod control;
mod decimal;
mod string;
mod system;
mod timing;
mod transfer;

use crate::bus::{Bus, BusCycle, CycleKind};
use crate::clocks;
use crate::cost::ClockCost;
use crate::instruction::{Instruction, Operand, Operation};
use crate::processor::{Fault, Processor, StepResult, vector};
use crate::registers::{Byte, Far, SegmentRegister, Word};
use crate::size::Size;
use backporch_processor_timing::Model;

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
    pub fn run(mut self) -> Result<StepResult, Fault> {
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
            Lds => self.load_pointer(SegmentRegister::Ds),
            Les => self.load_pointer(SegmentRegister::Es),
            Lss => self.load_pointer(SegmentRegister::Ss),
            Lfs => self.load_pointer(SegmentRegister::Fs),
            Lgs => self.load_pointer(SegmentRegister::Gs),
            Movzx | Movsx => self.extended(),
            Lahf => self.lahf(),
            Sahf => self.sahf(),
            Add | Or | Adc | Sbb | And | Sub | Xor | Cmp | Test => self.binary(),
            Inc | Dec | Neg | Not => self.unary(),
            Mul => self.mul(),
            Imul => self.imul(),
            ImulImmediate | ImulRegister => self.imul_register(),
            Div => self.div(),
            Idiv => self.idiv(),
            Aaa | Aas => self.ascii(),
            Aam => self.aam(),
            Aad => self.aad(),
            Daa | Das => self.decimal(),
            Cbw | Cwd => self.extend(),
            Rol | Ror | Rcl | Rcr | Shl | Shr | Sar => self.shift(),
            Shld | Shrd => self.double_shift(),
            Bt | Bts | Btr | Btc => self.bit(),
            Bsf | Bsr => self.scan(),
            Setcc => self.set_condition(),
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
                return Ok(StepResult::Halted);
            }
            Esc => self.esc(),
            Wait => self.wait(),
            Nop => {
                self.work(1);
                Ok(())
            }
            Service => Ok(()),
            Sgdt | Sidt => self.store_table(),
            Lgdt | Lidt => self.load_table(),
            Smsw => self.smsw(),
            Lmsw => return self.lmsw(),
            Clts => self.clts(),
            LoadControl => return self.load_control(),
            StoreControl | StoreDebug | StoreTest => self.store_kept(),
            LoadDebug | LoadTest => self.load_kept(),
            Undefined => Err(Fault::Interrupt(vector::UNDEFINED)),
            TooLong => Err(Fault::Interrupt(vector::SEGMENT_OVERRUN)),
        }?;
        Ok(StepResult::Done)
    }

    // ---- clocks ---------------------------------------------------------------

    /// Lets clocks pass.
    #[inline]
    fn pass(&mut self, clocks: u32) {
        self.processor.pass(self.bus, clocks);
    }

    /// Lets an instruction's clocks pass, as far as they are known before it runs.
    #[inline]
    pub fn charge(&mut self, cost: ClockCost) {
        if self.processor.sequenced {
            return;
        }
        if !self.processor.published {
            self.pass(clocks::beyond_published(self.processor.model, self.instruction));
        }
        match cost {
            ClockCost::Flat(clocks) => self.pass(u32::from(clocks) - u32::from(self.compares_into_memory())),
            ClockCost::Jump(clocks) => {
                self.processor.target_due = self.processor.published;
                self.pass(u32::from(clocks));
            }
            ClockCost::Branch { not, .. } => self.pass(u32::from(not)),
            ClockCost::Bits { base, each } => {
                let memory = self.instruction.has_memory();
                let scans = matches!(self.instruction.operation, Operation::Bsf | Operation::Bsr);
                // How many bits are looked at is only known when they are.
                let bits = if scans { 0 } else { u32::from(self.shift_count()) };
                // Nothing shifted is not written back.
                let saved = if bits == 0 && memory && !scans && !self.processor.published { 2 } else { 0 };
                self.pass(u32::from(base) + u32::from(each) * bits - saved);
            }
            ClockCost::EarlyOut(clocks) => self.pass(u32::from(clocks)),
            ClockCost::Repeated { start, each } => {
                let start = if self.first { u32::from(start) } else { 0 };
                let each = if self.index(Word::Cx) != 0 { u32::from(each) } else { 0 };
                self.pass(start + each);
            }
            ClockCost::Frame { none, one, more, each } => {
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
        let is_80286 = !self.processor.published && self.processor.model == Model::P80286;
        is_80286 && operation == Operation::Cmp && destination == Operand::Memory && register
    }

    /// A branch is taken after all: the rest of its clocks.
    #[inline]
    fn charge_taken(&mut self) {
        if let ClockCost::Branch { not, taken, target } = self.instruction.cost
            && !self.processor.sequenced
        {
            self.processor.target_due = target && self.processor.published;
            self.pass(u32::from(taken.saturating_sub(not)));
        }
    }

    /// What a product of an 80386 takes beyond the least: its multiplier is looked at up to the highest bit that counts (80386
    /// Programmer's Reference Manual, MUL: max(ceiling(log2 of it), 3) + 6 clocks; of a negative one, its magnitude).
    fn charge_multiplier(&mut self, multiplier: u64) {
        if let ClockCost::EarlyOut(_) = self.instruction.cost {
            let counted = multiplier.saturating_sub(1).checked_ilog2().map_or(0, |highest| highest + 1);
            self.pass(counted.saturating_sub(3));
        }
    }

    /// Bits an 80386 has looked at.
    fn charge_scanned(&mut self, bits: u32) {
        if let ClockCost::Bits { each, .. } = self.instruction.cost {
            self.pass(bits * u32::from(each));
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

    /// A word register as an address or a count of the instruction.
    #[inline]
    fn index(&self, register: Word) -> u32 {
        let registers = &self.processor.registers;
        if self.instruction.wide_address { registers.double(register) } else { u32::from(registers.word(register)) }
    }

    #[inline]
    fn set_index(&mut self, register: Word, value: u32) {
        let registers = &mut self.processor.registers;
        if self.instruction.wide_address {
            registers.set_double(register, value);
        } else {
            registers.set_word(register, value as u16);
        }
    }

    /// Sets a word register, with its upper half where the instruction has 32 bits.
    fn set_sized(&mut self, register: Word, value: u32) {
        match self.instruction.size {
            Size::Double => self.processor.registers.set_double(register, value),
            _ => self.set_word(register, value as u16),
        }
    }

    /// A word register, with its upper half where the instruction has 32 bits.
    fn sized(&self, register: Word) -> u32 {
        self.processor.registers.double(register) & self.instruction.size.mask()
    }

    /// AL, AX or EAX, as the instruction's size is.
    fn accumulator(&self) -> u32 {
        self.sized(Word::Ax)
    }

    fn set_accumulator(&mut self, value: u32) {
        match self.instruction.size {
            Size::Byte => self.set_byte(Byte::Al, value as u8),
            _ => self.set_sized(Word::Ax, value),
        }
    }

    // ---- memory -----------------------------------------------------------------

    /// The effective address.
    #[inline]
    fn offset(&self) -> u32 {
        self.instruction.memory.offset(&self.processor.registers)
    }

    /// The memory operand's address.
    #[inline]
    fn place(&self) -> Result<Far, Fault> {
        self.at(self.instruction.memory.segment, self.offset())
    }

    /// An address in a segment, which ends at FFFFh.
    #[inline]
    fn at(&self, segment: SegmentRegister, offset: u32) -> Result<Far, Fault> {
        match u16::try_from(offset) {
            Ok(offset) => Ok(Far::new(self.processor.registers.segment(segment), offset)),
            Err(_) => Err(self.overrun(segment)),
        }
    }

    /// What an operand beyond a segment's end comes to: the 80386 tells the stack segment from the others (80386
    /// Programmer's Reference Manual, real-address mode exceptions).
    fn overrun(&self, segment: SegmentRegister) -> Fault {
        let stack = segment == SegmentRegister::Ss && self.processor.model.is_from(Model::P80386);
        Fault::Interrupt(if stack { vector::STACK_OVERRUN } else { vector::SEGMENT_OVERRUN })
    }

    /// Reads a byte, word or double word of a segment.
    #[inline]
    fn read(&mut self, segment: SegmentRegister, at: Far, size: Size) -> Result<u32, Fault> {
        let address = at.linear();
        if segment != SegmentRegister::Ss {
            self.about_to_read(address, size);
        }
        self.pay_transfer(CycleKind::Read, at, size);
        match size {
            Size::Byte => Ok(u32::from(self.bus.read(address))),
            Size::Word if at.offset != 0xFFFF => Ok(u32::from(self.bus.read_word(address))),
            Size::Double if at.offset < 0xFFFD => {
                let low = self.bus.read_word(address);
                let high = self.bus.read_word(at.plus(2).linear());
                Ok(u32::from(low) | u32::from(high) << 16)
            }
            _ => self.read_over_end(segment, at),
        }
    }

    /// A word at offset FFFFh ends at offset 0 on the 8086, at the next address on the 80186 (iAPX 186 High Integration
    /// 16-Bit Microprocessor, differences from the 8086), and interrupts later processors.
    #[cold]
    fn read_over_end(&mut self, segment: SegmentRegister, at: Far) -> Result<u32, Fault> {
        let next = self.over_end(segment, at)?;
        Ok(u32::from(u16::from_le_bytes([self.bus.read(at.linear()), self.bus.read(next)])))
    }

    /// Where the second byte of a word at offset FFFFh lies.
    fn over_end(&self, segment: SegmentRegister, at: Far) -> Result<u32, Fault> {
        match self.processor.model {
            Model::P8088 | Model::P8086 => Ok(at.plus(1).linear()),
            Model::P80186 => Ok((at.linear() + 1) & 0xF_FFFF),
            Model::P80286 | Model::P80386 => Err(self.overrun(segment)),
        }
    }

    /// Writes a byte, word or double word of a segment.
    #[inline]
    fn write(&mut self, segment: SegmentRegister, at: Far, size: Size, value: u32) -> Done {
        let address = at.linear();
        self.pay_transfer(CycleKind::Write, at, size);
        self.about_to_write(address);
        if size == Size::Byte {
            self.bus.write(address, value as u8);
            return Ok(());
        }
        self.about_to_write(at.plus(1).linear());
        match size {
            Size::Word if at.offset != 0xFFFF => self.bus.write_word(address, value as u16),
            Size::Double if at.offset < 0xFFFD => {
                let upper = at.plus(2).linear();
                self.about_to_write(upper);
                self.about_to_write(at.plus(3).linear());
                self.bus.write_word(address, value as u16);
                self.bus.write_word(upper, (value >> 16) as u16);
            }
            _ => {
                let next = self.over_end(segment, at)?;
                self.about_to_write(next);
                self.bus.write(address, value as u8);
                self.bus.write(next, (value >> 8) as u8);
            }
        }
        Ok(())
    }

    #[inline]
    fn about_to_write(&mut self, address: u32) {
        self.processor.keep_fetched(self.bus, address);
        self.processor.cache.wrote(address);
        let place = self.processor.stack_place();
        if let Some(watch) = &mut self.processor.stack_watch {
            watch.write(place, address);
        }
    }

    #[inline]
    fn about_to_read(&mut self, address: u32, size: Size) {
        let (by, place) = (self.processor.at, self.processor.stack_place());
        if let Some(watch) = &mut self.processor.stack_watch {
            watch.read(by, place, address, size.bytes());
        }
    }

    /// Something is called: the stack serves to come back.
    fn about_to_call(&mut self) {
        let place = self.processor.stack_place();
        if let Some(watch) = &mut self.processor.stack_watch {
            watch.call(place);
        }
    }

    /// The clocks of a transfer: its bus cycles, or what it costs beyond the tables.
    #[inline]
    fn pay_transfer(&mut self, kind: CycleKind, at: Far, size: Size) {
        if self.processor.sequenced {
            return self.transfer(kind, at, size != Size::Byte);
        }
        if self.processor.published {
            let extra = clocks::of_transfer(self.processor.model, at.linear(), size);
            if extra > 0 {
                self.pass(extra);
            }
            return;
        }
        self.pipelined(kind, at, size);
    }

    /// A transfer of a processor whose units run ahead of each other, over a bus of 16 bits: reads while the instruction
    /// runs, writes when it has ended.
    fn pipelined(&mut self, kind: CycleKind, at: Far, size: Size) {
        let mut left = u32::from(size.bytes());
        let mut next = at;
        let writes = matches!(kind, CycleKind::Write | CycleKind::Output);
        // Instructions of many transfers have their writes within their published clocks, and so has an 80186 all of them.
        let in_turn = self.processor.model == Model::P80186;
        let within = self.processor.writes_within;
        let asked = if writes && !within && !in_turn { self.processor.clock } else { self.processor.read_at };
        let (mut start, mut end) = (None, asked);
        while left > 0 {
            let address = next.linear();
            let wide = left > 1 && address & 1 == 0;
            let cycle = BusCycle { kind, address, wide, start: 0 };
            let (began, ended) = self.processor.pipeline.transfer(self.bus, end, cycle);
            start.get_or_insert(began);
            end = ended;
            let bytes = if wide { 2 } else { 1 };
            left -= bytes;
            next = next.plus(bytes as u16);
        }
        // A read keeps the instruction waiting to its end, a write to its beginning.
        let late = match (writes && !in_turn, within) {
            (true, true) => 0,
            (true, false) => start.unwrap_or(asked) - asked,
            (false, _) => end - asked - u64::from(clocks::bus_cycle(self.processor.model)),
        };
        self.processor.read_at = end;
        if late > 0 {
            self.pass(late as u32);
        }
    }

    // ---- operands -----------------------------------------------------------------

    #[inline]
    fn get(&mut self, operand: Operand) -> Result<u32, Fault> {
        self.get_sized(operand, self.instruction.size)
    }

    #[inline]
    fn get_sized(&mut self, operand: Operand, size: Size) -> Result<u32, Fault> {
        Ok(match operand {
            Operand::None => 0,
            Operand::Byte(register) => u32::from(self.byte(register)),
            Operand::Word(register) => u32::from(self.word(register)),
            Operand::Double(register) => self.processor.registers.double(register),
            Operand::Segment(register) => u32::from(self.processor.registers.segment(register)),
            Operand::Immediate => self.instruction.immediate & size.mask(),
            Operand::Memory => return self.read(self.instruction.memory.segment, self.place()?, size),
        })
    }

    #[inline]
    fn put(&mut self, operand: Operand, value: u32) -> Done {
        match operand {
            Operand::Byte(register) => self.set_byte(register, value as u8),
            Operand::Word(register) => self.set_word(register, value as u16),
            Operand::Double(register) => self.processor.registers.set_double(register, value),
            Operand::Segment(register) => self.set_segment(register, value as u16),
            Operand::Memory => {
                let (segment, at) = (self.instruction.memory.segment, self.place()?);
                return self.write(segment, at, self.instruction.size, value);
            }
            Operand::None | Operand::Immediate => {}
        }
        Ok(())
    }

    /// Loads a segment register. No interrupt comes before the next
    /// instruction, so that a stack pointer can be loaded with its segment: on
    /// the 8086 for every segment register, on the 80286 for the stack segment
    /// (The 8086 Family User's Manual; iAPX 286 Programmer's Reference, MOV).
    fn set_segment(&mut self, register: SegmentRegister, value: u16) {
        self.processor.registers.set_segment(register, value);
        self.processor.shadow = register == SegmentRegister::Ss || !self.processor.model.is_from(Model::P80286);
    }

    // ---- stack ----------------------------------------------------------------------

    /// Pushes a word.
    fn push(&mut self, value: u16) -> Done {
        self.push_sized(u32::from(value), Size::Word)
    }

    fn push_sized(&mut self, value: u32, size: Size) -> Done {
        let offset = self.processor.lower_stack(size.bytes())?;
        let at = Far::new(self.processor.registers.segment(SegmentRegister::Ss), offset);
        self.write(SegmentRegister::Ss, at, size, value)
    }

    fn pop_sized(&mut self, size: Size) -> Result<u32, Fault> {
        let offset = self.word(Word::Sp);
        let at = Far::new(self.processor.registers.segment(SegmentRegister::Ss), offset);
        let value = self.read(SegmentRegister::Ss, at, size)?;
        self.set_word(Word::Sp, offset.wrapping_add(size.bytes()));
        Ok(value)
    }
}
