//! The published clocks, form by form.
//!
//! 8086 and 8088: The 8086 Family User's Manual, table 2-21, with RET and IRET
//! as the later edition has them (iAPX 86,88 User's Manual). 80186: iAPX 186
//! High Integration 16-Bit Microprocessor (data sheet), instruction set summary.
//! 80286: iAPX 286 Programmer's Reference, instruction clock counts,
//! real-address mode. 80386: 80386 Programmer's Reference Manual, instruction
//! set, real-address mode, an early-out product by its formula there.
//! All figures *from memory*: to be confirmed against the printed tables.
//!
//! Transfers are the 16-bit bus transfers of the 8086 table's word forms.

use crate::model::Model;
use crate::operation::Operation;

/// Instructions that share their rows.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Class {
    /// ADD, OR, ADC, SBB, AND, SUB, XOR.
    Arithmetic,
    /// INC, DEC.
    Step,
    /// NEG, NOT.
    Complement,
    /// Shifts and rotates, but for those through the carry.
    Shift,
    /// RCL, RCR.
    ShiftThroughCarry,
    /// SHLD, SHRD.
    DoubleShift,
    /// BTS, BTR, BTC.
    BitChange,
    /// BSF, BSR.
    BitScan,
    /// LDS, LES, LSS, LFS, LGS.
    LoadPointer,
    /// CLC, CMC, STC, CLD, STD.
    FlagBit,
    /// A string instruction under a repeat prefix.
    RepeatedString(Operation),
    /// That operation alone.
    Only(Operation),
}

/// Kinds of operands, as the tables tell them apart.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[allow(missing_docs)]
pub enum Shape {
    Plain,
    Register,
    RegisterByte,
    Memory,
    MemoryByte,
    Segment,
    Immediate,
    RegisterRegister,
    RegisterMemory,
    MemoryRegister,
    RegisterImmediate,
    MemoryImmediate,
    AccumulatorMemory,
    MemoryAccumulator,
    AccumulatorRegister,
    AccumulatorImmediate,
    SegmentRegister,
    SegmentMemory,
    RegisterSegment,
    MemorySegment,
    FixedPort,
    Port,
    RegisterOne,
    MemoryOne,
    RegisterCount,
    MemoryCount,
    Releasing,
}

/// A figure as published. *Address* forms add the effective address on the
/// 8086, on the 80286 one clock where an address has three parts, on the 80386
/// one clock where two registers add up to it. *Jumps* add on the 80286 the
/// number of bytes of the instruction jumped to, on the 80386 that of its
/// components: a displacement is one, and so is an immediate operand.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Published {
    /// The model does not have the form.
    None,
    /// n.
    Flat(u16),
    /// n and the address.
    Address(u16),
    /// One figure for 16 bits, one for 32; on the 80186, for 8 and 16.
    ByWidth(u16, u16),
    /// The same, and the address.
    ByWidthAddress(u16, u16),
    /// n, and a clock for every bit of the multiplier that counts beyond the third (80386).
    EarlyOut(u16),
    /// The same, and the address.
    EarlyOutAddress(u16),
    /// From least to most.
    Between(u16, u16),
    /// From least to most, and the address.
    BetweenAddress(u16, u16),
    /// n and this many a bit.
    Bits(u16, u16),
    /// n and this many a bit, and the address.
    BitsAddress(u16, u16),
    /// Taken, not taken.
    Branch(u16, u16),
    /// Taken (and the target's bytes), not taken.
    BranchTarget(u16, u16),
    /// n and the target's bytes.
    Jump(u16),
    /// n, the target's bytes and the address.
    JumpAddress(u16),
    /// n and this many a repetition.
    Repeated(u16, u16),
    /// Level 0, level 1, beyond: n and this many a level after the first.
    Frame(u16, u16, u16, u16),
}

/// One form.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct TimingRow {
    /// Instructions.
    pub class: Class,
    /// Operands.
    pub shape: Shape,
    /// 8086 and 8088.
    pub p8086: Published,
    /// Transfers of the 8086, a repetition's for repeated strings.
    pub transfers: u8,
    /// 80186.
    pub p80186: Published,
    /// 80286.
    pub p80286: Published,
    /// 80386.
    pub p80386: Published,
}

