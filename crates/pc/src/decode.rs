//! Bytes to instructions: `iced-x86` decodes, this says what of it the model has.
//!
//! Prefixes are taken off first, since they are the same for every model and
//! old processors allow any number in any order; the rest, an opcode with its
//! operands, is decoded as 16-bit code and mapped to an [`Instruction`]. What
//! came with later processors, and what the manuals leave undefined, becomes
//! [`Operation::Undefined`].

use iced_x86::{Code, Decoder, DecoderOptions, Instruction as Raw, MemorySize, Mnemonic, OpKind, Register};

use crate::clocks;
use crate::cost::Cost;
use crate::instruction::{Base, Instruction, Memory, Operand, Operation, Repeat};
use crate::model::Model;
use crate::registers::{Byte, Segment, Word};

/// Longest instruction of the 80286, prefixes included; a longer one raises
/// interrupt 13 (iAPX 286 Programmer's Reference, real-address mode). The
/// 8086 has no limit; the bench gives up there.
pub const LONGEST: u8 = 10;

/// Longest run of prefixes followed on a processor without a limit.
const MOST_PREFIXES: u8 = 14;

/// Bytes after the prefixes that can belong to one instruction.
const BODY: usize = 6;

/// Prefixes of one instruction.
#[derive(Clone, Copy, Debug, Default)]
struct Prefixes {
    count: u8,
    segment: Option<Segment>,
    repeat: Repeat,
    lock: bool,
}

/// Decodes the instruction at offset `ip` of a segment; `fetch` gives the byte at an offset.
#[must_use]
pub fn decode(model: Model, ip: u16, fetch: impl Fn(u16) -> u8) -> Instruction {
    let Some(prefixes) = Prefixes::read(ip, &fetch) else {
        return not_here(Operation::TooLong, MOST_PREFIXES);
    };
    let at = ip.wrapping_add(u16::from(prefixes.count));
    let body: [u8; BODY] = std::array::from_fn(|index| fetch(at.wrapping_add(index as u16)));
    let mut instruction = match body[0] {
        opcode if !is_known(model, &body) => not_here(Operation::Undefined, u8::from(opcode == 0x0F) + 1),
        0x9B => Instruction { length: 1, ..not_here(Operation::Wait, 1) },
        0xD8..=0xDF => escape(&body, at),
        _ => map(&body, at),
    };
    prefixes.put_on(&mut instruction);
    if model.is_80286() && instruction.length > LONGEST {
        return not_here(Operation::TooLong, LONGEST);
    }
    instruction.cost = clocks::cost(model, &instruction, body[0], prefixes.segment.is_some(), prefixes.lock);
    instruction
}

impl Prefixes {
    /// `None` where they do not end.
    fn read(ip: u16, fetch: &impl Fn(u16) -> u8) -> Option<Self> {
        let mut prefixes = Self::default();
        loop {
            match fetch(ip.wrapping_add(u16::from(prefixes.count))) {
                0x26 => prefixes.segment = Some(Segment::Es),
                0x2E => prefixes.segment = Some(Segment::Cs),
                0x36 => prefixes.segment = Some(Segment::Ss),
                0x3E => prefixes.segment = Some(Segment::Ds),
                0xF0 => prefixes.lock = true,
                0xF2 => prefixes.repeat = Repeat::WhileNotEqual,
                0xF3 => prefixes.repeat = Repeat::WhileEqual,
                _ => return Some(prefixes),
            }
            prefixes.count += 1;
            if prefixes.count == MOST_PREFIXES {
                return None;
            }
        }
    }

    fn put_on(self, instruction: &mut Instruction) {
        instruction.length += self.count;
        instruction.prefixes = self.count;
        if let Some(segment) = self.segment {
            instruction.memory.segment = segment;
        }
        if instruction.operation.is_string() {
            instruction.repeat = self.repeat;
        }
    }
}

fn not_here(operation: Operation, length: u8) -> Instruction {
    Instruction {
        operation,
        wide: false,
        repeat: Repeat::No,
        length,
        prefixes: 0,
        destination: Operand::None,
        source: Operand::None,
        memory: Memory { segment: Segment::Ds, base: Base::None, displacement: 0, displaced: false },
        immediate: 0,
        second: 0,
        cost: Cost::FREE,
    }
}

