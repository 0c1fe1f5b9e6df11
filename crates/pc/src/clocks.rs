//! What an instruction costs, from the published tables to clocks.
//!
//! [`table`] holds the tables form by form. [`cost`] looks an instruction's form
//! up once, when it is decoded, and takes in what is fixed by then: the
//! effective address, prefixes. What depends on the moment stays open in the
//! [`ClockCost`]: branches taken, bits shifted, strings repeated, the length of a
//! jump's target. Words at odd addresses and wait states come on top as they
//! happen.

pub use backporch_processor_timing::table;

use crate::cost::ClockCost;
use crate::instruction::{BaseRegister, Instruction, MemoryOperand, Operand, Operation, RepeatPrefix};
use crate::size::Size;
use backporch_processor_timing::Model;
use table::{Class, Published, Shape, TimingRow};

/// Clocks for a hardware interrupt, from acknowledge to the handler's first
/// instruction (The 8086 Family User's Manual, interrupt processing time;
/// iAPX 186 High Integration 16-Bit Microprocessor; iAPX 286 Programmer's
/// Reference and 80386 Programmer's Reference Manual, INT; from memory).
#[must_use]
pub fn of_interrupt(model: Model) -> ClockCost {
    match model {
        Model::P8088 | Model::P8086 => ClockCost::Flat(61),
        Model::P80186 => ClockCost::Flat(42),
        Model::P80286 => ClockCost::Jump(23),
        Model::P80386 => ClockCost::Flat(37),
    }
}

/// Clocks for an interrupt the processor raises itself: divide error, single
/// step (the same).
#[must_use]
pub fn of_exception(model: Model) -> ClockCost {
    match model {
        Model::P8088 | Model::P8086 => ClockCost::Flat(50),
        Model::P80186 => ClockCost::Flat(47),
        Model::P80286 => ClockCost::Jump(23),
        Model::P80386 => ClockCost::Flat(37),
    }
}

/// What a transfer costs beyond the table (The 8086 Family User's Manual,
/// table 2-21: 4 clocks for each 16-bit transfer with the 8088, 4 for each at
/// an odd address with the 8086; iAPX 286 Programmer's Reference: 2 for each
/// at an odd address; 80386 Hardware Reference Manual: a cycle of 2 clocks for
/// each that reaches into the next four bytes of a bus of 32 bits).
#[inline]
#[must_use]
pub fn of_transfer(model: Model, address: u32, size: Size) -> u32 {
    match model {
        _ if size == Size::Byte => 0,
        Model::P8088 => 4,
        Model::P8086 | Model::P80186 => (address & 1) * 4,
        Model::P80286 => (address & 1) * 2,
        Model::P80386 => u32::from((address & 3) + u32::from(size.bytes()) > 4) * 2,
    }
}

/// Clocks the decoder needs for an instruction: one a byte, and on the 80286 one for each byte it extends to a word (open
/// data set: single-step tests of an 80286, captured from hardware, 2025); on the 80386 one for a displacement or an
/// immediate operand of any length (80386 Programmer's Reference Manual: components).
#[must_use]
pub fn decoding(model: Model, instruction: &Instruction) -> u64 {
    let bytes = u64::from(instruction.length);
    match model {
        Model::P80286 => bytes + extensions(instruction),
        Model::P80386 => components(instruction),
        _ => bytes,
    }
}

/// Bytes of an instruction, a displacement and an immediate operand counted once each.
#[must_use]
pub fn components(instruction: &Instruction) -> u64 {
    let Instruction { length, immediate_bytes, memory, .. } = *instruction;
    let more = immediate_bytes.saturating_sub(1) + memory.displacement_bytes.saturating_sub(1);
    u64::from(length.saturating_sub(more))
}

/// Bytes of an instruction that are extended to words.
fn extensions(instruction: &Instruction) -> u64 {
    let displacement = instruction.modrm && instruction.has_memory() && instruction.memory.displacement_bytes == 1;
    let extended = instruction.immediate_bytes == 1 && instruction.extends_immediate;
    u64::from(displacement) + u64::from(extended)
}

/// Clocks an 80286 takes beyond the published ones, as captures show it (the same); nothing is known of the others.
#[must_use]
pub fn beyond_published(model: Model, instruction: &Instruction) -> u32 {
    use Operation::*;
    if model != Model::P80286 {
        return 0;
    }
    let memory = instruction.has_memory();
    let alone = instruction.repeat == RepeatPrefix::No;
    match instruction.operation {
        Cmp if instruction.source == Operand::Memory => 1,
        Popf | Ret | Iret | Int3 => 1,
        Undefined => 2,
        Pop | Mul | Imul if memory => 1,
        Push if memory => 2,
        Movs | Ins if alone => 2,
        Wait => 4,
        _ => 0,
    }
}

