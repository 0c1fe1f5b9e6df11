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
use crate::registers::{Byte, Segment, Word};
use backporch_processor_timing::Model;

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
    let mut body: [u8; BODY] = std::array::from_fn(|index| fetch(at.wrapping_add(index as u16)));
    if matches!(body[0], 0x8C | 0x8E) && !model.is_80286() {
        // The 8086 knows four segment registers and looks at two bits (open data set: single-step tests of an 8086,
        // captured from hardware, 2025).
        body[1] &= !0x20;
    }
    match (body[0], body[1] >> 3 & 7) {
        // Undocumented doubles (the same, and its counterpart for the 80286).
        (0xF6 | 0xF7, 1) => body[1] &= !0x38,
        (0xC0 | 0xC1 | 0xD0..=0xD3, 6) if model.is_80286() => body[1] &= !0x10,
        _ => {}
    }
    let mut instruction = match body[0] {
        opcode if !is_known(model, &body) => not_here(Operation::Undefined, u8::from(opcode == 0x0F) + 1),
        0x9B => Instruction { length: 1, ..not_here(Operation::Wait, 1) },
        0xD8..=0xDF => esc(&body, at),
        _ => map(&body, at),
    };
    prefixes.put_on(&mut instruction);
    if model.is_80286() && instruction.length > LONGEST {
        return not_here(Operation::TooLong, LONGEST);
    }
    instruction.modrm = has_modrm(body[0]);
    let operands = u8::from(instruction.modrm) + instruction.memory.displacement_bytes;
    instruction.immediate_bytes = instruction.length.saturating_sub(prefixes.count + 1 + operands);
    instruction.extends_immediate = matches!(body[0], 0x6A | 0x6B | 0x70..=0x7F | 0x83 | 0xE0..=0xE3 | 0xEB);
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
        modrm: false,
        immediate_bytes: 0,
        extends_immediate: false,
        destination: Operand::None,
        source: Operand::None,
        memory: Memory { segment: Segment::Ds, base: Base::None, displacement: 0, displacement_bytes: 0 },
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

