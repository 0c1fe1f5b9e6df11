//! The end of a session: the answers as text, their check, the file, and the code where there is none.

use backporch_evidence::{MARKS, SAW, SYMBOLS, TINGES};
use iced_x86::IcedError;
use iced_x86::code_asm::*;

use super::layout::{BUFFER_PARAGRAPHS, SessionRoutines, SessionVariables, entry, flag, record};
use super::words;
use crate::draft::{Data, Draft, If};
use crate::text_file::{Put, TextFile, Writing};

/// Marks that a symbol of the code tells the presence of.
const MARKS_A_SYMBOL: usize = 5;

/// Texts and tables of the end.
#[derive(Clone, Copy, Debug)]
pub(super) struct Texts {
    head: u32,
    /// Addresses of the words of [`SAW`].
    saw: u32,
    saw_word: u32,
    marks: [u32; MARKS.len()],
    flickers: u32,
    regular: u32,
    narrower: u32,
    /// Addresses of the words of [`TINGES`].
    tinges: u32,
    tinge_word: u32,
    note: u32,
    check: u32,
    line_end: u32,
    file: TextFile,
    failed: u32,
    code: u32,
    symbols: u32,
    id: u32,
}

impl Texts {
    pub fn put(data: &mut Data, head: &str, id: u32) -> Self {
        let words = SAW.map(|word| data.line("an answer", word) as u16);
        let table = words.iter().flat_map(|word| word.to_le_bytes()).collect();
        let tinges = TINGES.map(|(word, _)| data.line("how colours are wrong", word) as u16);
        let tinges = tinges.iter().flat_map(|word| word.to_le_bytes()).collect();
        Self {
            head: data.line("head of the answers", head),
            saw: data.put("the answers' addresses", table),
            saw_word: data.line("before an answer", "saw "),
            marks: MARKS.map(|mark| data.line("before a mark", &format!("{mark} "))),
            flickers: data.line("it flickers", "flickers\r\n"),
            regular: data.line("lines follow at equal distances", "regular\r\n"),
            narrower: data.line("lines end early", "narrower\r\n"),
            tinges: data.put("the colours' addresses", tinges),
            tinge_word: data.line("before a word on colours", "tinge "),
            note: data.line("before words", "note "),
            check: data.line("before the check", "check "),
            line_end: data.line("end of a line", "\r\n"),
            file: TextFile::put(data, "ANSWERS", words::WRITTEN),
            failed: data.text("the answers are not written", words::FAILED),
            code: data.text("before the code", words::CODE),
            symbols: data.put("symbols of the code", SYMBOLS.to_vec()),
            id: data.put("number of what is asked", id.to_le_bytes().to_vec()),
        }
    }
}

