//! Statements to bytes (The 8086 Family User's Manual, instruction encoding).

use std::collections::{BTreeMap, BTreeSet};

use super::expression::AssemblyConstants;
use super::{ORIGIN, full_name};

/// Words of 16 bits, in the order of their numbers.
const WORDS: [&str; 8] = ["ax", "cx", "dx", "bx", "sp", "bp", "si", "di"];
/// Bytes, likewise.
const BYTES: [&str; 8] = ["al", "cl", "dl", "bl", "ah", "ch", "dh", "bh"];
/// Segments, likewise.
const SEGMENTS: [&str; 4] = ["es", "cs", "ss", "ds"];
/// Arithmetic, in the order of its numbers.
const ARITHMETIC: [&str; 8] = ["add", "or", "adc", "sbb", "and", "sub", "xor", "cmp"];
/// Instructions without operands.
const ALONE: [(&str, u8); 7] =
    [("stosb", 0xAA), ("movsw", 0xA5), ("cld", 0xFC), ("cli", 0xFA), ("sti", 0xFB), ("ret", 0xC3), ("lodsb", 0xAC)];
/// Jumps that reach no further than 127 bytes.
const SHORT_JUMPS: [(&str, u8); 9] = [
    ("jb", 0x72),
    ("jc", 0x72),
    ("jae", 0x73),
    ("jz", 0x74),
    ("je", 0x74),
    ("jnz", 0x75),
    ("jne", 0x75),
    ("jns", 0x79),
    ("loop", 0xE2),
];

/// One statement.
#[derive(Clone, Debug)]
pub(super) enum AssemblyStatement {
    Label(String),
    /// Its name and its operands; those of jumps with their full names.
    Instruction(String, Vec<String>),
}

impl AssemblyStatement {
    /// An instruction or data, as written.
    pub fn read(text: &str, label: &str) -> Self {
        let (name, operands) = text.split_once(char::is_whitespace).unwrap_or((text, ""));
        let operands = operands.split(',').map(str::trim).filter(|operand| !operand.is_empty());
        Self::Instruction(name.to_string(), operands.map(|operand| full_name(operand, label)).collect())
    }
}

/// An operand.
enum AssemblyOperand {
    Word(u8),
    Byte(u8),
    Segment(u8),
    Memory(MemoryPlace),
    /// A word of memory, said so.
    WordOfMemory(MemoryPlace),
    /// Read where its size is known.
    Number,
}

/// A place in memory.
struct MemoryPlace {
    segment: Option<u8>,
    /// Mode and place of the addressing byte, its register left out.
    place: u8,
    displacement: Vec<u8>,
}

/// Bytes under way.
pub(super) struct AssemblyPass<'a> {
    /// Whether no address is known yet.
    pub is_first: bool,
    pub symbols: &'a AssemblyConstants,
    /// Addresses of the labels as the pass before left them.
    pub before: &'a BTreeMap<String, i64>,
    pub labels: &'a mut BTreeMap<String, i64>,
    /// Lines whose jump has to be a long one.
    pub long: &'a mut BTreeSet<usize>,
    pub bytes: Vec<u8>,
}

