//! A program's text file: lines put together in a buffer, their check, and the file under the first name that is free.

use iced_x86::IcedError;
use iced_x86::code_asm::*;

use crate::draft::{Data, Draft, If};

/// Names that are tried, the first one without a number.
const NAMES: u32 = 9;

/// What the file is called, and what is said of it.
#[derive(Clone, Copy, Debug)]
pub(crate) struct TextFile {
    stem: &'static str,
    /// Addresses of the names, and of the same to be printed.
    names: [(u32, u32); NAMES as usize],
    /// Address of the address of a handler of critical errors.
    critical: u32,
    /// Address of the text before the name.
    pub written: u32,
}

/// What writing the file needs of the program: variables with the text's length and the name to tell, and labels.
#[derive(Clone, Copy)]
pub(crate) struct Writing {
    /// Address of the number of bytes in the buffer.
    pub length: u32,
    /// Address of room for a text's address.
    pub text_address: u32,
    /// A routine that prints the text at DX.
    pub print: CodeLabel,
    /// Where it goes on when nothing could be written.
    pub failed: CodeLabel,
    /// Where it goes on when all is written and said.
    pub written: CodeLabel,
}

impl TextFile {
    /// `STEM.TXT`, `STEM2.TXT` and so on; `written` is said before the name.
    pub fn put(data: &mut Data, stem: &'static str, written: &str) -> Self {
        let name = |data: &mut Data, number: u32| {
            let name = if number == 1 { format!("{stem}.TXT") } else { format!("{stem}{number}.TXT") };
            (data.line("a file's name", &name), data.text("the same to be printed", &format!("{name}.\n")))
        };
        Self {
            stem,
            names: std::array::from_fn(|at| name(data, at as u32 + 1)),
            // mov al, 3; iret
            critical: {
                let handler = data.put("what is called where a disk fails: fail", vec![0xB0, 0x03, 0xCF]);
                data.put("where it is", (handler as u16).to_le_bytes().to_vec())
            },
            written: data.text("the file is written", written),
        }
    }

    /// Writes the buffer at ES:0 under the first of the names that is free.
    pub fn write(&self, d: &mut Draft, to: Writing) -> Result<(), IcedError> {
        let mut create = d.asm.create_label();
        d.note("what goes wrong with the disk comes back as an error, without the system's own question");
        d.asm.mov(dx, word_ptr(self.critical))?;
        d.asm.mov(ax, 0x2524)?;
        d.asm.int(0x21)?;
        for (at, (name, printed)) in self.names.into_iter().enumerate() {
            let mut next = d.asm.create_label();
            let number = if at == 0 { String::new() } else { (at + 1).to_string() };
            d.note(format!("is the name {}{number} taken?", self.stem));
            d.asm.mov(dx, name)?;
            d.asm.mov(word_ptr(to.text_address), printed)?;
            d.asm.mov(ax, 0x3D00)?;
            d.asm.int(0x21)?;
            d.asm.jae(next)?;
            d.asm.mov(dx, name)?;
            d.asm.jmp(create)?;
            d.asm.set_label(&mut next)?;
            d.asm.mov(bx, ax)?;
            d.asm.mov(ah, 0x3E)?;
            d.asm.int(0x21)?;
        }
        d.asm.jmp(to.failed)?;
        d.asm.set_label(&mut create)?;
        d.note("written whole, or not at all");
        d.asm.xor(cx, cx)?;
        d.asm.mov(ah, 0x3C)?;
        d.asm.int(0x21)?;
        d.jump(If::Below, to.failed)?;
        d.asm.mov(bx, ax)?;
        d.asm.mov(cx, word_ptr(to.length))?;
        d.asm.push(ds)?;
        d.asm.push(es)?;
        d.asm.pop(ds)?;
        d.asm.xor(dx, dx)?;
        d.asm.mov(ah, 0x40)?;
        d.asm.int(0x21)?;
        d.asm.pop(ds)?;
        d.jump(If::Below, to.failed)?;
        d.asm.cmp(ax, word_ptr(to.length))?;
        d.jump(If::NotEqual, to.failed)?;
        d.asm.mov(ah, 0x3E)?;
        d.asm.int(0x21)?;
        d.jump(If::Below, to.failed)?;
        d.asm.mov(dx, self.written)?;
        d.asm.call(to.print)?;
        d.asm.mov(dx, word_ptr(to.text_address))?;
        d.asm.call(to.print)?;
        d.asm.jmp(to.written)
    }
}

/// Routines that put text at ES:DI, BX kept, and the check.
pub(crate) struct Put {
    end_of_line: u32,
    pub text: CodeLabel,
    pub line_end: CodeLabel,
    pub number: CodeLabel,
    pub hexadecimal: CodeLabel,
    pub begin_check: CodeLabel,
    pub check_byte: CodeLabel,
}