/// Makes the text, writes the file, ends the program. Falls into nothing.
pub(super) fn write(
    d: &mut Draft,
    r: &mut SessionRoutines,
    v: &SessionVariables,
    texts: &Texts,
    looks: u32,
) -> Result<(), IcedError> {
    let mut put = Put::new(d, texts.line_end);
    let (mut each, mut no_note) = (d.asm.create_label(), d.asm.create_label());
    let (mut letter, mut shown) = (d.asm.create_label(), d.asm.create_label());
    let failed = d.asm.create_label();
    d.asm.set_label(&mut r.finish)?;
    d.note("the answers as text, in the buffer at ES:DI");
    d.asm.call(r.text_mode)?;
    d.asm.mov(ax, cs)?;
    d.asm.add(ax, BUFFER_PARAGRAPHS)?;
    d.asm.mov(es, ax)?;
    d.asm.xor(di, di)?;
    d.asm.mov(si, texts.head)?;
    d.asm.call(put.text)?;
    d.asm.mov(word_ptr(v.look), 0)?;
    d.asm.set_label(&mut each)?;
    d.asm.call(r.entry)?;
    d.note("what was asked");
    d.asm.mov(si, word_ptr(bx + entry::HEAD))?;
    d.asm.mov(cx, word_ptr(bx + entry::HEAD_LEN))?;
    d.asm.rep().movsb()?;
    d.note("what was seen");
    d.asm.mov(si, texts.saw_word)?;
    d.asm.call(put.text)?;
    d.asm.mov(bx, word_ptr(v.record))?;
    d.asm.mov(al, byte_ptr(bx + record::SAW))?;
    d.asm.xor(ah, ah)?;
    put_word(d, &put, texts.saw)?;
    d.asm.call(put.line_end)?;
    for (flag, line) in
        [(flag::FLICKERS, texts.flickers), (flag::REGULAR, texts.regular), (flag::NARROWER, texts.narrower)]
    {
        let mut is_not = d.asm.create_label();
        d.asm.test(byte_ptr(bx + record::FLAGS), flag)?;
        d.asm.je(is_not)?;
        d.asm.mov(si, line)?;
        d.asm.call(put.text)?;
        d.asm.set_label(&mut is_not)?;
    }
    let mut untinged = d.asm.create_label();
    d.asm.mov(al, byte_ptr(bx + record::TINGE))?;
    d.asm.xor(ah, ah)?;
    d.asm.test(ax, ax)?;
    d.asm.je(untinged)?;
    d.asm.push(ax)?;
    d.asm.mov(si, texts.tinge_word)?;
    d.asm.call(put.text)?;
    d.asm.pop(ax)?;
    put_word(d, &put, texts.tinges)?;
    d.asm.call(put.line_end)?;
    d.asm.set_label(&mut untinged)?;
    d.asm.nop()?;
    each_mark(d, |d, number| {
        d.asm.push(ax)?;
        d.asm.mov(si, texts.marks[number])?;
        d.asm.call(put.text)?;
        d.asm.pop(ax)?;
        d.asm.call(put.number)?;
        d.asm.call(put.line_end)
    })?;
    d.asm.xor(cx, cx)?;
    d.asm.mov(cl, byte_ptr(bx + record::NOTE_LEN))?;
    d.asm.test(cl, cl)?;
    d.asm.je(no_note)?;
    d.note("words, whatever is no plain character as a question mark");
    d.asm.mov(si, texts.note)?;
    d.asm.call(put.text)?;
    d.asm.mov(si, bx)?;
    d.asm.add(si, record::NOTE)?;
    d.asm.set_label(&mut letter)?;
    d.asm.lodsb()?;
    let mut plain = d.asm.create_label();
    let mut odd = d.asm.create_label();
    d.asm.cmp(al, 0x20)?;
    d.asm.jb(odd)?;
    d.asm.cmp(al, 0x7F)?;
    d.asm.jb(plain)?;
    d.asm.set_label(&mut odd)?;
    d.asm.mov(al, u32::from(b'?'))?;
    d.asm.set_label(&mut plain)?;
    d.asm.stosb()?;
    d.asm.dec(cx)?;
    d.asm.jne(letter)?;
    d.asm.call(put.line_end)?;
    d.asm.set_label(&mut no_note)?;
    d.asm.inc(word_ptr(v.look))?;
    d.asm.cmp(word_ptr(v.look), looks)?;
    d.jump(If::Below, each)?;

    d.note("the check over all of it");
    d.asm.mov(word_ptr(v.length), di)?;
    put.check_line(d, texts.check)?;
    d.asm.mov(word_ptr(v.length), di)?;
    d.asm.set_label(&mut r.try_again)?;
    texts
        .file
        .write(d, Writing { length: v.length, text_address: v.text_address, print: r.print, failed, written: shown })?;
    write_code(d, r, v, texts, &put, looks, failed)?;
    d.asm.set_label(&mut shown)?;
    d.note("and back to whoever called");
    d.asm.mov(ax, 0x4C00)?;
    d.asm.int(0x21)?;
    put.write(d)
}

/// For each mark of the record at BX that is set: with its value in AX, what `set` makes of it.
fn each_mark(d: &mut Draft, set: impl Fn(&mut Draft, usize) -> Result<(), IcedError>) -> Result<(), IcedError> {
    for (number, at) in (record::MARKS..).step_by(2).take(MARKS.len()).enumerate() {
        let mut unset = d.asm.create_label();
        d.asm.mov(ax, word_ptr(bx + at))?;
        d.asm.cmp(ax, 0xFFFF_u32)?;
        d.asm.je(unset)?;
        set(d, number)?;
        d.asm.set_label(&mut unset)?;
        d.asm.nop()?;
    }
    Ok(())
}

/// Appends the word whose number stands in AX, of a table of addresses.
fn put_word(d: &mut Draft, put: &Put, table: u32) -> Result<(), IcedError> {
    d.asm.shl(ax, 1)?;
    d.asm.add(ax, table)?;
    d.asm.mov(si, ax)?;
    d.asm.mov(si, word_ptr(si))?;
    d.asm.call(put.text)
}

/// Appends a symbol whose highest bit, the fifth, is a flag of the record at BX, and the others a value of it, if any.
fn put_flag(d: &mut Draft, flag: u32, value: Option<u32>) -> Result<(), IcedError> {
    d.asm.mov(al, byte_ptr(bx + record::FLAGS))?;
    d.asm.and(al, flag)?;
    d.asm.mov(cl, 4 - flag.trailing_zeros())?;
    d.asm.shl(al, cl)?;
    if let Some(at) = value {
        d.asm.or(al, byte_ptr(bx + at))?;
    }
    d.asm.stosb()
}