/// An instruction that stands for a service of the machine.
#[must_use]
pub fn service(number: u16) -> Instruction {
    Instruction { immediate: number, ..not_here(Operation::Service, 1) }
}

/// Whether the model has that opcode at all (The 8086 Family User's Manual,
/// machine instruction decoding guide; iAPX 286 Programmer's Reference, opcode map).
fn is_known(model: Model, body: &[u8; BODY]) -> bool {
    let reg = body[1] >> 3 & 7;
    match body[0] {
        // Added with the 80186.
        0x60..=0x62 | 0x68..=0x6F | 0xC0 | 0xC1 | 0xC8 | 0xC9 => model.is_80286(),
        // Added with the 80286; of these, real mode has the table registers, the status word and CLTS.
        0x0F => model.is_80286() && (body[1] == 0x06 || body[1] == 0x01 && !matches!(body[2] >> 3 & 7, 5 | 7)),
        0x63..=0x67 | 0xD6 | 0xF1 => false,
        // Holes in groups of opcodes.
        0xF6 | 0xF7 => reg != 1,
        0xFE => reg < 2,
        0xFF => reg != 7,
        0x8F | 0xC6 | 0xC7 => reg == 0,
        0x8C => reg < 4,
        0x8E => reg < 4 && reg != 1,
        0xD0..=0xD3 => reg != 6,
        _ => true,
    }
}

/// An opcode for a coprocessor: of its operand only the length and the address matter,
/// and these are encoded as those of a move.
fn escape(body: &[u8; BODY], at: u16) -> Instruction {
    let mut like = *body;
    like[0] = 0x8B;
    let moved = map(&like, at);
    let source = if moved.source == Operand::Memory { Operand::Memory } else { Operand::None };
    Instruction { operation: Operation::Escape, destination: Operand::None, source, ..moved }
}

fn map(body: &[u8; BODY], at: u16) -> Instruction {
    let mut decoder = Decoder::with_ip(16, body, u64::from(at), DecoderOptions::NONE);
    let raw = decoder.decode();
    let Some(operation) = operation(&raw, body[0]) else {
        return not_here(Operation::Undefined, 1);
    };
    let mut instruction = Instruction { length: raw.len() as u8, ..not_here(operation, 1) };
    if !operation.is_string() {
        instruction.destination = operand(&raw, 0);
        instruction.source = operand(&raw, 1);
    }
    instruction.memory = memory(&raw);
    instruction.wide = is_wide(&raw, &instruction);
    third(&raw, body[0], &mut instruction);
    instruction
}

/// Operands beyond the second, and those that are no place.
fn third(raw: &Raw, opcode: u8, instruction: &mut Instruction) {
    use Operation::*;
    match instruction.operation {
        CallNear | JumpNear | JumpIf | Loop | LoopEqual | LoopNotEqual | JumpCountZero => {
            instruction.immediate = raw.near_branch16().wrapping_sub(raw.next_ip16());
            instruction.second = u16::from(opcode & 15);
        }
        CallFar | JumpFar => {
            instruction.immediate = raw.far_branch16();
            instruction.second = raw.far_branch_selector();
        }
        Return | ReturnFar if raw.op_count() == 1 => instruction.immediate = raw.immediate16(),
        InterruptThree => instruction.immediate = 3,
        InterruptOverflow => instruction.immediate = 4,
        Interrupt | AsciiMultiply | AsciiDivide => instruction.immediate = u16::from(raw.immediate8()),
        Enter => {
            instruction.immediate = raw.immediate16();
            instruction.second = u16::from(raw.immediate8_2nd());
        }
        MultiplyInto => instruction.immediate = raw.immediate(2) as u16,
        Translate => {
            instruction.memory.base = Base::Bx;
            instruction.destination = Operand::None;
        }
        _ => {}
    }
}

