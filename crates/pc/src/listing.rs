//! Disassembly listings, in the syntax of the assembler our programs are written in.

use iced_x86::{Decoder, DecoderOptions, Formatter, Instruction, NasmFormatter};

use crate::registers::Far;

/// Longest instruction decoded.
const LONGEST: usize = 15;

/// One line of a listing.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ListingLine {
    /// Where the instruction lies.
    pub at: Far,
    /// Its bytes.
    pub bytes: Vec<u8>,
    /// Its text.
    pub text: String,
}

impl std::fmt::Display for ListingLine {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let bytes: String = self.bytes.iter().map(|byte| format!("{byte:02X}")).collect();
        write!(f, "{}  {bytes:<14}  {}", self.at, self.text)
    }
}

/// The instruction at an address, `fetch` giving the bytes of memory.
#[must_use]
pub fn line(at: Far, fetch: impl Fn(u32) -> u8) -> ListingLine {
    let byte = |index: usize| fetch(at.plus(index as u16).linear());
    let bytes: Vec<u8> = (0..LONGEST).map(byte).collect();
    let mut decoder = Decoder::with_ip(16, &bytes, u64::from(at.offset), DecoderOptions::NONE);
    let mut instruction = Instruction::default();
    decoder.decode_out(&mut instruction);
    let mut text = String::new();
    let length = if instruction.is_invalid() {
        text = format!("db {:02X}h", bytes[0]);
        1
    } else {
        NasmFormatter::new().format(&instruction, &mut text);
        instruction.len()
    };
    ListingLine { at, bytes: bytes[..length].to_vec(), text }
}

/// This many instructions from an address on.
#[must_use]
pub fn lines(from: Far, count: usize, fetch: impl Fn(u32) -> u8) -> Vec<ListingLine> {
    let mut at = from;
    let next = |_| {
        let line = line(at, &fetch);
        at = at.plus(line.bytes.len() as u16);
        line
    };
    (0..count).map(next).collect()
}