/// The code: an answer, which marks there are and how colours are wrong in four symbols, two a mark, four of a check.
fn write_code(
    d: &mut Draft,
    r: &SessionRoutines,
    v: &SessionVariables,
    texts: &Texts,
    put: &Put,
    looks: u32,
    mut failed: CodeLabel,
) -> Result<(), IcedError> {
    let (mut each, mut symbol, mut no_gap) = (d.asm.create_label(), d.asm.create_label(), d.asm.create_label());
    d.asm.set_label(&mut failed)?;
    d.note("once more, or the answers as a code");
    let mut no = d.asm.create_label();
    d.asm.mov(dx, texts.failed)?;
    d.asm.call(r.print)?;
    d.asm.xor(ah, ah)?;
    d.asm.int(0x16)?;
    d.asm.and(al, 0xDF)?;
    d.asm.cmp(al, u32::from(b'R'))?;
    d.jump(If::NotEqual, no)?;
    d.asm.jmp(r.try_again)?;
    d.asm.set_label(&mut no)?;
    d.note("values in the buffer");
    d.asm.mov(dx, texts.code)?;
    d.asm.call(r.print)?;
    d.asm.xor(di, di)?;
    d.asm.mov(word_ptr(v.look), 0)?;
    d.asm.set_label(&mut each)?;
    d.asm.call(r.entry)?;
    d.asm.mov(bx, word_ptr(v.record))?;
    d.note("the answer, and whether it flickers");
    put_flag(d, flag::FLICKERS, Some(record::SAW))?;
    d.note("which marks there are, and whether lines follow at equal distances");
    d.asm.mov(si, di)?;
    d.asm.xor(al, al)?;
    d.asm.stosb()?;
    put_flag(d, flag::REGULAR, None)?;
    d.note("how colours are wrong, and whether lines end early");
    put_flag(d, flag::NARROWER, Some(record::TINGE))?;
    each_mark(d, |d, number| {
        d.asm.or(byte_ptr(si + (number / MARKS_A_SYMBOL) as u32).es(), 1 << (number % MARKS_A_SYMBOL))?;
        d.asm.mov(dx, ax)?;
        d.asm.mov(cl, 5)?;
        d.asm.shr(ax, cl)?;
        d.asm.stosb()?;
        d.asm.mov(al, dl)?;
        d.asm.and(al, 31)?;
        d.asm.stosb()
    })?;
    d.asm.inc(word_ptr(v.look))?;
    d.asm.cmp(word_ptr(v.look), looks)?;
    d.jump(If::Below, each)?;
    d.note("the check, over what was asked and the values");
    d.asm.call(put.begin_check)?;
    for place in 0..4 {
        d.asm.mov(al, byte_ptr(texts.id + place))?;
        d.asm.call(put.check_byte)?;
    }
    put.check_buffer(d)?;
    d.note("its lower twenty bits, the upper five first");
    d.asm.mov(ax, bx)?;
    d.asm.mov(cl, 15)?;
    d.asm.shr(ax, cl)?;
    d.asm.shl(dl, 1)?;
    d.asm.or(al, dl)?;
    d.asm.and(al, 31)?;
    d.asm.stosb()?;
    for shift in [10, 5, 0] {
        d.asm.mov(ax, bx)?;
        d.asm.mov(cl, shift)?;
        d.asm.shr(ax, cl)?;
        d.asm.and(al, 31)?;
        d.asm.stosb()?;
    }
    d.note("printed, a gap after every four");
    d.asm.mov(word_ptr(v.length), di)?;
    d.asm.xor(si, si)?;
    d.asm.set_label(&mut symbol)?;
    d.asm.mov(bl, byte_ptr(si).es())?;
    d.asm.xor(bh, bh)?;
    d.asm.mov(dl, byte_ptr(bx + texts.symbols))?;
    d.asm.mov(ah, 2)?;
    d.asm.int(0x21)?;
    d.asm.inc(si)?;
    d.asm.test(si, 3)?;
    d.asm.jne(no_gap)?;
    d.asm.mov(dl, u32::from(b' '))?;
    d.asm.mov(ah, 2)?;
    d.asm.int(0x21)?;
    d.asm.set_label(&mut no_gap)?;
    d.asm.cmp(si, word_ptr(v.length))?;
    d.asm.jb(symbol)?;
    d.note("until a key is pressed");
    d.asm.xor(ah, ah)?;
    d.asm.int(0x16)
}
