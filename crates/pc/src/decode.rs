//! Bytes to instructions: `iced-x86` decodes, this says what of it the model has.
//!
//! Prefixes are taken off first, since they are the same for every model and
//! old processors allow any number in any order; the rest, an opcode with its
//! operands, is decoded as 16-bit code and mapped to an [`Instruction`]. What
//! came with later processors, and what the manuals leave undefined, becomes
//! [`Operation::Undefined`]. The 80386's prefixes for sizes of operands and
//! addresses go to the decoder with the rest.

use iced_x86::{Code, Decoder, DecoderOptions, Instruction as Raw, Mnemonic, OpKind, Register};

use crate::clocks;
use crate::cost::ClockCost;
use crate::instruction::{BaseRegister, Instruction, MemoryOperand, Operand, Operation, RepeatPrefix};
use crate::registers::{Byte, SegmentRegister, Word};
use crate::size::Size;
use backporch_processor_timing::Model;

/// Longest instruction of a model, prefixes included; a longer one raises
/// interrupt 13 (iAPX 286 Programmer's Reference, real-address mode; 80386
/// Programmer's Reference Manual). The 8086 and 80186 have no limit.
#[must_use]
pub fn longest(model: Model) -> u8 {
    match model {
        Model::P8088 | Model::P8086 | Model::P80186 => u8::MAX,
        Model::P80286 => 10,
        Model::P80386 => 15,
    }
}

/// Longest run of prefixes followed.
const MOST_PREFIXES: u8 = 14;

/// Bytes after the prefixes that can belong to one instruction: opcode, operands, address, displacement, immediate.
const BODY: usize = 12;

/// Prefixes for sizes, which the decoder sees.
const SIZES: usize = 2;

/// Prefixes of one instruction.
#[derive(Clone, Copy, Debug, Default)]
struct Prefixes {
    count: u8,
    segment: Option<SegmentRegister>,
    repeat: RepeatPrefix,
    lock: bool,
    wide_operands: bool,
    wide_addresses: bool,
}

/// Decodes the instruction at offset `ip` of a segment; `fetch` gives the byte at an offset.
#[must_use]
pub fn decode(model: Model, ip: u16, fetch: impl Fn(u16) -> u8) -> Instruction {
    let Some(prefixes) = Prefixes::read(model, ip, &fetch) else {
        return not_here(Operation::TooLong, MOST_PREFIXES);
    };
    let at = ip.wrapping_add(u16::from(prefixes.count));
    let mut body: [u8; BODY] = std::array::from_fn(|index| fetch(at.wrapping_add(index as u16)));
    if matches!(body[0], 0x8C | 0x8E) && !model.is_from(Model::P80186) {
        // The 8086 knows four segment registers and looks at two bits (open data set: single-step tests of an 8086,
        // captured from hardware, 2025).
        body[1] &= !0x20;
    }
    match (body[0], body[1] >> 3 & 7) {
        // Undocumented doubles (the same, and its counterpart for the 80286).
        (0xF6 | 0xF7, 1) => body[1] &= !0x38,
        (0xC0 | 0xC1 | 0xD0..=0xD3, 6) if model.is_from(Model::P80286) => body[1] &= !0x10,
        _ => {}
    }
    let mut instruction = match body[0] {
        opcode if !is_known(model, &body) => not_here(Operation::Undefined, u8::from(opcode == 0x0F) + 1),
        0x9B => Instruction { length: 1, ..not_here(Operation::Wait, 1) },
        0xD8..=0xDF => esc(&body, at, prefixes),
        _ => map(&body, at, prefixes),
    };
    if prefixes.lock && model.is_from(Model::P80386) && !can_be_locked(&instruction) {
        instruction = not_here(Operation::Undefined, 1);
    }
    prefixes.put_on(&mut instruction);
    if instruction.length > longest(model) {
        return not_here(Operation::TooLong, longest(model));
    }
    instruction.modrm = has_modrm(&body);
    let scaled =
        u8::from(instruction.modrm && prefixes.wide_addresses && body[usize::from(body[0] == 0x0F) + 1] & 7 == 4);
    let scaled = scaled * u8::from(instruction.has_memory());
    let opcode = 1 + u8::from(body[0] == 0x0F);
    let operands = u8::from(instruction.modrm) + scaled + instruction.memory.displacement_bytes;
    instruction.immediate_bytes = instruction.length.saturating_sub(prefixes.count + opcode + operands);
    instruction.extends_immediate = matches!(body[0], 0x6A | 0x6B | 0x70..=0x7F | 0x83 | 0xE0..=0xE3 | 0xEB);
    instruction.cost = clocks::cost(model, &instruction, body[0], prefixes.segment.is_some(), prefixes.lock);
    instruction
}

