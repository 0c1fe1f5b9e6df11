//! One instruction, decoded: what to do, with what, and what it costs.

pub use backporch_processor_timing::Operation;

use crate::cost::ClockCost;
use crate::registers::{Byte, CpuRegisters, Far, SegmentRegister, Word};
use crate::size::Size;

/// Where an operand lies.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Operand {
    /// There is none, or the operation implies it.
    None,
    /// A byte register.
    Byte(Byte),
    /// A word register.
    Word(Word),
    /// A word register with its upper half (80386).
    Double(Word),
    /// A segment register.
    Segment(SegmentRegister),
    /// The instruction's memory operand.
    Memory,
    /// The instruction's immediate value.
    Immediate,
}

/// Registers that add up to an effective address.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
#[allow(missing_docs)]
pub enum BaseRegister {
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
    /// An address of 32 bits: a register, and another one shifted to the left (80386).
    Double {
        base: Option<Word>,
        index: Option<Word>,
        shift: u8,
    },
}

impl BaseRegister {
    /// Whether two registers add up.
    #[must_use]
    pub fn is_sum(self) -> bool {
        matches!(
            self,
            Self::BxSi | Self::BxDi | Self::BpSi | Self::BpDi | Self::Double { base: Some(_), index: Some(_), .. }
        )
    }
}

/// A memory operand.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct MemoryOperand {
    /// Segment it lies in, overrides taken in.
    pub segment: SegmentRegister,
    /// Registers added up.
    pub base: BaseRegister,
    /// Added to them.
    pub displacement: u32,
    /// Bytes of the displacement in the encoding: 0, 1, 2 or 4.
    pub displacement_bytes: u8,
}

impl MemoryOperand {
    /// The effective address; those of 16 bits wrap, those of 32 may lie beyond any segment of real mode.
    #[inline]
    #[must_use]
    pub fn offset(&self, registers: &CpuRegisters) -> u32 {
        let word = |register| registers.word(register);
        let base = match self.base {
            BaseRegister::None => 0,
            BaseRegister::BxSi => word(Word::Bx).wrapping_add(word(Word::Si)),
            BaseRegister::BxDi => word(Word::Bx).wrapping_add(word(Word::Di)),
            BaseRegister::BpSi => word(Word::Bp).wrapping_add(word(Word::Si)),
            BaseRegister::BpDi => word(Word::Bp).wrapping_add(word(Word::Di)),
            BaseRegister::Si => word(Word::Si),
            BaseRegister::Di => word(Word::Di),
            BaseRegister::Bp => word(Word::Bp),
            BaseRegister::Bx => word(Word::Bx),
            BaseRegister::Double { base, index, shift } => {
                let of = |register: Option<Word>| register.map_or(0, |register| registers.double(register));
                return of(base).wrapping_add(of(index) << shift).wrapping_add(self.displacement);
            }
        };
        u32::from(base.wrapping_add(self.displacement as u16))
    }

    /// Segment and effective address, where the latter lies in it.
    #[inline]
    #[must_use]
    pub fn place(&self, registers: &CpuRegisters) -> Option<Far> {
        let offset = u16::try_from(self.offset(registers)).ok()?;
        Some(Far::new(registers.segment(self.segment), offset))
    }

    /// Whether the encoding has a displacement, be it 0.
    #[must_use]
    pub fn is_displaced(&self) -> bool {
        self.displacement_bytes > 0
    }
}

/// Repeat prefix of a string instruction.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum RepeatPrefix {
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
    /// On how much.
    pub size: Size,
    /// Whether addresses, counts and indices have 32 bits.
    pub wide_address: bool,
    /// Repeat prefix.
    pub repeat: RepeatPrefix,
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
    pub memory: MemoryOperand,
    /// The immediate value (a byte extended by its sign where the encoding says so), bytes to release or reserve, interrupt
    /// number, far target's offset, or distance of a near target from the next instruction.
    pub immediate: u32,
    /// What else there is: segment of a far target, nesting level, condition, number of a control register, bits of an
    /// operand to be extended.
    pub second: u16,
    /// Clocks.
    pub cost: ClockCost,
}

impl Instruction {
    /// Whether one of its operands lies in memory that its encoding addresses.
    #[must_use]
    pub fn has_memory(&self) -> bool {
        self.destination == Operand::Memory || self.source == Operand::Memory
    }
}
