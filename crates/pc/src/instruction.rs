//! One instruction, decoded: what to do, with what, and what it costs.

use crate::cost::Cost;
use crate::registers::{Byte, Segment, Word};

/// What an instruction does.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[allow(missing_docs)]
pub enum Operation {
    // transfers
    Mov,
    Push,
    Pop,
    PushAll,
    PopAll,
    PushFlags,
    PopFlags,
    Exchange,
    In,
    Out,
    Translate,
    LoadAddress,
    LoadDs,
    LoadEs,
    LoadFlags,
    StoreFlags,
    // arithmetic and logic
    Add,
    Or,
    AddCarry,
    SubtractBorrow,
    And,
    Subtract,
    Xor,
    Compare,
    Test,
    Increment,
    Decrement,
    Negate,
    Not,
    Multiply,
    MultiplySigned,
    /// Signed product into a register, the upper half lost (80186).
    MultiplyInto,
    Divide,
    DivideSigned,
    AsciiAdd,
    AsciiSubtract,
    AsciiMultiply,
    AsciiDivide,
    DecimalAdd,
    DecimalSubtract,
    ByteToWord,
    WordToDouble,
    // shifts, numbered as encoded
    RotateLeft,
    RotateRight,
    RotateCarryLeft,
    RotateCarryRight,
    ShiftLeft,
    ShiftRight,
    ShiftArithmetic,
    // strings
    Move,
    CompareString,
    Scan,
    Load,
    Store,
    InString,
    OutString,
    // control
    CallNear,
    CallNearIndirect,
    CallFar,
    CallFarIndirect,
    JumpNear,
    JumpNearIndirect,
    JumpFar,
    JumpFarIndirect,
    Return,
    ReturnFar,
    /// Conditional jump; `second` holds the condition as encoded.
    JumpIf,
    Loop,
    LoopEqual,
    LoopNotEqual,
    JumpCountZero,
    Interrupt,
    /// The one-byte form of interrupt 3.
    InterruptThree,
    InterruptOverflow,
    InterruptReturn,
    Bound,
    Enter,
    Leave,
    // flags and the processor itself
    ClearCarry,
    ComplementCarry,
    SetCarry,
    ClearDirection,
    SetDirection,
    ClearInterrupt,
    SetInterrupt,
    Halt,
    Wait,
    /// An instruction for a coprocessor, which is not there: its operand is read, no more.
    Escape,
    NoOperation,
    StoreGlobalTable,
    StoreInterruptTable,
    LoadGlobalTable,
    LoadInterruptTable,
    StoreMachineStatus,
    LoadMachineStatus,
    ClearTaskSwitched,
    /// The machine's own: a service stands here; `immediate` holds its number.
    Service,
    /// No instruction of this model.
    Undefined,
    /// Longer than the model allows.
    TooLong,
}

/// Where an operand lies.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Operand {
    /// There is none, or the operation implies it.
    None,
    /// A byte register.
    Byte(Byte),
    /// A word register.
    Word(Word),
    /// A segment register.
    Segment(Segment),
    /// The instruction's memory operand.
    Memory,
    /// The value itself; bytes are in the low half, extended by sign where the encoding says so.
    Immediate(u16),
}

/// Registers that add up to an effective address.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
#[allow(missing_docs)]
pub enum Base {
    #[default]
    None,
    BxSi,
    BxDi,
    BpSi,
    BpDi,
    Si,
    Di,
    Bp,
    Bx,
}

/// A memory operand.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Memory {
    /// Segment it lies in, overrides taken in.
    pub segment: Segment,
    /// Registers added up.
    pub base: Base,
    /// Added to them.
    pub displacement: u16,
    /// Whether the encoding has a displacement, be it 0.
    pub displaced: bool,
}

/// Repeat prefix of a string instruction.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Repeat {
    /// None.
    #[default]
    No,
    /// While the count lasts, and, where it compares, while equal.
    WhileEqual,
    /// While the count lasts, and, where it compares, while not equal.
    WhileNotEqual,
}

/// One instruction, decoded.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Instruction {
    /// What it does.
    pub operation: Operation,
    /// Whether on words.
    pub wide: bool,
    /// Repeat prefix.
    pub repeat: Repeat,
    /// Bytes, prefixes included.
    pub length: u8,
    /// Prefix bytes.
    pub prefixes: u8,
    /// Where the result goes, or the only operand.
    pub destination: Operand,
    /// The other operand.
    pub source: Operand,
    /// The memory operand, where one of them is in memory; its segment is also that of string sources.
    pub memory: Memory,
    /// Third operand: multiplier, bytes to release or reserve, interrupt number, far
    /// target's offset, or distance of a near target from the next instruction.
    pub immediate: u16,
    /// Fourth: segment of a far target, nesting level, condition.
    pub second: u16,
    /// Clocks.
    pub cost: Cost,
}

impl Instruction {
    /// Whether one of its operands lies in memory that its encoding addresses.
    #[must_use]
    pub fn has_memory(&self) -> bool {
        self.destination == Operand::Memory || self.source == Operand::Memory
    }
}

impl Operation {
    /// Whether it is a string operation: one a repeat prefix repeats.
    #[must_use]
    pub fn is_string(self) -> bool {
        use Operation::*;
        matches!(self, Move | CompareString | Scan | Load | Store | InString | OutString)
    }
}
