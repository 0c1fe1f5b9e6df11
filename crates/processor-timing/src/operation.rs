//! What instructions do, by their mnemonics.

/// What an instruction does.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[allow(missing_docs)]
pub enum Operation {
    // transfers
    Mov,
    Push,
    Pop,
    Pusha,
    Popa,
    Pushf,
    Popf,
    Xchg,
    In,
    Out,
    Xlat,
    Lea,
    Lds,
    Les,
    Lahf,
    Sahf,
    // arithmetic and logic
    Add,
    Or,
    Adc,
    Sbb,
    And,
    Sub,
    Xor,
    Cmp,
    Test,
    Inc,
    Dec,
    Neg,
    Not,
    Mul,
    Imul,
    /// Signed product into a register, the upper half lost (80186).
    ImulRegister,
    Div,
    Idiv,
    Aaa,
    Aas,
    Aam,
    Aad,
    Daa,
    Das,
    Cbw,
    Cwd,
    // shifts, numbered as encoded
    Rol,
    Ror,
    Rcl,
    Rcr,
    Shl,
    Shr,
    Sar,
    // strings
    Movs,
    Cmps,
    Scas,
    Lods,
    Stos,
    Ins,
    Outs,
    // control
    CallNear,
    CallNearIndirect,
    CallFar,
    CallFarIndirect,
    JmpNear,
    JmpNearIndirect,
    JmpFar,
    JmpFarIndirect,
    Ret,
    Retf,
    /// Conditional jump; `second` holds the condition as encoded.
    Jcc,
    Loop,
    Loope,
    Loopne,
    Jcxz,
    Int,
    /// The one-byte form of interrupt 3.
    Int3,
    Into,
    Iret,
    Bound,
    Enter,
    Leave,
    // flags and the processor itself
    Clc,
    Cmc,
    Stc,
    Cld,
    Std,
    Cli,
    Sti,
    Hlt,
    Wait,
    /// An instruction for a coprocessor, which is not there: its operand is read, no more.
    Esc,
    Nop,
    Sgdt,
    Sidt,
    Lgdt,
    Lidt,
    Smsw,
    Lmsw,
    Clts,
    /// The machine's own: a service stands here; `immediate` holds its number.
    Service,
    /// No instruction of this model.
    Undefined,
    /// Longer than the model allows.
    TooLong,
}

impl Operation {
    /// Whether it is a string operation: one a repeat prefix repeats.
    #[must_use]
    pub fn is_string(self) -> bool {
        use Operation::*;
        matches!(self, Movs | Cmps | Scas | Lods | Stos | Ins | Outs)
    }

    /// Whether what lies behind it is not decoded ahead: execution goes elsewhere, or ends.
    #[must_use]
    pub fn ends_decoding(self) -> bool {
        use Operation::*;
        matches!(
            self,
            CallNear
                | CallNearIndirect
                | CallFar
                | CallFarIndirect
                | JmpNear
                | JmpNearIndirect
                | JmpFar
                | JmpFarIndirect
                | Ret
                | Retf
                | Iret
                | Int
                | Int3
                | Hlt
                | Undefined
                | TooLong
        )
    }
}
