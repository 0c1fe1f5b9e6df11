//! The text of a survey, line by line, and its file.

use backporch_processor_timing::Model;
use iced_x86::IcedError;
use iced_x86::code_asm::*;

use super::layout::{BUFFER_PARAGRAPHS, SurveyRoutines, SurveyVariables};
use super::words;
use crate::draft::{Data, Draft, If};
use crate::text_file::{Put, TextFile, Writing};

/// Texts of the output.
#[derive(Clone, Copy, Debug)]
pub(super) struct Texts {
    pub head: u32,
    line_end: u32,
    runs: u32,
    least: u32,
    most: u32,
    total: u32,
    hexadecimal: u32,
    check: u32,
    file: TextFile,
    failed: u32,
    pub shifts: [u32; 2],
    pub processors: [u32; 3],
}

impl Texts {
    pub fn put(data: &mut Data, head: &str) -> Self {
        let file = TextFile::put(data, "SURVEY", words::WRITTEN);
        let failed = data.text("the survey is not written", words::FAILED);
        let mut line = |text: &str| data.line("a piece of the survey", text);
        Self {
            head: line(head),
            line_end: line("\r\n"),
            runs: line(" runs "),
            least: line(" least "),
            most: line(" most "),
            total: line(" total "),
            hexadecimal: line("h"),
            check: line("check "),
            file,
            failed,
            shifts: ["shifts whole\r\n", "shifts masked\r\n"].map(&mut line),
            processors: [Model::P80186, Model::P80286, Model::P80386]
                .map(|model| line(&format!("processor {}\r\n", model.name()))),
        }
    }
}

/// Routines that say things, and the end of the program.
pub(super) fn write(
    d: &mut Draft,
    r: &mut SurveyRoutines,
    v: &SurveyVariables,
    texts: &Texts,
) -> Result<(), IcedError> {
    let mut put = Put::new(d, texts.line_end);
    let (begin, end) = (d.asm.create_label(), d.asm.create_label());
    let mut saying = Saying { begin, end, text: v.text };
    saying.write(d)?;
    d.asm.set_label(&mut r.say)?;
    d.note("routine: say the text at SI; BX is kept");
    saying.around(d, |d| d.asm.call(put.text))?;
    d.asm.set_label(&mut r.say_number)?;
    d.note("routine: say AX; BX is kept");
    saying.around(d, |d| d.asm.call(put.number))?;
    d.asm.set_label(&mut r.say_end)?;
    d.note("routine: end the line; BX is kept");
    saying.around(d, |d| d.asm.call(put.line_end))?;

    d.asm.set_label(&mut r.say_taken)?;
    d.note("routine: say what was taken of AX runs, and end the line");
    d.asm.push(ax)?;
    d.asm.mov(si, texts.runs)?;
    d.asm.call(r.say)?;
    d.asm.pop(ax)?;
    d.asm.call(r.say_number)?;
    for (text, at) in [(texts.least, v.least), (texts.most, v.most)] {
        d.asm.mov(si, text)?;
        d.asm.call(r.say)?;
        d.asm.mov(ax, word_ptr(at))?;
        d.asm.call(r.say_number)?;
    }
    d.asm.mov(si, texts.total)?;
    d.asm.call(r.say)?;
    d.asm.call(saying.begin)?;
    for half in [v.total + 2, v.total] {
        d.asm.mov(ax, word_ptr(half))?;
        d.asm.call(put.hexadecimal)?;
    }
    d.asm.call(saying.end)?;
    d.asm.mov(si, texts.hexadecimal)?;
    d.asm.call(r.say)?;
    d.asm.call(r.say_end)?;
    d.asm.ret()?;
    finish(d, r, v, texts, &put)?;
    put.write(d)
}

/// Finds the buffer where the text goes on, and notes where it ends.
struct Saying {
    begin: CodeLabel,
    end: CodeLabel,
    text: u32,
}

impl Saying {
    fn write(&mut self, d: &mut Draft) -> Result<(), IcedError> {
        d.asm.set_label(&mut self.begin)?;
        d.note("routine: ES:DI, where the text goes on; AX is kept");
        d.asm.push(ax)?;
        d.asm.mov(ax, cs)?;
        d.asm.add(ax, BUFFER_PARAGRAPHS)?;
        d.asm.mov(es, ax)?;
        d.asm.pop(ax)?;
        d.asm.mov(di, word_ptr(self.text))?;
        d.asm.ret()?;
        d.asm.set_label(&mut self.end)?;
        d.note("routine: the text goes on at DI");
        d.asm.mov(word_ptr(self.text), di)?;
        d.asm.ret()
    }

    fn around(&self, d: &mut Draft, say: impl FnOnce(&mut Draft) -> Result<(), IcedError>) -> Result<(), IcedError> {
        d.asm.push(bx)?;
        d.asm.call(self.begin)?;
        say(d)?;
        d.asm.call(self.end)?;
        d.asm.pop(bx)?;
        d.asm.ret()
    }
}

/// The check, the file, and out.
fn finish(
    d: &mut Draft,
    r: &mut SurveyRoutines,
    v: &SurveyVariables,
    texts: &Texts,
    put: &Put,
) -> Result<(), IcedError> {
    let (mut failed, mut again, mut shown) = (d.asm.create_label(), d.asm.create_label(), d.asm.create_label());
    let mut over = d.asm.create_label();
    d.asm.set_label(&mut r.finish)?;
    d.note("the check over all of it");
    d.asm.mov(ax, cs)?;
    d.asm.add(ax, BUFFER_PARAGRAPHS)?;
    d.asm.mov(es, ax)?;
    d.asm.mov(di, word_ptr(v.text))?;
    put.check_line(d, texts.check)?;
    d.asm.mov(word_ptr(v.length), di)?;
    d.asm.set_label(&mut again)?;
    texts
        .file
        .write(d, Writing { length: v.length, text_address: v.text_address, print: r.print, failed, written: shown })?;
    d.asm.set_label(&mut failed)?;
    d.note("once more, or on the screen");
    d.asm.mov(dx, texts.failed)?;
    d.asm.call(r.print)?;
    d.asm.xor(ah, ah)?;
    d.asm.int(0x16)?;
    d.asm.and(al, 0xDF)?;
    d.asm.cmp(al, u32::from(b'R'))?;
    d.jump(If::Equal, again)?;
    d.note("to standard output, which whoever called may have led elsewhere");
    d.asm.mov(cx, word_ptr(v.length))?;
    d.asm.mov(bx, 1)?;
    d.asm.push(ds)?;
    d.asm.push(es)?;
    d.asm.pop(ds)?;
    d.asm.xor(dx, dx)?;
    d.asm.mov(ah, 0x40)?;
    d.asm.int(0x21)?;
    d.asm.pop(ds)?;
    d.asm.mov(ax, 0x4C01)?;
    d.asm.jmp(over)?;
    d.asm.set_label(&mut shown)?;
    d.asm.mov(ax, 0x4C00)?;
    d.asm.set_label(&mut over)?;
    d.note("and back to whoever called");
    d.asm.int(0x21)
}