impl AssemblyPass<'_> {
    /// Adds a statement.
    pub fn add(&mut self, line: usize, statement: &AssemblyStatement) -> Result<(), String> {
        match statement {
            AssemblyStatement::Label(name) => {
                self.labels.insert(name.clone(), self.here());
                Ok(())
            }
            AssemblyStatement::Instruction(name, operands) => {
                let operands: Vec<&str> = operands.iter().map(String::as_str).collect();
                self.instruction(line, name, &operands)
            }
        }
    }

    fn here(&self) -> i64 {
        ORIGIN + self.bytes.len() as i64
    }

    fn instruction(&mut self, line: usize, name: &str, operands: &[&str]) -> Result<(), String> {
        if let ([], Some((_, code))) = (operands, ALONE.iter().find(|(known, _)| *known == name)) {
            self.bytes.push(*code);
            return Ok(());
        }
        if let ([target], Some((_, code))) = (operands, SHORT_JUMPS.iter().find(|(known, _)| *known == name)) {
            let away = i8::try_from(self.away(target, 2)?).map_err(|_| format!("{target} is too far away"))?;
            self.bytes.extend([*code, away as u8]);
            return Ok(());
        }
        match (name, operands) {
            ("jmp", [target]) => self.jump(line, target),
            ("call", [target]) => self.near(0xE8, target),
            ("dw", numbers) => numbers.iter().try_for_each(|number| {
                let word = self.word(number)?;
                self.bytes.extend(word.to_le_bytes());
                Ok(())
            }),
            ("int", [number]) => self.with_byte(0xCD, number),
            ("in", ["al", "dx"]) => self.plain(0xEC),
            ("out", ["dx", "al"]) => self.plain(0xEE),
            ("test", ["al", number]) => self.with_byte(0xA8, number),
            ("shl", [register, "1"]) => match self.operand(register)? {
                AssemblyOperand::Word(register) => {
                    self.bytes.extend([0xD1, 0xE0 | register]);
                    Ok(())
                }
                _ => Err(refused(name, operands)),
            },
            ("inc" | "dec" | "push" | "pop", [register]) => self.one(name, register),
            ("mov", [to, from]) => self.mov(to, from),
            (_, [to, from]) => match ARITHMETIC.iter().position(|known| *known == name) {
                Some(number) => self.arithmetic(number as u8, to, from),
                None => Err(refused(name, operands)),
            },
            _ => Err(refused(name, operands)),
        }
    }

    fn plain(&mut self, code: u8) -> Result<(), String> {
        self.bytes.push(code);
        Ok(())
    }

    fn with_byte(&mut self, code: u8, number: &str) -> Result<(), String> {
        let byte = self.byte(number)?;
        self.bytes.extend([code, byte]);
        Ok(())
    }

    /// Bytes from the end of an instruction of this length to a label; 0 in the first pass.
    fn away(&self, target: &str, length: i64) -> Result<i64, String> {
        if self.is_first {
            return Ok(0);
        }
        let to = self.before.get(target).ok_or_else(|| format!("{target} is not known"))?;
        Ok(to - (self.here() + length))
    }

    fn jump(&mut self, line: usize, target: &str) -> Result<(), String> {
        let away = self.away(target, 2)?;
        match i8::try_from(away) {
            Ok(away) if !self.long.contains(&line) => {
                self.bytes.extend([0xEB, away as u8]);
                Ok(())
            }
            _ => {
                self.long.insert(line);
                self.near(0xE9, target)
            }
        }
    }

    fn near(&mut self, code: u8, target: &str) -> Result<(), String> {
        let away = self.away(target, 3)? as u16;
        self.bytes.push(code);
        self.bytes.extend(away.to_le_bytes());
        Ok(())
    }

    fn one(&mut self, name: &str, register: &str) -> Result<(), String> {
        let code = match (name, self.operand(register)?) {
            ("inc", AssemblyOperand::Word(register)) => 0x40 | register,
            ("dec", AssemblyOperand::Word(register)) => 0x48 | register,
            ("push", AssemblyOperand::Word(register)) => 0x50 | register,
            ("pop", AssemblyOperand::Word(register)) => 0x58 | register,
            ("push", AssemblyOperand::Segment(segment)) => 0x06 | segment << 3,
            ("pop", AssemblyOperand::Segment(segment)) => 0x07 | segment << 3,
            _ => return Err(refused(name, &[register])),
        };
        self.plain(code)
    }

    fn mov(&mut self, to: &str, from: &str) -> Result<(), String> {
        match (self.operand(to)?, self.operand(from)?) {
            (AssemblyOperand::Word(to), AssemblyOperand::Number) => {
                let number = self.word(from)?;
                self.bytes.push(0xB8 | to);
                self.bytes.extend(number.to_le_bytes());
                Ok(())
            }
            (AssemblyOperand::Byte(to), AssemblyOperand::Number) => self.with_byte(0xB0 | to, from),
            (AssemblyOperand::Word(to), AssemblyOperand::Word(from)) => self.between(0x89, from, to),
            (AssemblyOperand::Byte(to), AssemblyOperand::Byte(from)) => self.between(0x88, from, to),
            (AssemblyOperand::Segment(to), AssemblyOperand::Word(from)) => self.between(0x8E, to, from),
            // The accumulator has a shorter form where the address is a number alone.
            (AssemblyOperand::Word(0), AssemblyOperand::Memory(place)) if place.place == 0x06 => {
                self.accumulator(0xA1, &place)
            }
            (AssemblyOperand::Memory(place), AssemblyOperand::Word(0)) if place.place == 0x06 => {
                self.accumulator(0xA3, &place)
            }
            (AssemblyOperand::Word(to), AssemblyOperand::Memory(place)) => self.memory(0x8B, to, &place),
            (AssemblyOperand::Memory(place), AssemblyOperand::Word(from)) => self.memory(0x89, from, &place),
            (AssemblyOperand::WordOfMemory(place), AssemblyOperand::Number) => {
                let number = self.word(from)?;
                self.memory(0xC7, 0, &place)?;
                self.bytes.extend(number.to_le_bytes());
                Ok(())
            }
            _ => Err(refused("mov", &[to, from])),
        }
    }

    fn arithmetic(&mut self, number: u8, to: &str, from: &str) -> Result<(), String> {
        let code = number << 3;
        match (self.operand(to)?, self.operand(from)?) {
            (AssemblyOperand::Word(to), AssemblyOperand::Word(from)) => self.between(code | 1, from, to),
            (AssemblyOperand::Byte(to), AssemblyOperand::Byte(from)) => self.between(code, from, to),
            (AssemblyOperand::Word(to), AssemblyOperand::Memory(place)) => self.memory(code | 3, to, &place),
            (AssemblyOperand::Word(to), AssemblyOperand::Number) => {
                let value = self.word(from)?;
                match (short(value), to) {
                    (Some(byte), _) => self.bytes.extend([0x83, 0xC0 | code | to, byte]),
                    (None, 0) => {
                        self.bytes.push(code | 5);
                        self.bytes.extend(value.to_le_bytes());
                    }
                    (None, _) => {
                        self.bytes.extend([0x81, 0xC0 | code | to]);
                        self.bytes.extend(value.to_le_bytes());
                    }
                }
                Ok(())
            }
            (AssemblyOperand::WordOfMemory(place), AssemblyOperand::Number) => {
                let value = self.word(from)?;
                match short(value) {
                    Some(byte) => {
                        self.memory(0x83, number, &place)?;
                        self.bytes.push(byte);
                    }
                    None => {
                        self.memory(0x81, number, &place)?;
                        self.bytes.extend(value.to_le_bytes());
                    }
                }
                Ok(())
            }
            _ => Err(refused(ARITHMETIC[usize::from(number)], &[to, from])),
        }
    }

    /// An instruction between two registers.
    fn between(&mut self, code: u8, register: u8, place: u8) -> Result<(), String> {
        self.bytes.extend([code, 0xC0 | register << 3 | place]);
        Ok(())
    }

    /// An instruction between a register and memory.
    fn memory(&mut self, code: u8, register: u8, place: &MemoryPlace) -> Result<(), String> {
        self.bytes.extend(place.segment);
        self.bytes.extend([code, place.place | register << 3]);
        self.bytes.extend(&place.displacement);
        Ok(())
    }

    fn accumulator(&mut self, code: u8, place: &MemoryPlace) -> Result<(), String> {
        self.bytes.extend(place.segment);
        self.bytes.push(code);
        self.bytes.extend(&place.displacement);
        Ok(())
    }

    fn operand(&self, text: &str) -> Result<AssemblyOperand, String> {
        let of = |names: &[&str]| names.iter().position(|name| *name == text).map(|number| number as u8);
        let inside = |text: &str| text.strip_prefix('[').and_then(|text| text.strip_suffix(']')).map(str::to_string);
        if let Some(register) = of(&WORDS) {
            return Ok(AssemblyOperand::Word(register));
        }
        if let Some(register) = of(&BYTES) {
            return Ok(AssemblyOperand::Byte(register));
        }
        if let Some(segment) = of(&SEGMENTS) {
            return Ok(AssemblyOperand::Segment(segment));
        }
        if let Some(place) = text.strip_prefix("word").and_then(|text| inside(text.trim())) {
            return Ok(AssemblyOperand::WordOfMemory(self.place(&place)?));
        }
        match inside(text) {
            Some(place) => Ok(AssemblyOperand::Memory(self.place(&place)?)),
            None => Ok(AssemblyOperand::Number),
        }
    }

    /// A place in memory: a number, or a register with a number beside it.
    fn place(&self, text: &str) -> Result<MemoryPlace, String> {
        let (segment, text) = match text.split_once(':') {
            Some((name, rest)) => {
                let segment = SEGMENTS.iter().position(|known| *known == name.trim());
                (Some(0x26 | (segment.ok_or_else(|| format!("{name} is no segment"))? as u8) << 3), rest)
            }
            None => (None, text),
        };
        let bases = [("si", 4), ("di", 5), ("bp", 6), ("bx", 7)];
        let mut base = None;
        let mut number = Vec::new();
        for part in text.split('+').map(str::trim) {
            match bases.iter().find(|(name, _)| *name == part) {
                Some(_) if base.is_some() => return Err(format!("[{text}] has two registers")),
                Some((_, place)) => base = Some(*place),
                None => number.push(part),
            }
        }
        let value = if number.is_empty() { 0 } else { self.number(&number.join(" + "))? };
        let word = (value as u16).to_le_bytes();
        let Some(base) = base else {
            return Ok(MemoryPlace { segment, place: 0x06, displacement: word.to_vec() });
        };
        let (mode, displacement) = match short(value as u16) {
            // Only the base pointer has no form without a number.
            Some(0) if base != 6 => (0x00, Vec::new()),
            Some(byte) => (0x40, vec![byte]),
            None => (0x80, word.to_vec()),
        };
        Ok(MemoryPlace { segment, place: mode | base, displacement })
    }

    /// A number; a label of a later line is taken to be far on in the first pass.
    fn number(&self, text: &str) -> Result<i64, String> {
        match self.symbols.value(text, self.before) {
            Err(_) if self.is_first => Ok(0x1000),
            value => value,
        }
    }

    fn word(&self, text: &str) -> Result<u16, String> {
        let value = self.number(text)?;
        let fits = (-0x8000..=0xFFFF).contains(&value);
        fits.then_some(value as u16).ok_or_else(|| format!("{value} does not fit 16 bits"))
    }

    fn byte(&self, text: &str) -> Result<u8, String> {
        let value = self.number(text)?;
        (-0x80..=0xFF).contains(&value).then_some(value as u8).ok_or_else(|| format!("{value} does not fit 8 bits"))
    }
}

/// A word as a byte that is widened with its sign, where that gives the same.
fn short(value: u16) -> Option<u8> {
    let byte = value as u8;
    (i16::from(byte as i8) as u16 == value).then_some(byte)
}

fn refused(name: &str, operands: &[&str]) -> String {
    format!("{name} {} is no instruction that is known here", operands.join(", "))
}
