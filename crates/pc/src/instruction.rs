//! One instruction, decoded: what to do, with what, and what it costs.

pub use backporch_processor_timing::Operation;

use crate::cost::Cost;
use crate::registers::{Byte, Far, Registers, Segment, Word};

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
    /// Bytes of the displacement in the encoding: 0, 1 or 2.
    pub displacement_bytes: u8,
}

impl Memory {
    /// The effective address.
    #[inline]
    #[must_use]
    pub fn offset(&self, registers: &Registers) -> u16 {
        let word = |register| registers.word(register);
        let base = match self.base {
            Base::None => 0,
            Base::BxSi => word(Word::Bx).wrapping_add(word(Word::Si)),
            Base::BxDi => word(Word::Bx).wrapping_add(word(Word::Di)),
            Base::BpSi => word(Word::Bp).wrapping_add(word(Word::Si)),
            Base::BpDi => word(Word::Bp).wrapping_add(word(Word::Di)),
            Base::Si => word(Word::Si),
            Base::Di => word(Word::Di),
            Base::Bp => word(Word::Bp),
            Base::Bx => word(Word::Bx),
        };
        base.wrapping_add(self.displacement)
    }

    /// Segment and effective address.
    #[inline]
    #[must_use]
    pub fn place(&self, registers: &Registers) -> Far {
        Far::new(registers.segment(self.segment), self.offset(registers))
    }

    /// Whether the encoding has a displacement, be it 0.
    #[must_use]
    pub fn is_displaced(&self) -> bool {
        self.displacement_bytes > 0
    }
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
    /// Whether a second byte encodes operands.
    pub modrm: bool,
    /// Bytes of the encoding after opcode, second byte and displacement.
    pub immediate_bytes: u8,
    /// Whether a byte of them is extended to a word: by its sign, or as the distance of a jump.
    pub extends_immediate: bool,
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
