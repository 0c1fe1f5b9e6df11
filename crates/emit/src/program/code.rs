//! A program's bytes and its listing.

use iced_x86::{Decoder, DecoderOptions, Formatter, Instruction, NasmFormatter};

use super::sources::LOADED_AT;

/// Bytes of data on a line of the listing.
const DATA_BYTES: usize = 16;

/// Data behind the code.
#[derive(Clone, Debug)]
pub(crate) struct DataPart {
    says: String,
    bytes: Vec<u8>,
}

impl DataPart {
    pub fn new(says: impl Into<String>, bytes: Vec<u8>) -> Self {
        Self { says: says.into(), bytes }
    }
}

/// An assembled program: flat, to be loaded at 100h of its segment.
#[derive(Clone, Debug)]
pub struct Code {
    bytes: Vec<u8>,
    code_len: usize,
    listing: String,
}

impl Code {
    /// Code, notes on its instructions by position, and the data behind it.
    pub(crate) fn new(code: Vec<u8>, notes: Vec<(usize, String)>, parts: Vec<DataPart>, head: &[String]) -> Self {
        let code_len = code.len();
        let mut listing: String = head.iter().map(|line| format!("; {line}\n")).collect();
        listing += "\norg 100h\n\n";
        listing += &instructions(&code, &notes);
        let mut bytes = code;
        for part in parts {
            listing += &format!("\n; {}\n", part.says);
            for line in part.bytes.chunks(DATA_BYTES) {
                let at = usize::from(LOADED_AT) + bytes.len();
                let hex: String = line.iter().map(|byte| format!("{byte:02X}")).collect();
                let values: Vec<String> = line.iter().map(|byte| format!("0x{byte:02x}")).collect();
                listing += &format!("{at:04X}  {hex:32}  db {}\n", values.join(","));
                bytes.extend_from_slice(line);
            }
        }
        Self { bytes, code_len, listing }
    }

    /// The program.
    #[must_use]
    pub fn bytes(&self) -> &[u8] {
        &self.bytes
    }

    /// Bytes of it that are instructions; data follows.
    #[must_use]
    pub fn code_len(&self) -> usize {
        self.code_len
    }

    /// Address, bytes and text of every instruction and of the data, with notes.
    #[must_use]
    pub fn listing(&self) -> &str {
        &self.listing
    }
}

fn instructions(code: &[u8], notes: &[(usize, String)]) -> String {
    let mut text = String::new();
    let mut formatter = NasmFormatter::new();
    let mut decoder = Decoder::with_ip(16, code, u64::from(LOADED_AT), DecoderOptions::NONE);
    let mut instruction = Instruction::default();
    for position in 0.. {
        if !decoder.can_decode() {
            break;
        }
        let at = decoder.position();
        decoder.decode_out(&mut instruction);
        for (_, note) in notes.iter().filter(|(of, _)| *of == position) {
            text += &format!("; {note}\n");
        }
        let mut said = String::new();
        formatter.format(&instruction, &mut said);
        let hex: String = code[at..decoder.position()].iter().map(|byte| format!("{byte:02X}")).collect();
        text += &format!("{:04X}  {hex:32}  {said}\n", usize::from(LOADED_AT) + at);
    }
    text
}