impl Prefixes {
    /// `None` where they do not end.
    fn read(model: Model, ip: u16, fetch: &impl Fn(u16) -> u8) -> Option<Self> {
        let mut prefixes = Self::default();
        let is_80386 = model.is_from(Model::P80386);
        loop {
            match fetch(ip.wrapping_add(u16::from(prefixes.count))) {
                0x64 if is_80386 => prefixes.segment = Some(SegmentRegister::Fs),
                0x65 if is_80386 => prefixes.segment = Some(SegmentRegister::Gs),
                0x66 if is_80386 => prefixes.wide_operands = true,
                0x67 if is_80386 => prefixes.wide_addresses = true,
                0x26 => prefixes.segment = Some(SegmentRegister::Es),
                0x2E => prefixes.segment = Some(SegmentRegister::Cs),
                0x36 => prefixes.segment = Some(SegmentRegister::Ss),
                0x3E => prefixes.segment = Some(SegmentRegister::Ds),
                0xF0 => prefixes.lock = true,
                0xF2 => prefixes.repeat = RepeatPrefix::WhileNotEqual,
                0xF3 => prefixes.repeat = RepeatPrefix::WhileEqual,
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

    /// What operands have whose size nothing else tells.
    fn operand_size(self) -> Size {
        if self.wide_operands { Size::Double } else { Size::Word }
    }
}

fn not_here(operation: Operation, length: u8) -> Instruction {
    Instruction {
        operation,
        size: Size::Byte,
        wide_address: false,
        repeat: RepeatPrefix::No,
        length,
        prefixes: 0,
        modrm: false,
        immediate_bytes: 0,
        extends_immediate: false,
        destination: Operand::None,
        source: Operand::None,
        memory: MemoryOperand {
            segment: SegmentRegister::Ds,
            base: BaseRegister::None,
            displacement: 0,
            displacement_bytes: 0,
        },
        immediate: 0,
        second: 0,
        cost: ClockCost::FREE,
    }
}

/// An instruction that stands for a service of the machine.
#[must_use]
pub fn service(number: u16) -> Instruction {
    Instruction { immediate: u32::from(number), ..not_here(Operation::Service, 1) }
}

/// Whether a byte behind the opcode encodes the operands (The 8086 Family
/// User's Manual, machine instruction decoding guide; 80386 Programmer's
/// Reference Manual, opcode map).
fn has_modrm(body: &[u8; BODY]) -> bool {
    match body[0] {
        0x0F => !matches!(body[1], 0x06 | 0x80..=0x8F | 0xA0 | 0xA1 | 0xA8 | 0xA9),
        opcode @ 0x00..=0x3F => opcode & 7 < 4,
        0x62 | 0x69 | 0x6B | 0x80..=0x8F | 0xC0 | 0xC1 | 0xC4..=0xC7 | 0xD0..=0xD3 | 0xD8..=0xDF => true,
        0xF6 | 0xF7 | 0xFE | 0xFF => true,
        _ => false,
    }
}

/// Whether the model has that opcode at all (The 8086 Family User's Manual,
/// machine instruction decoding guide; iAPX 286 Programmer's Reference and 80386
/// Programmer's Reference Manual, opcode maps).
fn is_known(model: Model, body: &[u8; BODY]) -> bool {
    let reg = body[1] >> 3 & 7;
    match body[0] {
        // Added with the 80186.
        0x60..=0x62 | 0x68..=0x6F | 0xC0 | 0xC1 | 0xC8 | 0xC9 => model.is_from(Model::P80186),
        0x0F if model.is_from(Model::P80386) && is_of_80386(body[1], body[2]) => true,
        // Added with the 80286; of these, real mode has the table registers, the status word and CLTS.
        0x0F => {
            model.is_from(Model::P80286) && (body[1] == 0x06 || body[1] == 0x01 && !matches!(body[2] >> 3 & 7, 5 | 7))
        }
        0x63..=0x67 | 0xD6 | 0xF1 => false,
        // Holes in groups of opcodes.
        0xFE => reg < 2,
        0xFF => reg != 7,
        0x8F | 0xC6 | 0xC7 => reg == 0,
        0x8C => reg < segments(model),
        0x8E => reg < segments(model) && reg != 1,
        0xD0..=0xD3 => reg != 6,
        _ => true,
    }
}

/// Segment registers there are.
fn segments(model: Model) -> u8 {
    if model.is_from(Model::P80386) { 6 } else { 4 }
}

/// Whether a second byte of the opcode was added with the 80386, `operands` behind it (80386 Programmer's Reference
/// Manual, opcode map).
fn is_of_80386(second: u8, operands: u8) -> bool {
    let reg = operands >> 3 & 7;
    match second {
        // Control, debug and test registers that there are.
        0x20 | 0x22 => operands >> 6 == 3 && matches!(reg, 0 | 2 | 3),
        0x21 | 0x23 => operands >> 6 == 3,
        0x24 | 0x26 => operands >> 6 == 3 && reg > 5,
        0x80..=0xA1 | 0xA3..=0xA5 | 0xA8 | 0xA9 | 0xAB..=0xAD | 0xAF | 0xB3 | 0xB6 | 0xB7 | 0xBB..=0xBF => true,
        0xB2 | 0xB4 | 0xB5 => operands >> 6 != 3,
        0xBA => reg > 3,
        _ => false,
    }
}

/// Instructions the 80386 lets a lock stand before (80386 Programmer's Reference Manual, LOCK).
fn can_be_locked(instruction: &Instruction) -> bool {
    use Operation::*;
    let listed = matches!(
        instruction.operation,
        Add | Or | Adc | Sbb | And | Sub | Xor | Not | Neg | Inc | Dec | Xchg | Bt | Bts | Btr | Btc
    );
    listed && instruction.destination == Operand::Memory
}

/// An opcode for a coprocessor: of its operand only the length and the address matter,
/// and these are encoded as those of a move.
fn esc(body: &[u8; BODY], at: u16, prefixes: Prefixes) -> Instruction {
    let mut like = *body;
    like[0] = 0x8B;
    let moved = map(&like, at, Prefixes { wide_operands: false, ..prefixes });
    let source = if moved.source == Operand::Memory { Operand::Memory } else { Operand::None };
    Instruction { operation: Operation::Esc, destination: Operand::None, source, ..moved }
}

fn map(body: &[u8; BODY], at: u16, prefixes: Prefixes) -> Instruction {
    let mut bytes = [0; SIZES + BODY];
    let sizes = [(0x66, prefixes.wide_operands), (0x67, prefixes.wide_addresses)];
    let mut before = 0;
    for (byte, _) in sizes.into_iter().filter(|(_, there)| *there) {
        bytes[before] = byte;
        before += 1;
    }
    bytes[before..before + BODY].copy_from_slice(body);
    let start = u64::from(at.wrapping_sub(before as u16));
    let mut decoder = Decoder::with_ip(16, &bytes[..before + BODY], start, DecoderOptions::MOV_TR);
    let raw = decoder.decode();
    let Some(operation) = operation(&raw, body) else {
        return not_here(Operation::Undefined, 1);
    };
    let mut instruction = Instruction { length: (raw.len() - before) as u8, ..not_here(operation, 1) };
    if !operation.is_string() {
        instruction.destination = operand(&raw, 0);
        instruction.source = operand(&raw, 1);
    }
    if [instruction.destination, instruction.source].contains(&Operand::Immediate) {
        let first = if instruction.destination == Operand::Immediate { 0 } else { 1 };
        instruction.immediate = raw.immediate(first) as u32;
    }
    instruction.memory = memory(&raw);
    instruction.wide_address = prefixes.wide_addresses;
    instruction.size = size(&raw, &instruction, prefixes);
    third(&raw, body, &mut instruction);
    instruction
}

/// Operands beyond the second, and those that are no place.
fn third(raw: &Raw, body: &[u8; BODY], instruction: &mut Instruction) {
    use Operation::*;
    match instruction.operation {
        CallNear | JmpNear | Jcc | Loop | Loope | Loopne | Jcxz => {
            // What the prefixes moved the decoder back by stands in both.
            instruction.immediate = (raw.near_branch_target() as u32).wrapping_sub(raw.next_ip32());
            let code = if body[0] == 0x0F { body[1] } else { body[0] };
            instruction.second = u16::from(code & 15);
        }
        Setcc => instruction.second = u16::from(body[1] & 15),
        CallFar | JmpFar => {
            let wide = instruction.size == Size::Double;
            instruction.immediate = if wide { raw.far_branch32() } else { u32::from(raw.far_branch16()) };
            instruction.second = raw.far_branch_selector();
        }
        Ret | Retf if raw.op_count() == 1 => instruction.immediate = u32::from(raw.immediate16()),
        Int3 => instruction.immediate = 3,
        Into => instruction.immediate = 4,
        Int | Aam | Aad => instruction.immediate = u32::from(raw.immediate8()),
        Enter => {
            instruction.immediate = u32::from(raw.immediate16());
            instruction.second = u16::from(raw.immediate8_2nd());
        }
        ImulImmediate => instruction.immediate = raw.immediate(2) as u32,
        Shld | Shrd if raw.op_kind(2) == OpKind::Immediate8 => instruction.immediate = u32::from(raw.immediate8()),
        // The count stands in CL.
        Shld | Shrd => instruction.second = 1,
        Movzx | Movsx => instruction.second = if body[1] & 1 == 0 { 8 } else { 16 },
        LoadControl | StoreControl | LoadDebug | StoreDebug | LoadTest | StoreTest => {
            let register = Operand::Double(Word::numbered(body[2] & 7));
            (instruction.destination, instruction.source) = (register, Operand::None);
            instruction.second = u16::from(body[2] >> 3 & 7);
            instruction.size = Size::Double;
        }
        Xlat => {
            let base = BaseRegister::Double { base: Some(Word::Bx), index: None, shift: 0 };
            instruction.memory.base = if instruction.wide_address { base } else { BaseRegister::Bx };
            instruction.destination = Operand::None;
        }
        _ => {}
    }
}

fn operation(raw: &Raw, body: &[u8; BODY]) -> Option<Operation> {
    use Operation::*;
    Some(match raw.mnemonic() {
        Mnemonic::Mov if body[0] == 0x0F => match body[1] {
            0x20 => StoreControl,
            0x21 => StoreDebug,
            0x22 => LoadControl,
            0x23 => LoadDebug,
            0x24 => StoreTest,
            0x26 => LoadTest,
            _ => return None,
        },
        Mnemonic::Mov => Mov,
        Mnemonic::Push => Push,
        Mnemonic::Pop => Pop,
        Mnemonic::Pusha | Mnemonic::Pushad => Pusha,
        Mnemonic::Popa | Mnemonic::Popad => Popa,
        Mnemonic::Pushf | Mnemonic::Pushfd => Pushf,
        Mnemonic::Popf | Mnemonic::Popfd => Popf,
        Mnemonic::Xchg => Xchg,
        Mnemonic::In => In,
        Mnemonic::Out => Out,
        Mnemonic::Xlatb => Xlat,
        Mnemonic::Lea => Lea,
        Mnemonic::Lds => Lds,
        Mnemonic::Les => Les,
        Mnemonic::Lss => Lss,
        Mnemonic::Lfs => Lfs,
        Mnemonic::Lgs => Lgs,
        Mnemonic::Movzx => Movzx,
        Mnemonic::Movsx => Movsx,
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
        Mnemonic::Imul if raw.op_count() == 2 => ImulRegister,
        Mnemonic::Imul => ImulImmediate,
        Mnemonic::Div => Div,
        Mnemonic::Idiv => Idiv,
        Mnemonic::Aaa => Aaa,
        Mnemonic::Aas => Aas,
        Mnemonic::Aam => Aam,
        Mnemonic::Aad => Aad,
        Mnemonic::Daa => Daa,
        Mnemonic::Das => Das,
        Mnemonic::Cbw | Mnemonic::Cwde => Cbw,
        Mnemonic::Cwd | Mnemonic::Cdq => Cwd,
        Mnemonic::Rol => Rol,
        Mnemonic::Ror => Ror,
        Mnemonic::Rcl => Rcl,
        Mnemonic::Rcr => Rcr,
        Mnemonic::Shl => Shl,
        Mnemonic::Shr => Shr,
        Mnemonic::Sar => Sar,
        Mnemonic::Shld => Shld,
        Mnemonic::Shrd => Shrd,
        Mnemonic::Bt => Bt,
        Mnemonic::Bts => Bts,
        Mnemonic::Btr => Btr,
        Mnemonic::Btc => Btc,
        Mnemonic::Bsf => Bsf,
        Mnemonic::Bsr => Bsr,
        Mnemonic::Movsb | Mnemonic::Movsw | Mnemonic::Movsd => Movs,
        Mnemonic::Cmpsb | Mnemonic::Cmpsw | Mnemonic::Cmpsd => Cmps,
        Mnemonic::Scasb | Mnemonic::Scasw | Mnemonic::Scasd => Scas,
        Mnemonic::Lodsb | Mnemonic::Lodsw | Mnemonic::Lodsd => Lods,
        Mnemonic::Stosb | Mnemonic::Stosw | Mnemonic::Stosd => Stos,
        Mnemonic::Insb | Mnemonic::Insw | Mnemonic::Insd => Ins,
        Mnemonic::Outsb | Mnemonic::Outsw | Mnemonic::Outsd => Outs,
        Mnemonic::Call | Mnemonic::Jmp => return transfer(raw.code()),
        Mnemonic::Ret => Ret,
        Mnemonic::Retf => Retf,
        Mnemonic::Loop => Loop,
        Mnemonic::Loope => Loope,
        Mnemonic::Loopne => Loopne,
        Mnemonic::Jcxz | Mnemonic::Jecxz => Jcxz,
        Mnemonic::Int => Int,
        Mnemonic::Int3 => Int3,
        Mnemonic::Into => Into,
        Mnemonic::Iret | Mnemonic::Iretd => Iret,
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
        _ if body[0] & 0xF0 == 0x70 || body[0] == 0x0F && body[1] & 0xF0 == 0x80 => Jcc,
        _ if body[0] == 0x0F && body[1] & 0xF0 == 0x90 => Setcc,
        _ => return None,
    })
}

fn transfer(code: Code) -> Option<Operation> {
    Some(match code {
        Code::Call_rel16 | Code::Call_rel32_32 => Operation::CallNear,
        Code::Call_rm16 | Code::Call_rm32 => Operation::CallNearIndirect,
        Code::Call_ptr1616 | Code::Call_ptr1632 => Operation::CallFar,
        Code::Call_m1616 | Code::Call_m1632 => Operation::CallFarIndirect,
        Code::Jmp_rel8_16 | Code::Jmp_rel16 | Code::Jmp_rel8_32 | Code::Jmp_rel32_32 => Operation::JmpNear,
        Code::Jmp_rm16 | Code::Jmp_rm32 => Operation::JmpNearIndirect,
        Code::Jmp_ptr1616 | Code::Jmp_ptr1632 => Operation::JmpFar,
        Code::Jmp_m1616 | Code::Jmp_m1632 => Operation::JmpFarIndirect,
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
        OpKind::Immediate8
        | OpKind::Immediate8_2nd
        | OpKind::Immediate8to16
        | OpKind::Immediate8to32
        | OpKind::Immediate16
        | OpKind::Immediate32 => Operand::Immediate,
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
    } else if let Some(number) = number(Register::EAX, 8) {
        Operand::Double(Word::numbered(number))
    } else if let Some(number) = number(Register::ES, 6) {
        Operand::Segment(SegmentRegister::numbered(number))
    } else {
        Operand::None
    }
}

/// The register of 32 bits that takes part in an address.
fn wide_register(register: Register) -> Option<Word> {
    let number = (register as u32).checked_sub(Register::EAX as u32).filter(|number| *number < 8)?;
    Some(Word::numbered(number as u8))
}

fn memory(raw: &Raw) -> MemoryOperand {
    let (first, second) = (wide_register(raw.memory_base()), wide_register(raw.memory_index()));
    let base = match (raw.memory_base(), raw.memory_index()) {
        _ if first.is_some() || second.is_some() || raw.memory_displ_size() == 4 => {
            let shift = raw.memory_index_scale().trailing_zeros() as u8;
            BaseRegister::Double { base: first, index: second, shift }
        }
        (Register::BX, Register::SI) => BaseRegister::BxSi,
        (Register::BX, Register::DI) => BaseRegister::BxDi,
        (Register::BP, Register::SI) => BaseRegister::BpSi,
        (Register::BP, Register::DI) => BaseRegister::BpDi,
        (Register::SI, _) => BaseRegister::Si,
        (Register::DI, _) => BaseRegister::Di,
        (Register::BP, _) => BaseRegister::Bp,
        (Register::BX, _) => BaseRegister::Bx,
        _ => BaseRegister::None,
    };
    let stack = raw.memory_segment() == Register::SS;
    MemoryOperand {
        segment: if stack { SegmentRegister::Ss } else { SegmentRegister::Ds },
        base,
        displacement: raw.memory_displacement32(),
        displacement_bytes: raw.memory_displ_size() as u8,
    }
}

fn size(raw: &Raw, instruction: &Instruction, prefixes: Prefixes) -> Size {
    use Operation::*;
    let in_memory = || match raw.memory_size().size() {
        1 => Size::Byte,
        4 => Size::Double,
        _ => Size::Word,
    };
    let of = |operand| match operand {
        Operand::Byte(_) => Some(Size::Byte),
        Operand::Word(_) | Operand::Segment(_) => Some(Size::Word),
        Operand::Double(_) => Some(Size::Double),
        _ => None,
    };
    match instruction.operation {
        Movs | Cmps | Scas | Lods | Stos | Ins | Outs => in_memory(),
        // The port is a byte or DX either way: the other operand tells.
        In => of(instruction.destination).unwrap_or(Size::Byte),
        Out => of(instruction.source).unwrap_or(Size::Byte),
        Push | Pop | CallNear | CallNearIndirect | CallFar | CallFarIndirect | JmpNear | JmpNearIndirect | JmpFar
        | JmpFarIndirect | Sgdt | Sidt | Lgdt | Lidt => prefixes.operand_size(),
        // The count of a shift tells nothing of what is shifted.
        _ if instruction.destination == Operand::Memory => in_memory(),
        _ => of(instruction.destination).or(of(instruction.source)).unwrap_or(prefixes.operand_size()),
    }
}