const fn row(
    class: Class,
    shape: Shape,
    p8086: Published,
    transfers: u8,
    p80186: Published,
    p80286: Published,
    p80386: Published,
) -> TimingRow {
    TimingRow { class, shape, p8086, transfers, p80186, p80286, p80386 }
}

use Class::{
    Arithmetic, BitChange, BitScan, Complement, DoubleShift, FlagBit, LoadPointer, Only, RepeatedString, Step,
};
use Operation as Op;
use Published::{
    Address, Between, BetweenAddress, Bits, BitsAddress, Branch, BranchTarget, ByWidth, ByWidthAddress, EarlyOut,
    EarlyOutAddress, Flat, Frame, Jump, JumpAddress, Repeated,
};

/// Every form of the tables, in columns: 8086 and 8088, their transfers, 80186, 80286, 80386.
pub const ROWS: &[TimingRow] = &[
    // Transfers.
    row(Only(Op::Mov), Shape::MemoryAccumulator, Flat(10), 1, Flat(9), Flat(3), Flat(2)),
    row(Only(Op::Mov), Shape::AccumulatorMemory, Flat(10), 1, Flat(8), Flat(5), Flat(4)),
    row(Only(Op::Mov), Shape::RegisterRegister, Flat(2), 0, Flat(2), Flat(2), Flat(2)),
    row(Only(Op::Mov), Shape::RegisterMemory, Address(8), 1, Flat(9), Address(5), Address(4)),
    row(Only(Op::Mov), Shape::MemoryRegister, Address(9), 1, Flat(12), Address(3), Address(2)),
    row(Only(Op::Mov), Shape::RegisterImmediate, Flat(4), 0, ByWidth(3, 4), Flat(2), Flat(2)),
    row(Only(Op::Mov), Shape::MemoryImmediate, Address(10), 1, ByWidth(12, 13), Address(3), Address(2)),
    row(Only(Op::Mov), Shape::SegmentRegister, Flat(2), 0, Flat(2), Flat(2), Flat(2)),
    row(Only(Op::Mov), Shape::SegmentMemory, Address(8), 1, Flat(9), Address(5), Address(5)),
    row(Only(Op::Mov), Shape::RegisterSegment, Flat(2), 0, Flat(2), Flat(2), Flat(2)),
    row(Only(Op::Mov), Shape::MemorySegment, Address(9), 1, Flat(11), Address(3), Address(2)),
    row(Only(Op::Push), Shape::Register, Flat(11), 1, Flat(10), Flat(3), Flat(2)),
    row(Only(Op::Push), Shape::Segment, Flat(10), 1, Flat(9), Flat(3), Flat(2)),
    row(Only(Op::Push), Shape::Memory, Address(16), 2, Flat(16), Address(5), Address(5)),
    row(Only(Op::Push), Shape::Immediate, Published::None, 1, Flat(10), Flat(3), Flat(2)),
    row(Only(Op::Pusha), Shape::Plain, Published::None, 8, Flat(36), Flat(17), Flat(18)),
    row(Only(Op::Popa), Shape::Plain, Published::None, 8, Flat(51), Flat(19), Flat(24)),
    row(Only(Op::Pop), Shape::Register, Flat(8), 1, Flat(10), Flat(5), Flat(4)),
    row(Only(Op::Pop), Shape::Segment, Flat(8), 1, Flat(8), Flat(5), Flat(7)),
    row(Only(Op::Pop), Shape::Memory, Address(17), 2, Flat(20), Address(5), Address(5)),
    row(Only(Op::Pushf), Shape::Plain, Flat(10), 1, Flat(9), Flat(3), Flat(4)),
    row(Only(Op::Popf), Shape::Plain, Flat(8), 1, Flat(8), Flat(5), Flat(5)),
    row(Only(Op::Xchg), Shape::AccumulatorRegister, Flat(3), 0, Flat(3), Flat(3), Flat(3)),
    row(Only(Op::Xchg), Shape::MemoryRegister, Address(17), 2, Flat(17), Address(5), Address(5)),
    row(Only(Op::Xchg), Shape::RegisterRegister, Flat(4), 0, Flat(4), Flat(3), Flat(3)),
    row(Only(Op::Nop), Shape::Plain, Flat(3), 0, Flat(3), Flat(3), Flat(3)),
    row(Only(Op::In), Shape::FixedPort, Flat(10), 1, Flat(10), Flat(5), Flat(12)),
    row(Only(Op::In), Shape::Port, Flat(8), 1, Flat(8), Flat(5), Flat(13)),
    row(Only(Op::Out), Shape::FixedPort, Flat(10), 1, Flat(9), Flat(3), Flat(10)),
    row(Only(Op::Out), Shape::Port, Flat(8), 1, Flat(7), Flat(3), Flat(11)),
    row(Only(Op::Xlat), Shape::Plain, Flat(11), 1, Flat(11), Flat(5), Flat(5)),
    row(Only(Op::Lea), Shape::RegisterMemory, Address(2), 0, Flat(6), Address(3), Address(2)),
    row(LoadPointer, Shape::RegisterMemory, Address(16), 2, Flat(18), Address(7), Address(7)),
    row(Only(Op::Lahf), Shape::Plain, Flat(4), 0, Flat(2), Flat(2), Flat(2)),
    row(Only(Op::Sahf), Shape::Plain, Flat(4), 0, Flat(3), Flat(2), Flat(3)),
    // Arithmetic and logic.
    row(Arithmetic, Shape::RegisterRegister, Flat(3), 0, Flat(3), Flat(2), Flat(2)),
    row(Arithmetic, Shape::RegisterMemory, Address(9), 1, Flat(10), Address(7), Address(6)),
    row(Arithmetic, Shape::MemoryRegister, Address(16), 2, Flat(10), Address(7), Address(7)),
    row(Arithmetic, Shape::RegisterImmediate, Flat(4), 0, Flat(4), Flat(3), Flat(2)),
    row(Arithmetic, Shape::MemoryImmediate, Address(17), 2, Flat(16), Address(7), Address(7)),
    row(Arithmetic, Shape::AccumulatorImmediate, Flat(4), 0, ByWidth(3, 4), Flat(3), Flat(2)),
    row(Only(Op::Cmp), Shape::RegisterRegister, Flat(3), 0, Flat(3), Flat(2), Flat(2)),
    row(Only(Op::Cmp), Shape::RegisterMemory, Address(9), 1, Flat(10), Address(6), Address(6)),
    row(Only(Op::Cmp), Shape::MemoryRegister, Address(9), 1, Flat(10), Address(7), Address(5)),
    row(Only(Op::Cmp), Shape::RegisterImmediate, Flat(4), 0, Flat(3), Flat(3), Flat(2)),
    row(Only(Op::Cmp), Shape::MemoryImmediate, Address(10), 1, Flat(10), Address(6), Address(5)),
    row(Only(Op::Cmp), Shape::AccumulatorImmediate, Flat(4), 0, ByWidth(3, 4), Flat(3), Flat(2)),
    row(Only(Op::Test), Shape::RegisterRegister, Flat(3), 0, Flat(3), Flat(2), Flat(2)),
    row(Only(Op::Test), Shape::MemoryRegister, Address(9), 1, Flat(10), Address(6), Address(5)),
    row(Only(Op::Test), Shape::AccumulatorImmediate, Flat(4), 0, ByWidth(3, 4), Flat(3), Flat(2)),
    row(Only(Op::Test), Shape::RegisterImmediate, Flat(5), 0, Flat(4), Flat(3), Flat(2)),
    row(Only(Op::Test), Shape::MemoryImmediate, Address(11), 1, Flat(10), Address(6), Address(5)),
    row(Step, Shape::Register, Flat(2), 0, Flat(3), Flat(2), Flat(2)),
    row(Step, Shape::RegisterByte, Flat(3), 0, Flat(3), Flat(2), Flat(2)),
    row(Step, Shape::Memory, Address(15), 2, Flat(15), Address(7), Address(6)),
    row(Complement, Shape::Register, Flat(3), 0, Flat(3), Flat(2), Flat(2)),
    row(Complement, Shape::RegisterByte, Flat(3), 0, Flat(3), Flat(2), Flat(2)),
    row(Complement, Shape::Memory, Address(16), 2, Flat(10), Address(7), Address(6)),
    row(Only(Op::Mul), Shape::RegisterByte, Between(70, 77), 0, Between(26, 28), Flat(13), EarlyOut(9)),
    row(Only(Op::Mul), Shape::Register, Between(118, 133), 0, Between(35, 37), Flat(21), EarlyOut(9)),
    row(Only(Op::Mul), Shape::MemoryByte, BetweenAddress(76, 83), 1, Between(32, 34), Address(16), EarlyOutAddress(12)),
    row(Only(Op::Mul), Shape::Memory, BetweenAddress(124, 139), 1, Between(41, 43), Address(24), EarlyOutAddress(12)),
    row(Only(Op::Imul), Shape::RegisterByte, Between(80, 98), 0, Between(25, 28), Flat(13), EarlyOut(9)),
    row(Only(Op::Imul), Shape::Register, Between(128, 154), 0, Between(34, 37), Flat(21), EarlyOut(9)),
    row(
        Only(Op::Imul),
        Shape::MemoryByte,
        BetweenAddress(86, 104),
        1,
        Between(31, 34),
        Address(16),
        EarlyOutAddress(12),
    ),
    row(Only(Op::Imul), Shape::Memory, BetweenAddress(134, 160), 1, Between(40, 43), Address(24), EarlyOutAddress(12)),
    row(Only(Op::ImulImmediate), Shape::Register, Published::None, 0, Between(22, 25), Flat(21), EarlyOut(9)),
    row(Only(Op::ImulImmediate), Shape::Memory, Published::None, 1, Between(29, 32), Address(24), EarlyOutAddress(12)),
    row(Only(Op::Div), Shape::RegisterByte, Between(80, 90), 0, Flat(29), Flat(14), Flat(14)),
    row(Only(Op::Div), Shape::Register, Between(144, 162), 0, Flat(38), Flat(22), ByWidth(22, 38)),
    row(Only(Op::Div), Shape::MemoryByte, BetweenAddress(86, 96), 1, Flat(35), Address(17), Address(17)),
    row(Only(Op::Div), Shape::Memory, BetweenAddress(150, 168), 1, Flat(44), Address(25), ByWidthAddress(25, 41)),
    row(Only(Op::Idiv), Shape::RegisterByte, Between(101, 112), 0, Between(44, 52), Flat(17), Flat(19)),
    row(Only(Op::Idiv), Shape::Register, Between(165, 184), 0, Between(53, 61), Flat(25), ByWidth(27, 43)),
    row(Only(Op::Idiv), Shape::MemoryByte, BetweenAddress(107, 118), 1, Between(50, 58), Address(20), Address(22)),
    row(
        Only(Op::Idiv),
        Shape::Memory,
        BetweenAddress(171, 190),
        1,
        Between(59, 67),
        Address(28),
        ByWidthAddress(30, 46),
    ),
    row(Only(Op::Aaa), Shape::Plain, Flat(4), 0, Flat(8), Flat(3), Flat(4)),
    row(Only(Op::Aas), Shape::Plain, Flat(4), 0, Flat(7), Flat(3), Flat(4)),
    row(Only(Op::Daa), Shape::Plain, Flat(4), 0, Flat(4), Flat(3), Flat(4)),
    row(Only(Op::Das), Shape::Plain, Flat(4), 0, Flat(4), Flat(3), Flat(4)),
    row(Only(Op::Aam), Shape::Immediate, Flat(83), 0, Flat(19), Flat(16), Flat(17)),
    row(Only(Op::Aad), Shape::Immediate, Flat(60), 0, Flat(15), Flat(14), Flat(19)),
    row(Only(Op::Cbw), Shape::Plain, Flat(2), 0, Flat(2), Flat(2), Flat(3)),
    row(Only(Op::Cwd), Shape::Plain, Flat(5), 0, Flat(4), Flat(2), Flat(2)),
    row(Class::Shift, Shape::RegisterOne, Flat(2), 0, Flat(2), Flat(2), Flat(3)),
    row(Class::ShiftThroughCarry, Shape::RegisterOne, Flat(2), 0, Flat(2), Flat(2), Flat(9)),
    row(Class::Shift, Shape::MemoryOne, Address(15), 2, Flat(15), Address(7), Address(7)),
    row(Class::ShiftThroughCarry, Shape::MemoryOne, Address(15), 2, Flat(15), Address(7), Address(10)),
    row(Class::Shift, Shape::RegisterCount, Bits(8, 4), 0, Bits(5, 1), Bits(5, 1), Flat(3)),
    row(Class::ShiftThroughCarry, Shape::RegisterCount, Bits(8, 4), 0, Bits(5, 1), Bits(5, 1), Flat(9)),
    row(Class::Shift, Shape::MemoryCount, BitsAddress(20, 4), 2, Bits(17, 1), BitsAddress(8, 1), Address(7)),
    row(
        Class::ShiftThroughCarry,
        Shape::MemoryCount,
        BitsAddress(20, 4),
        2,
        Bits(17, 1),
        BitsAddress(8, 1),
        Address(10),
    ),
    // Strings.
    row(Only(Op::Movs), Shape::Plain, Flat(18), 2, Flat(14), Flat(5), Flat(7)),
    row(Only(Op::Cmps), Shape::Plain, Flat(22), 2, Flat(22), Flat(8), Flat(10)),
    row(Only(Op::Scas), Shape::Plain, Flat(15), 1, Flat(15), Flat(7), Flat(7)),
    row(Only(Op::Lods), Shape::Plain, Flat(12), 1, Flat(12), Flat(5), Flat(5)),
    row(Only(Op::Stos), Shape::Plain, Flat(11), 1, Flat(10), Flat(3), Flat(4)),
    row(Only(Op::Ins), Shape::Plain, Published::None, 2, Flat(14), Flat(5), Flat(15)),
    row(Only(Op::Outs), Shape::Plain, Published::None, 2, Flat(14), Flat(5), Flat(14)),
    row(RepeatedString(Op::Movs), Shape::Plain, Repeated(9, 17), 2, Repeated(8, 8), Repeated(5, 4), Repeated(5, 4)),
    row(RepeatedString(Op::Cmps), Shape::Plain, Repeated(9, 22), 2, Repeated(5, 22), Repeated(5, 9), Repeated(5, 9)),
    row(RepeatedString(Op::Scas), Shape::Plain, Repeated(9, 15), 1, Repeated(5, 15), Repeated(5, 8), Repeated(5, 8)),
    row(RepeatedString(Op::Lods), Shape::Plain, Repeated(9, 13), 1, Repeated(6, 11), Repeated(5, 4), Repeated(5, 6)),
    row(RepeatedString(Op::Stos), Shape::Plain, Repeated(9, 10), 1, Repeated(6, 9), Repeated(4, 3), Repeated(5, 5)),
    row(RepeatedString(Op::Ins), Shape::Plain, Published::None, 2, Repeated(8, 8), Repeated(5, 4), Repeated(13, 6)),
    row(RepeatedString(Op::Outs), Shape::Plain, Published::None, 2, Repeated(8, 8), Repeated(5, 4), Repeated(5, 12)),
    // Control.
    row(Only(Op::CallNear), Shape::Plain, Flat(19), 1, Flat(15), Jump(7), Jump(7)),
    row(Only(Op::CallNearIndirect), Shape::Register, Flat(16), 1, Flat(13), Jump(7), Jump(7)),
    row(Only(Op::CallNearIndirect), Shape::Memory, Address(21), 2, Flat(19), JumpAddress(11), JumpAddress(10)),
    row(Only(Op::CallFar), Shape::Plain, Flat(28), 2, Flat(23), Jump(13), Jump(17)),
    row(Only(Op::CallFarIndirect), Shape::Memory, Address(37), 4, Flat(38), JumpAddress(16), JumpAddress(22)),
    row(Only(Op::JmpNear), Shape::Plain, Flat(15), 0, Flat(14), Jump(7), Jump(7)),
    row(Only(Op::JmpNearIndirect), Shape::Register, Flat(11), 0, Flat(11), Jump(7), Jump(7)),
    row(Only(Op::JmpNearIndirect), Shape::Memory, Address(18), 1, Flat(17), JumpAddress(11), JumpAddress(10)),
    row(Only(Op::JmpFar), Shape::Plain, Flat(15), 0, Flat(14), Jump(11), Jump(12)),
    row(Only(Op::JmpFarIndirect), Shape::Memory, Address(24), 2, Flat(26), JumpAddress(15), JumpAddress(17)),
    row(Only(Op::Ret), Shape::Plain, Flat(16), 1, Flat(16), Jump(11), Jump(10)),
    row(Only(Op::Ret), Shape::Releasing, Flat(20), 1, Flat(18), Jump(11), Jump(10)),
    row(Only(Op::Retf), Shape::Plain, Flat(26), 2, Flat(22), Jump(15), Jump(18)),
    row(Only(Op::Retf), Shape::Releasing, Flat(25), 2, Flat(25), Jump(15), Jump(18)),
    row(Only(Op::Jcc), Shape::Plain, Branch(16, 4), 0, Branch(13, 4), BranchTarget(7, 3), BranchTarget(7, 3)),
    row(Only(Op::Loop), Shape::Plain, Branch(17, 5), 0, Branch(16, 6), BranchTarget(8, 4), BranchTarget(11, 11)),
    row(Only(Op::Loope), Shape::Plain, Branch(18, 6), 0, Branch(16, 6), BranchTarget(8, 4), BranchTarget(11, 11)),
    row(Only(Op::Loopne), Shape::Plain, Branch(19, 5), 0, Branch(16, 6), BranchTarget(8, 4), BranchTarget(11, 11)),
    row(Only(Op::Jcxz), Shape::Plain, Branch(18, 6), 0, Branch(16, 6), BranchTarget(8, 4), BranchTarget(9, 5)),
    row(Only(Op::Int), Shape::Immediate, Flat(51), 5, Flat(47), Jump(23), Flat(37)),
    row(Only(Op::Int3), Shape::Plain, Flat(52), 5, Flat(45), Jump(23), Flat(33)),
    row(Only(Op::Into), Shape::Plain, Branch(53, 4), 5, Branch(48, 4), BranchTarget(24, 3), Branch(35, 3)),
    row(Only(Op::Iret), Shape::Plain, Flat(32), 3, Flat(28), Jump(17), Flat(22)),
    row(Only(Op::Bound), Shape::RegisterMemory, Published::None, 2, Between(33, 35), Address(13), Address(10)),
    row(
        Only(Op::Enter),
        Shape::Immediate,
        Published::None,
        1,
        Frame(15, 25, 22, 16),
        Frame(11, 15, 16, 4),
        Frame(10, 12, 15, 4),
    ),
    row(Only(Op::Leave), Shape::Plain, Published::None, 1, Flat(8), Flat(5), Flat(4)),
    // Flags and the processor itself.
    row(FlagBit, Shape::Plain, Flat(2), 0, Flat(2), Flat(2), Flat(2)),
    row(Only(Op::Cli), Shape::Plain, Flat(2), 0, Flat(2), Flat(3), Flat(3)),
    row(Only(Op::Sti), Shape::Plain, Flat(2), 0, Flat(2), Flat(2), Flat(3)),
    row(Only(Op::Hlt), Shape::Plain, Flat(2), 0, Flat(2), Flat(2), Flat(5)),
    row(Only(Op::Wait), Shape::Plain, Flat(3), 0, Flat(6), Flat(3), Flat(6)),
    row(Only(Op::Esc), Shape::Plain, Flat(2), 0, Flat(6), Flat(9), Flat(9)),
    row(Only(Op::Esc), Shape::Memory, Address(8), 1, Flat(6), Address(9), Address(9)),
    row(Only(Op::Sgdt), Shape::Memory, Published::None, 3, Published::None, Address(11), Address(9)),
    row(Only(Op::Sidt), Shape::Memory, Published::None, 3, Published::None, Address(12), Address(9)),
    row(Only(Op::Lgdt), Shape::Memory, Published::None, 3, Published::None, Address(11), Address(11)),
    row(Only(Op::Lidt), Shape::Memory, Published::None, 3, Published::None, Address(12), Address(11)),
    row(Only(Op::Smsw), Shape::Register, Published::None, 0, Published::None, Flat(2), Flat(2)),
    row(Only(Op::Smsw), Shape::Memory, Published::None, 1, Published::None, Address(3), Address(3)),
    row(Only(Op::Lmsw), Shape::Register, Published::None, 0, Published::None, Flat(3), Flat(10)),
    row(Only(Op::Lmsw), Shape::Memory, Published::None, 1, Published::None, Address(6), Address(13)),
    row(Only(Op::Clts), Shape::Plain, Published::None, 0, Published::None, Flat(2), Flat(5)),
    // Added with the 80386.
    row(Only(Op::Movzx), Shape::RegisterRegister, Published::None, 0, Published::None, Published::None, Flat(3)),
    row(Only(Op::Movzx), Shape::RegisterMemory, Published::None, 0, Published::None, Published::None, Address(6)),
    row(Only(Op::Movsx), Shape::RegisterRegister, Published::None, 0, Published::None, Published::None, Flat(3)),
    row(Only(Op::Movsx), Shape::RegisterMemory, Published::None, 0, Published::None, Published::None, Address(6)),
    row(
        Only(Op::ImulRegister),
        Shape::RegisterRegister,
        Published::None,
        0,
        Published::None,
        Published::None,
        EarlyOut(9),
    ),
    row(
        Only(Op::ImulRegister),
        Shape::RegisterMemory,
        Published::None,
        0,
        Published::None,
        Published::None,
        EarlyOutAddress(12),
    ),
    row(DoubleShift, Shape::RegisterRegister, Published::None, 0, Published::None, Published::None, Flat(3)),
    row(DoubleShift, Shape::MemoryRegister, Published::None, 0, Published::None, Published::None, Address(7)),
    row(Only(Op::Bt), Shape::RegisterImmediate, Published::None, 0, Published::None, Published::None, Flat(3)),
    row(Only(Op::Bt), Shape::MemoryImmediate, Published::None, 0, Published::None, Published::None, Address(6)),
    row(Only(Op::Bt), Shape::RegisterRegister, Published::None, 0, Published::None, Published::None, Flat(3)),
    row(Only(Op::Bt), Shape::MemoryRegister, Published::None, 0, Published::None, Published::None, Address(12)),
    row(BitChange, Shape::RegisterImmediate, Published::None, 0, Published::None, Published::None, Flat(6)),
    row(BitChange, Shape::MemoryImmediate, Published::None, 0, Published::None, Published::None, Address(8)),
    row(BitChange, Shape::RegisterRegister, Published::None, 0, Published::None, Published::None, Flat(6)),
    row(BitChange, Shape::MemoryRegister, Published::None, 0, Published::None, Published::None, Address(13)),
    row(BitScan, Shape::RegisterRegister, Published::None, 0, Published::None, Published::None, Bits(10, 3)),
    row(BitScan, Shape::RegisterMemory, Published::None, 0, Published::None, Published::None, BitsAddress(10, 3)),
    row(Only(Op::Setcc), Shape::RegisterByte, Published::None, 0, Published::None, Published::None, Flat(4)),
    row(Only(Op::Setcc), Shape::Memory, Published::None, 0, Published::None, Published::None, Address(5)),
    row(Only(Op::LoadControl), Shape::Register, Published::None, 0, Published::None, Published::None, Flat(10)),
    row(Only(Op::StoreControl), Shape::Register, Published::None, 0, Published::None, Published::None, Flat(6)),
    row(Only(Op::LoadDebug), Shape::Register, Published::None, 0, Published::None, Published::None, Flat(22)),
    row(Only(Op::StoreDebug), Shape::Register, Published::None, 0, Published::None, Published::None, Flat(22)),
    row(Only(Op::LoadTest), Shape::Register, Published::None, 0, Published::None, Published::None, Flat(12)),
    row(Only(Op::StoreTest), Shape::Register, Published::None, 0, Published::None, Published::None, Flat(12)),
];

impl TimingRow {
    /// The figure for a model.
    #[must_use]
    pub fn figure(&self, model: Model) -> Published {
        match model {
            Model::P8088 | Model::P8086 => self.p8086,
            Model::P80186 => self.p80186,
            Model::P80286 => self.p80286,
            Model::P80386 => self.p80386,
        }
    }
}

/// The row of a class and kind of operands, where the tables have one.
#[must_use]
pub fn row_of(class: Class, shape: Shape) -> Option<&'static TimingRow> {
    ROWS.iter().find(|row| row.class == class && row.shape == shape)
}

/// Title of the publication a model's figures come from.
#[must_use]
pub fn source(model: Model) -> &'static str {
    match model {
        Model::P8088 | Model::P8086 => "The 8086 Family User's Manual",
        Model::P80186 => "iAPX 186 High Integration 16-Bit Microprocessor (data sheet)",
        Model::P80286 => "iAPX 286 Programmer's Reference",
        Model::P80386 => "80386 Programmer's Reference Manual",
    }
}