/// Whether an instruction's writes lie within its published clocks, not at their end (the same).
#[must_use]
pub fn writes_within(operation: Operation) -> bool {
    use Operation::*;
    matches!(
        operation,
        Pusha | Enter | CallNear | CallNearIndirect | CallFar | CallFarIndirect | Int | Int3 | Into | Service
    )
}

/// Clocks into an instruction of an 80286 at which it asks for its first read, of a repeated string's each element
/// (the same); of an 80186 and 80386 assumed, so that a load's published clocks hold its bus cycle.
#[must_use]
pub fn to_read(model: Model, instruction: &Instruction, first: bool) -> u64 {
    match model {
        Model::P80186 => return if first { 4 } else { 2 },
        Model::P80386 => return 1,
        _ => {}
    }
    let three_part = matches!(
        instruction.memory.base,
        BaseRegister::BxSi | BaseRegister::BxDi | BaseRegister::BpSi | BaseRegister::BpDi
    ) && instruction.memory.is_displaced();
    if first { 3 + u64::from(three_part) } else { 2 }
}

/// Clocks of one bus cycle without wait states (The 8086 Family User's Manual;
/// iAPX 286 Hardware Reference Manual; 80386 Hardware Reference Manual).
#[must_use]
pub fn bus_cycle(model: Model) -> u16 {
    if model.is_from(Model::P80286) { 2 } else { 4 }
}

/// Clocks of an effective address on the 8086 (The 8086 Family User's Manual,
/// table 2-20), without the override.
#[must_use]
pub fn of_address(memory: &MemoryOperand) -> u16 {
    match (memory.base, memory.is_displaced()) {
        (BaseRegister::None | BaseRegister::Double { .. }, _) => 6,
        (BaseRegister::Bx | BaseRegister::Bp | BaseRegister::Si | BaseRegister::Di, false) => 5,
        (BaseRegister::Bx | BaseRegister::Bp | BaseRegister::Si | BaseRegister::Di, true) => 9,
        (BaseRegister::BpDi | BaseRegister::BxSi, false) => 7,
        (BaseRegister::BpSi | BaseRegister::BxDi, false) => 8,
        (BaseRegister::BpDi | BaseRegister::BxSi, true) => 11,
        (BaseRegister::BpSi | BaseRegister::BxDi, true) => 12,
    }
}

/// A segment override and a bus lock cost 2 clocks each on the 8086 and 80186 and none on the 80286
/// (The 8086 Family User's Manual, tables 2-20 and 2-21; iAPX 286 Programmer's Reference).
const PREFIX_CLOCKS: u16 = 2;

/// Clocks of a decoded instruction; `opcode` is its first byte after the prefixes.
#[must_use]
pub fn cost(model: Model, instruction: &Instruction, opcode: u8, overridden: bool, locked: bool) -> ClockCost {
    let Some(row) = row(instruction, opcode) else {
        return ClockCost::FREE;
    };
    let three_part = matches!(
        instruction.memory.base,
        BaseRegister::BxSi | BaseRegister::BxDi | BaseRegister::BpSi | BaseRegister::BpDi
    ) && instruction.memory.is_displaced();
    let prefixes = PREFIX_CLOCKS * (u16::from(overridden) + u16::from(locked));
    let (address, surcharge) = match model {
        Model::P8088 | Model::P8086 => (of_address(&instruction.memory), prefixes),
        // The figures hold the address (iAPX 186 High Integration 16-Bit Microprocessor, instruction set summary).
        Model::P80186 => (0, prefixes),
        Model::P80286 => (u16::from(three_part), 0),
        Model::P80386 => (u16::from(instruction.memory.base.is_sum()), 0),
    };
    let wider = if model.is_from(Model::P80386) { Size::Double } else { Size::Word };
    with_address(row.figure(model), address, instruction.size == wider).plus(surcharge)
}

/// A figure with its address in: all its clocks on the 8086, the clock for a third part on the 80286, that for a second
/// register on the 80386.
fn with_address(figure: Published, address: u16, wider: bool) -> ClockCost {
    let by_width = |narrow, wide| if wider { wide } else { narrow };
    match figure {
        Published::ByWidth(narrow, wide) => ClockCost::Flat(by_width(narrow, wide)),
        Published::ByWidthAddress(narrow, wide) => ClockCost::Flat(by_width(narrow, wide) + address),
        Published::EarlyOut(clocks) => ClockCost::EarlyOut(clocks),
        Published::EarlyOutAddress(clocks) => ClockCost::EarlyOut(clocks + address),
        Published::None => ClockCost::FREE,
        Published::Flat(clocks) => ClockCost::Flat(clocks),
        Published::Address(clocks) => ClockCost::Flat(clocks + address),
        Published::Between(least, most) => ClockCost::Flat(middle(least, most)),
        Published::BetweenAddress(least, most) => ClockCost::Flat(middle(least, most) + address),
        Published::Bits(base, each) => ClockCost::Bits { base, each },
        Published::BitsAddress(base, each) => ClockCost::Bits { base: base + address, each },
        Published::Branch(taken, not) => ClockCost::Branch { not, taken, target: false },
        Published::BranchTarget(taken, not) => ClockCost::Branch { not, taken, target: true },
        Published::Jump(clocks) => ClockCost::Jump(clocks),
        Published::JumpAddress(clocks) => ClockCost::Jump(clocks + address),
        Published::Repeated(start, each) => ClockCost::Repeated { start, each },
        Published::Frame(none, one, more, each) => ClockCost::Frame { none, one, more, each },
    }
}

