//! Code and data under way.
//!
//! Data stands behind the code, so its addresses depend on the code's length. Everything is drafted twice: once with
//! addresses from [`FIRST_GUESS`] on to learn how long the code is, then with the addresses that follow; both drafts have
//! the same length, since an address always takes a word.

use iced_x86::IcedError;
use iced_x86::code_asm::*;

use crate::program::DataPart;

/// Where data is taken to begin in the first draft.
pub(crate) const FIRST_GUESS: u32 = 0x1000;

/// The assembler, and what is said of its instructions.
pub(crate) struct Draft {
    pub asm: CodeAssembler,
    pub notes: Vec<(usize, String)>,
}

/// What a conditional jump goes by.
#[derive(Clone, Copy, Debug)]
pub(crate) enum If {
    Equal,
    NotEqual,
    Below,
    NotBelow,
}

impl Draft {
    /// Nothing yet, for sixteen bits.
    pub fn new() -> Result<Self, IcedError> {
        Ok(Self { asm: CodeAssembler::new(16)?, notes: Vec::new() })
    }

    /// Says something of the instruction that comes next.
    pub fn note(&mut self, text: impl Into<String>) {
        self.notes.push((self.asm.instructions().len(), text.into()));
    }

    /// Writes a byte to a port.
    pub fn out(&mut self, port: u16, value: u8) -> Result<(), IcedError> {
        self.asm.mov(dx, u32::from(port))?;
        self.asm.mov(al, u32::from(value))?;
        self.asm.out(dx, al)
    }

    /// Unpacks from DS:SI to ES:DI, control byte by control byte, until one of 0: bytes as they are, or what `packed` makes of
    /// one of 128 to 255 in CX; `says` tells what that is.
    pub fn unpack(
        &mut self,
        says: &str,
        packed: impl FnOnce(&mut Self) -> Result<(), IcedError>,
    ) -> Result<(), IcedError> {
        let (mut next, mut other, mut over) =
            (self.asm.create_label(), self.asm.create_label(), self.asm.create_label());
        self.asm.set_label(&mut next)?;
        self.asm.lodsb()?;
        self.asm.xor(cx, cx)?;
        self.asm.mov(cl, al)?;
        self.asm.test(al, al)?;
        self.asm.je(over)?;
        self.asm.js(other)?;
        self.note("that number of bytes as they are");
        self.asm.rep().movsb()?;
        self.asm.jmp(next)?;
        self.asm.set_label(&mut other)?;
        self.note(says);
        packed(self)?;
        self.asm.jmp(next)?;
        self.asm.set_label(&mut over)
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
pub(crate) struct Data {
    next: u32,
    pub parts: Vec<DataPart>,
}

impl Data {
    pub fn from(address: u32) -> Self {
        Self { next: address, parts: Vec::new() }
    }

    /// Address of bytes that are put behind what there is.
    pub fn put(&mut self, says: impl Into<String>, bytes: Vec<u8>) -> u32 {
        let len = bytes.len() as u32;
        self.parts.push(DataPart::new(says.into(), bytes));
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