fn operation(raw: &Raw, opcode: u8) -> Option<Operation> {
    use Operation::*;
    Some(match raw.mnemonic() {
        Mnemonic::Mov => Mov,
        Mnemonic::Push => Push,
        Mnemonic::Pop => Pop,
        Mnemonic::Pusha => PushAll,
        Mnemonic::Popa => PopAll,
        Mnemonic::Pushf => PushFlags,
        Mnemonic::Popf => PopFlags,
        Mnemonic::Xchg => Exchange,
        Mnemonic::In => In,
        Mnemonic::Out => Out,
        Mnemonic::Xlatb => Translate,
        Mnemonic::Lea => LoadAddress,
        Mnemonic::Lds => LoadDs,
        Mnemonic::Les => LoadEs,
        Mnemonic::Lahf => LoadFlags,
        Mnemonic::Sahf => StoreFlags,
        Mnemonic::Add => Add,
        Mnemonic::Or => Or,
        Mnemonic::Adc => AddCarry,
        Mnemonic::Sbb => SubtractBorrow,
        Mnemonic::And => And,
        Mnemonic::Sub => Subtract,
        Mnemonic::Xor => Xor,
        Mnemonic::Cmp => Compare,
        Mnemonic::Test => Test,
        Mnemonic::Inc => Increment,
        Mnemonic::Dec => Decrement,
        Mnemonic::Neg => Negate,
        Mnemonic::Not => Not,
        Mnemonic::Mul => Multiply,
        Mnemonic::Imul if raw.op_count() == 1 => MultiplySigned,
        Mnemonic::Imul => MultiplyInto,
        Mnemonic::Div => Divide,
        Mnemonic::Idiv => DivideSigned,
        Mnemonic::Aaa => AsciiAdd,
        Mnemonic::Aas => AsciiSubtract,
        Mnemonic::Aam => AsciiMultiply,
        Mnemonic::Aad => AsciiDivide,
        Mnemonic::Daa => DecimalAdd,
        Mnemonic::Das => DecimalSubtract,
        Mnemonic::Cbw => ByteToWord,
        Mnemonic::Cwd => WordToDouble,
        Mnemonic::Rol => RotateLeft,
        Mnemonic::Ror => RotateRight,
        Mnemonic::Rcl => RotateCarryLeft,
        Mnemonic::Rcr => RotateCarryRight,
        Mnemonic::Shl => ShiftLeft,
        Mnemonic::Shr => ShiftRight,
        Mnemonic::Sar => ShiftArithmetic,
        Mnemonic::Movsb | Mnemonic::Movsw => Move,
        Mnemonic::Cmpsb | Mnemonic::Cmpsw => CompareString,
        Mnemonic::Scasb | Mnemonic::Scasw => Scan,
        Mnemonic::Lodsb | Mnemonic::Lodsw => Load,
        Mnemonic::Stosb | Mnemonic::Stosw => Store,
        Mnemonic::Insb | Mnemonic::Insw => InString,
        Mnemonic::Outsb | Mnemonic::Outsw => OutString,
        Mnemonic::Call | Mnemonic::Jmp => return transfer(raw.code()),
        Mnemonic::Ret => Return,
        Mnemonic::Retf => ReturnFar,
        Mnemonic::Loop => Loop,
        Mnemonic::Loope => LoopEqual,
        Mnemonic::Loopne => LoopNotEqual,
        Mnemonic::Jcxz => JumpCountZero,
        Mnemonic::Int => Interrupt,
        Mnemonic::Int3 => InterruptThree,
        Mnemonic::Into => InterruptOverflow,
        Mnemonic::Iret => InterruptReturn,
        Mnemonic::Bound => Bound,
        Mnemonic::Enter => Enter,
        Mnemonic::Leave => Leave,
        Mnemonic::Clc => ClearCarry,
        Mnemonic::Cmc => ComplementCarry,
        Mnemonic::Stc => SetCarry,
        Mnemonic::Cld => ClearDirection,
        Mnemonic::Std => SetDirection,
        Mnemonic::Cli => ClearInterrupt,
        Mnemonic::Sti => SetInterrupt,
        Mnemonic::Hlt => Halt,
        Mnemonic::Nop => NoOperation,
        Mnemonic::Sgdt => StoreGlobalTable,
        Mnemonic::Sidt => StoreInterruptTable,
        Mnemonic::Lgdt => LoadGlobalTable,
        Mnemonic::Lidt => LoadInterruptTable,
        Mnemonic::Smsw => StoreMachineStatus,
        Mnemonic::Lmsw => LoadMachineStatus,
        Mnemonic::Clts => ClearTaskSwitched,
        _ if opcode & 0xF0 == 0x70 => JumpIf,
        _ => return None,
    })
}