/// Products and quotients take a time that depends on their operands; the
/// manual gives the bounds and the bench takes the middle.
fn middle(least: u16, most: u16) -> u16 {
    (least + most).div_ceil(2)
}

/// The table's row for an instruction.
#[must_use]
pub fn row(instruction: &Instruction, opcode: u8) -> Option<&'static TimingRow> {
    table::row_of(class(instruction)?, shape(instruction, opcode))
}

fn class(instruction: &Instruction) -> Option<Class> {
    use Operation::*;
    let repeated = instruction.repeat != RepeatPrefix::No;
    Some(match instruction.operation {
        Add | Or | Adc | Sbb | And | Sub | Xor => Class::Arithmetic,
        Inc | Dec => Class::Step,
        Neg | Not => Class::Complement,
        Rol | Ror | Shl | Shr | Sar => Class::Shift,
        Rcl | Rcr => Class::ShiftThroughCarry,
        Shld | Shrd => Class::DoubleShift,
        Bts | Btr | Btc => Class::BitChange,
        Bsf | Bsr => Class::BitScan,
        Lds | Les | Lss | Lfs | Lgs => Class::LoadPointer,
        Loope => Class::Only(Loope),
        Jcc => Class::Only(Jcc),
        Clc | Cmc | Stc | Cld | Std => Class::FlagBit,
        operation if operation.is_string() && repeated => Class::RepeatedString(operation),
        Service | Undefined | TooLong => return None,
        operation => Class::Only(operation),
    })
}

fn shape(instruction: &Instruction, opcode: u8) -> Shape {
    use Operand::*;
    let (wide, memory) = (instruction.size != Size::Byte, instruction.has_memory());
    match instruction.operation {
        Operation::Mul | Operation::Imul | Operation::Div | Operation::Idiv => {
            return match (memory, wide) {
                (false, false) => Shape::RegisterByte,
                (false, true) => Shape::Register,
                (true, false) => Shape::MemoryByte,
                (true, true) => Shape::Memory,
            };
        }
        Operation::ImulImmediate => return if memory { Shape::Memory } else { Shape::Register },
        _ => {}
    }
    match (opcode, instruction.destination, instruction.source) {
        (0xA0 | 0xA1, ..) => Shape::AccumulatorMemory,
        (0xA2 | 0xA3, ..) => Shape::MemoryAccumulator,
        (0x91..=0x97, ..) => Shape::AccumulatorRegister,
        (0xA8 | 0xA9, ..) => Shape::AccumulatorImmediate,
        (0x00..=0x0E | 0x10..=0x3F, _, Immediate) => Shape::AccumulatorImmediate,
        (0xE4..=0xE7, ..) => Shape::FixedPort,
        (0xEC..=0xEF, ..) => Shape::Port,
        (0xD0 | 0xD1, Memory, _) => Shape::MemoryOne,
        (0xD0 | 0xD1, ..) => Shape::RegisterOne,
        (0xD2 | 0xD3 | 0xC0 | 0xC1, Memory, _) => Shape::MemoryCount,
        (0xD2 | 0xD3 | 0xC0 | 0xC1, ..) => Shape::RegisterCount,
        (0xC2 | 0xCA, ..) => Shape::Releasing,
        (_, Segment(_), None) => Shape::Segment,
        (_, Segment(_), Memory) => Shape::SegmentMemory,
        (_, Segment(_), _) => Shape::SegmentRegister,
        (_, Memory, Segment(_)) => Shape::MemorySegment,
        (_, _, Segment(_)) => Shape::RegisterSegment,
        (_, Byte(_), None) => Shape::RegisterByte,
        (_, Word(_) | Double(_), None) => Shape::Register,
        (_, Memory, None) | (_, None, Memory) => Shape::Memory,
        (_, Memory, Immediate) => Shape::MemoryImmediate,
        (_, Memory, _) => Shape::MemoryRegister,
        (_, _, Memory) => Shape::RegisterMemory,
        (_, Immediate, _) => Shape::Immediate,
        (_, _, Immediate) => Shape::RegisterImmediate,
        (_, None, _) => Shape::Plain,
        _ => Shape::RegisterRegister,
    }
}
