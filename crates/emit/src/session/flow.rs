//! The way through a session: memory and the opening pages, then look after look.

use iced_x86::IcedError;
use iced_x86::code_asm::*;

use super::canvas::at;
use super::facts::SessionFacts;
use super::keys::{self, key};
use super::layout::{
    BUFFER_LEN, BUFFER_PARAGRAPHS, FILE_PARAGRAPHS, LABEL, MARKS, RECORD, SessionPages, SessionRoutines,
    SessionVariables, entry, record,
};
use crate::draft::{Draft, If};

impl SessionFacts<'_> {
    /// Memory, variables, the data file, the opening pages.
    pub(super) fn begin(
        &self,
        d: &mut Draft,
        r: &SessionRoutines,
        v: &SessionVariables,
        pages: &SessionPages,
    ) -> Result<(), IcedError> {
        let (mut enough, mut unset, mut out) = (d.asm.create_label(), d.asm.create_label(), d.asm.create_label());
        d.note("strings go upwards; is there memory for the buffers?");
        d.asm.cld()?;
        let buffers = if self.file.is_some() { FILE_PARAGRAPHS } else { BUFFER_PARAGRAPHS } + BUFFER_LEN;
        d.asm.mov(bx, cs)?;
        d.asm.add(bx, buffers)?;
        d.asm.cmp(word_ptr(2), bx)?;
        d.asm.jae(enough)?;
        d.asm.mov(dx, pages.no_memory)?;
        d.asm.set_label(&mut out)?;
        d.asm.mov(ah, 9)?;
        d.asm.int(0x21)?;
        d.asm.mov(ax, 0x4C01)?;
        d.asm.int(0x21)?;
        d.asm.set_label(&mut enough)?;
        d.note("nothing is answered, no mark is set");
        d.asm.push(cs)?;
        d.asm.pop(es)?;
        d.asm.mov(di, v.room)?;
        d.asm.mov(cx, v.end - v.room)?;
        d.asm.xor(al, al)?;
        d.asm.rep().stosb()?;
        d.asm.mov(di, v.records)?;
        d.asm.mov(bx, self.session.looks().len() as u32)?;
        d.asm.set_label(&mut unset)?;
        d.asm.add(di, record::MARKS)?;
        d.asm.mov(ax, 0xFFFF)?;
        d.asm.mov(cx, MARKS)?;
        d.asm.rep().stosw()?;
        d.asm.add(di, RECORD - record::MARKS - 2 * MARKS)?;
        d.asm.dec(bx)?;
        d.asm.jne(unset)?;
        d.asm.mov(byte_ptr(v.group), 0xFF)?;
        if self.file.is_some() {
            let mut open = d.asm.create_label();
            d.note("open the data file");
            d.asm.mov(dx, pages.file)?;
            d.asm.mov(ax, 0x3D00)?;
            d.asm.int(0x21)?;
            d.asm.jae(open)?;
            d.asm.mov(dx, pages.no_data)?;
            d.asm.jmp(out)?;
            d.asm.set_label(&mut open)?;
            d.asm.mov(word_ptr(v.handle), ax)?;
        }
        for page in &pages.opening {
            let mut on = d.asm.create_label();
            d.asm.mov(dx, *page)?;
            d.asm.call(r.page)?;
            d.asm.cmp(al, key::ESCAPE)?;
            d.asm.jne(on)?;
            d.note("escape: nothing has been done yet");
            d.asm.mov(ax, 0x4C00)?;
            d.asm.int(0x21)?;
            d.asm.set_label(&mut on)?;
            d.asm.nop()?;
        }
        Ok(())
    }

    /// Look after look, key after key.
    pub(super) fn looks(
        &self,
        d: &mut Draft,
        r: &SessionRoutines,
        v: &SessionVariables,
        pages: &SessionPages,
    ) -> Result<(), IcedError> {
        let last = self.session.looks().len() as u32 - 1;
        let (mut enter, mut same, mut shown, mut set) =
            (d.asm.create_label(), d.asm.create_label(), d.asm.create_label(), d.asm.create_label());
        let (mut next_key, mut answered, mut leave_text, mut ending) =
            (d.asm.create_label(), d.asm.create_label(), d.asm.create_label(), d.asm.create_label());
        d.asm.set_label(&mut enter)?;
        d.note("a look: is its setting that of the look before, but for the start address?");
        d.asm.call(r.entry)?;
        d.asm.mov(al, byte_ptr(bx + entry::GROUP))?;
        d.asm.cmp(al, byte_ptr(v.group))?;
        d.jump(If::Equal, same)?;
        d.asm.cmp(byte_ptr(v.quiet), 0)?;
        d.jump(If::NotEqual, set)?;
        d.note("tell what comes");
        d.asm.mov(dx, word_ptr(bx + entry::PAGE))?;
        d.asm.call(r.page)?;
        d.asm.cmp(al, key::ESCAPE)?;
        d.jump(If::Equal, ending)?;
        d.asm.set_label(&mut set)?;
        d.note("set the mode, make the writes, fill memory");
        d.asm.mov(byte_ptr(v.quiet), 0)?;
        d.asm.mov(bx, word_ptr(v.entry))?;
        d.asm.mov(al, byte_ptr(bx + entry::MODE))?;
        d.asm.xor(ah, ah)?;
        d.asm.int(0x10)?;
        d.asm.mov(bx, word_ptr(v.entry))?;
        d.asm.mov(si, word_ptr(bx + entry::ALL))?;
        d.asm.call(r.ports)?;
        take_canvas(d, v)?;
        d.asm.mov(bx, word_ptr(v.entry))?;
        d.asm.mov(si, word_ptr(bx + entry::IMAGE))?;
        d.asm.call(r.picture)?;
        d.asm.mov(bx, word_ptr(v.entry))?;
        d.asm.mov(al, byte_ptr(bx + entry::GROUP))?;
        d.asm.mov(byte_ptr(v.group), al)?;
        d.asm.jmp(shown)?;
        d.asm.set_label(&mut same)?;
        d.note("the start address alone");
        d.asm.mov(byte_ptr(v.quiet), 0)?;
        d.asm.mov(si, word_ptr(bx + entry::START))?;
        d.asm.call(r.ports)?;
        take_canvas(d, v)?;
        d.asm.set_label(&mut shown)?;
        d.note("nothing is drawn on it yet; the marker waits in the middle");
        d.asm.mov(di, v.label_shown)?;
        d.asm.mov(cx, LABEL)?;
        d.asm.mov(al, u32::from(b' '))?;
        d.asm.rep().stosb()?;
        d.asm.mov(byte_ptr(v.marker_on), 0)?;
        for (size, marker) in [(at::WIDTH, v.marker_x), (at::HEIGHT, v.marker_y)] {
            d.asm.mov(ax, word_ptr(v.canvas + size))?;
            d.asm.shr(ax, 1)?;
            d.asm.mov(word_ptr(marker), ax)?;
        }
        d.asm.set_label(&mut answered)?;
        d.asm.call(r.tell)?;

        d.asm.set_label(&mut next_key)?;
        d.note("the next key");
        d.asm.xor(ah, ah)?;
        d.asm.int(0x16)?;
        d.asm.mov(bx, word_ptr(v.record))?;
        keys::moves(d, r, v, next_key, answered)?;
        keys::answers(d, answered)?;
        keys::marks(d, v, next_key, answered)?;
        keys::others(d, r, v, pages, (answered, leave_text))?;
        d.note("on, back, or to the end");
        let (mut not_on, mut not_back, mut further) =
            (d.asm.create_label(), d.asm.create_label(), d.asm.create_label());
        d.asm.cmp(al, key::ESCAPE)?;
        d.jump(If::Equal, ending)?;
        d.asm.cmp(al, key::BACKSPACE)?;
        d.jump(If::NotEqual, not_back)?;
        d.asm.cmp(word_ptr(v.look), 0)?;
        d.jump(If::Equal, next_key)?;
        d.asm.call(r.leave)?;
        d.asm.dec(word_ptr(v.look))?;
        d.asm.jmp(enter)?;
        d.asm.set_label(&mut not_back)?;
        d.asm.cmp(al, key::ENTER)?;
        d.asm.je(further)?;
        d.asm.cmp(al, u32::from(b' '))?;
        d.jump(If::NotEqual, not_on)?;
        d.asm.set_label(&mut further)?;
        d.asm.cmp(word_ptr(v.look), last)?;
        d.jump(If::Equal, ending)?;
        d.asm.call(r.leave)?;
        d.asm.inc(word_ptr(v.look))?;
        d.asm.jmp(enter)?;
        d.asm.set_label(&mut not_on)?;
        d.asm.jmp(next_key)?;

        d.asm.set_label(&mut ending)?;
        d.note("enter ends the session, any other key goes back to the look");
        d.asm.mov(dx, pages.end)?;
        d.asm.call(r.page)?;
        d.asm.cmp(al, key::ENTER)?;
        d.jump(If::Equal, r.finish)?;
        d.asm.set_label(&mut leave_text)?;
        d.note("from text back to the look");
        d.asm.mov(byte_ptr(v.quiet), 1)?;
        d.asm.jmp(enter)
    }
}

/// The look's canvas and where its first pixel stands.
fn take_canvas(d: &mut Draft, v: &SessionVariables) -> Result<(), IcedError> {
    d.asm.mov(bx, word_ptr(v.entry))?;
    d.asm.mov(ax, word_ptr(bx + entry::ORIGIN))?;
    d.asm.mov(word_ptr(v.origin), ax)?;
    d.asm.mov(si, word_ptr(bx + entry::CANVAS))?;
    d.asm.mov(di, v.canvas)?;
    d.asm.mov(cx, at::LEN)?;
    d.asm.rep().movsb()
}
