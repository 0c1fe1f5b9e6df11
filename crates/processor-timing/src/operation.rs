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
    Lss,
    Lfs,
    Lgs,
    /// Into a wider register, zeros above (80386).
    Movzx,
    /// Into a wider register, the sign above (80386).
    Movsx,
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
    /// Signed product of an operand and an immediate one into a register, the upper half lost (80186).
    ImulImmediate,
    /// Signed product of a register and an operand into that register, the upper half lost (80386).
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
    Shld,
    Shrd,
    // bits (80386)
    Bt,
    Bts,
    Btr,
    Btc,
    Bsf,
    Bsr,
    /// A byte that says whether a condition holds; `second` holds the condition as encoded.
    Setcc,
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
    /// An instruction for a coprocessor, which is not present: its operand is read, no more.
    Esc,
    Nop,
    Sgdt,
    Sidt,
    Lgdt,
    Lidt,
    Smsw,
    Lmsw,
    Clts,
    /// Into a control register; `second` holds its number (80386).
    LoadControl,
    /// Out of a control register.
    StoreControl,
    /// Into a debug register.
    LoadDebug,
    /// Out of a debug register.
    StoreDebug,
    /// Into a test register.
    LoadTest,
    /// Out of a test register.
    StoreTest,
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