impl Put {
    /// Labels that stand nowhere yet; `end_of_line` is the address of what ends a line.
    pub fn new(d: &mut Draft, end_of_line: u32) -> Self {
        Self {
            end_of_line,
            text: d.asm.create_label(),
            line_end: d.asm.create_label(),
            number: d.asm.create_label(),
            hexadecimal: d.asm.create_label(),
            begin_check: d.asm.create_label(),
            check_byte: d.asm.create_label(),
        }
    }

    /// Puts the last line: the text at `check`, and the check over the buffer as it is, as many bytes as DI says.
    pub fn check_line(&self, d: &mut Draft, check: u32) -> Result<(), IcedError> {
        d.asm.call(self.begin_check)?;
        self.check_buffer(d)?;
        d.asm.mov(si, check)?;
        d.asm.call(self.text)?;
        for word in [dx, bx] {
            d.asm.mov(ax, word)?;
            d.asm.call(self.hexadecimal)?;
        }
        d.asm.call(self.line_end)
    }

    /// Takes the buffer's bytes, as many as DI says, into the check in DX:BX and ends it.
    pub fn check_buffer(&self, d: &mut Draft) -> Result<(), IcedError> {
        let mut byte = d.asm.create_label();
        d.asm.xor(si, si)?;
        d.asm.mov(cx, di)?;
        d.asm.set_label(&mut byte)?;
        d.asm.mov(al, byte_ptr(si).es())?;
        d.asm.inc(si)?;
        d.asm.call(self.check_byte)?;
        d.asm.dec(cx)?;
        d.asm.jne(byte)?;
        d.asm.not(dx)?;
        d.asm.not(bx)
    }

    /// The routines themselves.
    pub fn write(&mut self, d: &mut Draft) -> Result<(), IcedError> {
        let (mut next, mut end) = (d.asm.create_label(), d.asm.create_label());
        d.asm.set_label(&mut self.line_end)?;
        d.note("routine: put the end of a line");
        d.asm.mov(si, self.end_of_line)?;
        d.asm.set_label(&mut self.text)?;
        d.note("routine: put the text at SI up to its zero");
        d.asm.nop()?;
        d.asm.set_label(&mut next)?;
        d.asm.lodsb()?;
        d.asm.test(al, al)?;
        d.asm.je(end)?;
        d.asm.stosb()?;
        d.asm.jmp(next)?;
        d.asm.set_label(&mut end)?;
        d.asm.ret()?;

        let (mut divide, mut digit) = (d.asm.create_label(), d.asm.create_label());
        d.asm.set_label(&mut self.number)?;
        d.note("routine: put AX in decimal");
        d.asm.xor(cx, cx)?;
        d.asm.mov(si, 10)?;
        d.asm.set_label(&mut divide)?;
        d.asm.xor(dx, dx)?;
        d.asm.div(si)?;
        d.asm.push(dx)?;
        d.asm.inc(cx)?;
        d.asm.test(ax, ax)?;
        d.asm.jne(divide)?;
        d.asm.set_label(&mut digit)?;
        d.asm.pop(ax)?;
        d.asm.add(al, u32::from(b'0'))?;
        d.asm.stosb()?;
        d.asm.dec(cx)?;
        d.asm.jne(digit)?;
        d.asm.ret()?;

        let (mut nibble, mut decimal) = (d.asm.create_label(), d.asm.create_label());
        d.asm.set_label(&mut self.hexadecimal)?;
        d.note("routine: put AX in hexadecimal, BX kept");
        d.asm.mov(si, ax)?;
        d.asm.mov(ch, 4)?;
        d.asm.set_label(&mut nibble)?;
        d.asm.mov(cl, 4)?;
        d.asm.rol(si, cl)?;
        d.asm.mov(ax, si)?;
        d.asm.and(al, 15)?;
        d.asm.add(al, u32::from(b'0'))?;
        d.asm.cmp(al, u32::from(b'9') + 1)?;
        d.asm.jb(decimal)?;
        d.asm.add(al, 7)?;
        d.asm.set_label(&mut decimal)?;
        d.asm.stosb()?;
        d.asm.dec(ch)?;
        d.asm.jne(nibble)?;
        d.asm.ret()?;

        d.asm.set_label(&mut self.begin_check)?;
        d.note("routine: a new check in DX:BX");
        d.asm.mov(dx, 0xFFFF)?;
        d.asm.mov(bx, dx)?;
        d.asm.ret()?;
        let (mut bit, mut none) = (d.asm.create_label(), d.asm.create_label());
        d.asm.set_label(&mut self.check_byte)?;
        d.note("routine: take AL into the check");
        d.asm.xor(bl, al)?;
        d.asm.mov(ah, 8)?;
        d.asm.set_label(&mut bit)?;
        d.asm.shr(dx, 1)?;
        d.asm.rcr(bx, 1)?;
        d.asm.jae(none)?;
        d.asm.xor(dx, 0xEDB8)?;
        d.asm.xor(bx, 0x8320)?;
        d.asm.set_label(&mut none)?;
        d.asm.dec(ah)?;
        d.asm.jne(bit)?;
        d.asm.ret()
    }
}