fn transfer(code: Code) -> Option<Operation> {
    Some(match code {
        Code::Call_rel16 => Operation::CallNear,
        Code::Call_rm16 => Operation::CallNearIndirect,
        Code::Call_ptr1616 => Operation::CallFar,
        Code::Call_m1616 => Operation::CallFarIndirect,
        Code::Jmp_rel8_16 | Code::Jmp_rel16 => Operation::JumpNear,
        Code::Jmp_rm16 => Operation::JumpNearIndirect,
        Code::Jmp_ptr1616 => Operation::JumpFar,
        Code::Jmp_m1616 => Operation::JumpFarIndirect,
        _ => return None,
    })
}

fn operand(raw: &Raw, position: u32) -> Operand {
    if position >= raw.op_count() {
        return Operand::None;
    }
    match raw.op_kind(position) {
        OpKind::Register => register(raw.op_register(position)),
        OpKind::Memory => Operand::Memory,
        OpKind::Immediate8 | OpKind::Immediate8_2nd | OpKind::Immediate8to16 | OpKind::Immediate16 => {
            Operand::Immediate(raw.immediate(position) as u16)
        }
        _ => Operand::None,
    }
}

fn register(register: Register) -> Operand {
    let number = |first: Register, count: u32| {
        let from_first = (register as u32).checked_sub(first as u32);
        from_first.filter(|number| *number < count).map(|number| number as u8)
    };
    if let Some(number) = number(Register::AL, 8) {
        Operand::Byte(Byte::numbered(number))
    } else if let Some(number) = number(Register::AX, 8) {
        Operand::Word(Word::numbered(number))
    } else if let Some(number) = number(Register::ES, 4) {
        Operand::Segment(Segment::numbered(number))
    } else {
        Operand::None
    }
}

fn memory(raw: &Raw) -> Memory {
    let base = match (raw.memory_base(), raw.memory_index()) {
        (Register::BX, Register::SI) => Base::BxSi,
        (Register::BX, Register::DI) => Base::BxDi,
        (Register::BP, Register::SI) => Base::BpSi,
        (Register::BP, Register::DI) => Base::BpDi,
        (Register::SI, _) => Base::Si,
        (Register::DI, _) => Base::Di,
        (Register::BP, _) => Base::Bp,
        (Register::BX, _) => Base::Bx,
        _ => Base::None,
    };
    let over_bp = matches!(base, Base::BpSi | Base::BpDi | Base::Bp);
    Memory {
        segment: if over_bp { Segment::Ss } else { Segment::Ds },
        base,
        displacement: raw.memory_displacement32() as u16,
        displaced: raw.memory_displ_size() > 0,
    }
}

fn is_wide(raw: &Raw, instruction: &Instruction) -> bool {
    use Operation::*;
    let is_byte = matches!(raw.memory_size(), MemorySize::UInt8 | MemorySize::Int8);
    let of = |operand| match operand {
        Operand::Byte(_) => Some(false),
        Operand::Word(_) | Operand::Segment(_) => Some(true),
        _ => None,
    };
    match instruction.operation {
        Move | CompareString | Scan | Load | Store | InString | OutString => !is_byte,
        // The port is a byte or DX either way: the other operand tells.
        In => of(instruction.destination).unwrap_or(false),
        Out => of(instruction.source).unwrap_or(false),
        // The count of a shift tells nothing of what is shifted.
        _ if instruction.destination == Operand::Memory => !is_byte,
        _ => of(instruction.destination).or(of(instruction.source)).unwrap_or(true),
    }
}
