//! Code and data under way.
//!
//! Data stands behind the code, so its addresses depend on the code's length. Everything is drafted twice: once with
//! addresses from [`FIRST_GUESS`] on to learn how long the code is, then with the addresses that follow; both drafts have
//! the same length, since an address always takes a word.

use iced_x86::IcedError;
use iced_x86::code_asm::{CodeAssembler, CodeLabel};

use crate::program::Part;

/// Where data is taken to begin in the first draft.
pub(super) const FIRST_GUESS: u32 = 0x1000;

/// The assembler, and what is said of its instructions.
pub(super) struct Draft {
    pub asm: CodeAssembler,
    pub notes: Vec<(usize, String)>,
}

/// What a conditional jump goes by.
#[derive(Clone, Copy, Debug)]
pub(super) enum If {
    Equal,
    NotEqual,
    Below,
    NotBelow,
}

impl Draft {
    /// Says something of the instruction that comes next.
    pub fn note(&mut self, text: impl Into<String>) {
        self.notes.push((self.asm.instructions().len(), text.into()));
    }

    /// A jump on a condition to anywhere: the first processor of the line has short ones only.
    pub fn jump(&mut self, condition: If, to: CodeLabel) -> Result<(), IcedError> {
        let mut over = self.asm.create_label();
        match condition {
            If::Equal => self.asm.jne(over)?,
            If::NotEqual => self.asm.je(over)?,
            If::Below => self.asm.jae(over)?,
            If::NotBelow => self.asm.jb(over)?,
        }
        self.asm.jmp(to)?;
        self.asm.set_label(&mut over)?;
        // A label stands before an instruction.
        self.asm.nop()
    }

    /// A jump to anywhere.
    pub fn jump_to(&mut self, to: CodeLabel) -> Result<(), IcedError> {
        self.asm.jmp(to)
    }
}

/// Data behind the code, and room behind the data.
#[derive(Debug)]
pub(super) struct Data {
    next: u32,
    pub parts: Vec<Part>,
}

impl Data {
    pub fn from(address: u32) -> Self {
        Self { next: address, parts: Vec::new() }
    }

    /// Address of bytes that are put behind what there is.
    pub fn put(&mut self, says: impl Into<String>, bytes: Vec<u8>) -> u32 {
        let len = bytes.len() as u32;
        self.parts.push(Part::new(says.into(), bytes));
        self.room(len)
    }

    /// A text that the system prints.
    pub fn text(&mut self, says: impl Into<String>, text: &str) -> u32 {
        // The system takes a dollar sign for the end.
        self.put(says, (text.replace('$', "S").replace('\n', "\r\n") + "$").into_bytes())
    }

    /// A text that ends with a zero.
    pub fn line(&mut self, says: impl Into<String>, text: &str) -> u32 {
        self.put(says, [text.as_bytes(), &[0]].concat())
    }

    /// Address of room for bytes that nothing is known of yet.
    pub fn room(&mut self, bytes: u32) -> u32 {
        let address = self.next;
        self.next += bytes;
        address
    }

    pub fn end(&self) -> u32 {
        self.next
    }
}