/// Whether a second byte encodes the operands of a one-byte opcode
/// (The 8086 Family User's Manual, machine instruction decoding guide).
fn has_modrm(opcode: u8) -> bool {
    match opcode {
        0x00..=0x3F => opcode & 7 < 4,
        0x62 | 0x69 | 0x6B | 0x80..=0x8F | 0xC0 | 0xC1 | 0xC4..=0xC7 | 0xD0..=0xD3 | 0xD8..=0xDF => true,
        0xF6 | 0xF7 | 0xFE | 0xFF => true,
        _ => false,
    }
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
fn esc(body: &[u8; BODY], at: u16) -> Instruction {
    let mut like = *body;
    like[0] = 0x8B;
    let moved = map(&like, at);
    let source = if moved.source == Operand::Memory { Operand::Memory } else { Operand::None };
    Instruction { operation: Operation::Esc, destination: Operand::None, source, ..moved }
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
        CallNear | JmpNear | Jcc | Loop | Loope | Loopne | Jcxz => {
            instruction.immediate = raw.near_branch16().wrapping_sub(raw.next_ip16());
            instruction.second = u16::from(opcode & 15);
        }
        CallFar | JmpFar => {
            instruction.immediate = raw.far_branch16();
            instruction.second = raw.far_branch_selector();
        }
        Ret | Retf if raw.op_count() == 1 => instruction.immediate = raw.immediate16(),
        Int3 => instruction.immediate = 3,
        Into => instruction.immediate = 4,
        Int | Aam | Aad => instruction.immediate = u16::from(raw.immediate8()),
        Enter => {
            instruction.immediate = raw.immediate16();
            instruction.second = u16::from(raw.immediate8_2nd());
        }
        ImulRegister => instruction.immediate = raw.immediate(2) as u16,
        Xlat => {
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
        Mnemonic::Pusha => Pusha,
        Mnemonic::Popa => Popa,
        Mnemonic::Pushf => Pushf,
        Mnemonic::Popf => Popf,
        Mnemonic::Xchg => Xchg,
        Mnemonic::In => In,
        Mnemonic::Out => Out,
        Mnemonic::Xlatb => Xlat,
        Mnemonic::Lea => Lea,
        Mnemonic::Lds => Lds,
        Mnemonic::Les => Les,
        Mnemonic::Lahf => Lahf,
        Mnemonic::Sahf => Sahf,
        Mnemonic::Add => Add,
        Mnemonic::Or => Or,
        Mnemonic::Adc => Adc,
        Mnemonic::Sbb => Sbb,
        Mnemonic::And => And,
        Mnemonic::Sub => Sub,
        Mnemonic::Xor => Xor,
        Mnemonic::Cmp => Cmp,
        Mnemonic::Test => Test,
        Mnemonic::Inc => Inc,
        Mnemonic::Dec => Dec,
        Mnemonic::Neg => Neg,
        Mnemonic::Not => Not,
        Mnemonic::Mul => Mul,
        Mnemonic::Imul if raw.op_count() == 1 => Imul,
        Mnemonic::Imul => ImulRegister,
        Mnemonic::Div => Div,
        Mnemonic::Idiv => Idiv,
        Mnemonic::Aaa => Aaa,
        Mnemonic::Aas => Aas,
        Mnemonic::Aam => Aam,
        Mnemonic::Aad => Aad,
        Mnemonic::Daa => Daa,
        Mnemonic::Das => Das,
        Mnemonic::Cbw => Cbw,
        Mnemonic::Cwd => Cwd,
        Mnemonic::Rol => Rol,
        Mnemonic::Ror => Ror,
        Mnemonic::Rcl => Rcl,
        Mnemonic::Rcr => Rcr,
        Mnemonic::Shl => Shl,
        Mnemonic::Shr => Shr,
        Mnemonic::Sar => Sar,
        Mnemonic::Movsb | Mnemonic::Movsw => Movs,
        Mnemonic::Cmpsb | Mnemonic::Cmpsw => Cmps,
        Mnemonic::Scasb | Mnemonic::Scasw => Scas,
        Mnemonic::Lodsb | Mnemonic::Lodsw => Lods,
        Mnemonic::Stosb | Mnemonic::Stosw => Stos,
        Mnemonic::Insb | Mnemonic::Insw => Ins,
        Mnemonic::Outsb | Mnemonic::Outsw => Outs,
        Mnemonic::Call | Mnemonic::Jmp => return transfer(raw.code()),
        Mnemonic::Ret => Ret,
        Mnemonic::Retf => Retf,
        Mnemonic::Loop => Loop,
        Mnemonic::Loope => Loope,
        Mnemonic::Loopne => Loopne,
        Mnemonic::Jcxz => Jcxz,
        Mnemonic::Int => Int,
        Mnemonic::Int3 => Int3,
        Mnemonic::Into => Into,
        Mnemonic::Iret => Iret,
        Mnemonic::Bound => Bound,
        Mnemonic::Enter => Enter,
        Mnemonic::Leave => Leave,
        Mnemonic::Clc => Clc,
        Mnemonic::Cmc => Cmc,
        Mnemonic::Stc => Stc,
        Mnemonic::Cld => Cld,
        Mnemonic::Std => Std,
        Mnemonic::Cli => Cli,
        Mnemonic::Sti => Sti,
        Mnemonic::Hlt => Hlt,
        Mnemonic::Nop => Nop,
        Mnemonic::Sgdt => Sgdt,
        Mnemonic::Sidt => Sidt,
        Mnemonic::Lgdt => Lgdt,
        Mnemonic::Lidt => Lidt,
        Mnemonic::Smsw => Smsw,
        Mnemonic::Lmsw => Lmsw,
        Mnemonic::Clts => Clts,
        _ if opcode & 0xF0 == 0x70 => Jcc,
        _ => return None,
    })
}

fn transfer(code: Code) -> Option<Operation> {
    Some(match code {
        Code::Call_rel16 => Operation::CallNear,
        Code::Call_rm16 => Operation::CallNearIndirect,
        Code::Call_ptr1616 => Operation::CallFar,
        Code::Call_m1616 => Operation::CallFarIndirect,
        Code::Jmp_rel8_16 | Code::Jmp_rel16 => Operation::JmpNear,
        Code::Jmp_rm16 => Operation::JmpNearIndirect,
        Code::Jmp_ptr1616 => Operation::JmpFar,
        Code::Jmp_m1616 => Operation::JmpFarIndirect,
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
        displacement_bytes: raw.memory_displ_size() as u8,
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
        Movs | Cmps | Scas | Lods | Stos | Ins | Outs => !is_byte,
        // The port is a byte or DX either way: the other operand tells.
        In => of(instruction.destination).unwrap_or(false),
        Out => of(instruction.source).unwrap_or(false),
        // The count of a shift tells nothing of what is shifted.
        _ if instruction.destination == Operand::Memory => !is_byte,
        _ => of(instruction.destination).or(of(instruction.source)).unwrap_or(true),
    }
}
