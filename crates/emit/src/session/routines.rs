//! Small routines of the flow: entries, text, pages, the label's content.

use iced_x86::IcedError;
use iced_x86::code_asm::*;

use super::facts::SessionFacts;
use super::layout::{ENTRY, LABEL, RECORD, SessionRoutines, SessionVariables, flag, record};
use crate::draft::Draft;

impl SessionFacts<'_> {
    /// Small routines of the flow.
    pub(super) fn routines(
        &self,
        d: &mut Draft,
        r: &mut SessionRoutines,
        v: &SessionVariables,
    ) -> Result<(), IcedError> {
        d.asm.set_label(&mut r.entry)?;
        d.note("routine: BX, the entry of the look; its record is noted");
        d.asm.mov(ax, word_ptr(v.look))?;
        d.asm.mov(cx, RECORD)?;
        d.asm.mul(cx)?;
        d.asm.add(ax, v.records)?;
        d.asm.mov(word_ptr(v.record), ax)?;
        d.asm.mov(ax, word_ptr(v.look))?;
        d.asm.mov(cx, ENTRY)?;
        d.asm.mul(cx)?;
        d.asm.add(ax, v.entries)?;
        d.asm.mov(word_ptr(v.entry), ax)?;
        d.asm.mov(bx, ax)?;
        d.asm.ret()?;

        d.asm.set_label(&mut r.text_mode)?;
        d.note("routine: text, after which every look is set anew");
        d.asm.mov(byte_ptr(v.group), 0xFF)?;
        d.asm.mov(ax, u32::from(self.text_mode))?;
        d.asm.int(0x10)?;
        d.asm.ret()?;

        d.asm.set_label(&mut r.print)?;
        d.note("routine: print the text at DX");
        d.asm.mov(ah, 9)?;
        d.asm.int(0x21)?;
        d.asm.ret()?;

        d.asm.set_label(&mut r.page)?;
        d.note("routine: show the page at DX, wait for a key");
        d.asm.push(dx)?;
        d.asm.call(r.text_mode)?;
        d.asm.pop(dx)?;
        d.asm.call(r.print)?;
        d.asm.xor(ah, ah)?;
        d.asm.int(0x16)?;
        d.asm.ret()?;

        let mut without = d.asm.create_label();
        d.asm.set_label(&mut r.leave)?;
        d.note("routine: take marker and label off the picture");
        d.asm.cmp(byte_ptr(v.marker_on), 0)?;
        d.asm.je(without)?;
        d.asm.call(r.marker)?;
        d.asm.mov(byte_ptr(v.marker_on), 0)?;
        d.asm.set_label(&mut without)?;
        d.asm.mov(di, v.label_wanted)?;
        d.asm.mov(cx, LABEL)?;
        d.asm.mov(al, u32::from(b' '))?;
        d.asm.rep().stosb()?;
        d.asm.call(r.label)?;
        d.asm.ret()?;
        tell(d, r, v)
    }
}

/// The label: look, answer, flickers, the marker's line and column, the marks.
fn tell(d: &mut Draft, r: &mut SessionRoutines, v: &SessionVariables) -> Result<(), IcedError> {
    let (mut steady, mut hidden) = (d.asm.create_label(), d.asm.create_label());
    d.asm.set_label(&mut r.tell)?;
    d.note("routine: tell look, answer and marks at the top left");
    d.asm.mov(di, v.label_wanted)?;
    d.asm.mov(cx, LABEL)?;
    d.asm.mov(al, u32::from(b' '))?;
    d.asm.rep().stosb()?;
    d.asm.mov(di, v.label_wanted)?;
    d.asm.mov(ax, word_ptr(v.look))?;
    d.asm.inc(ax)?;
    d.asm.call(r.three)?;
    d.asm.mov(bx, word_ptr(v.record))?;
    d.asm.mov(al, byte_ptr(bx + record::SAW))?;
    d.asm.xor(ah, ah)?;
    d.asm.mov(si, ax)?;
    d.asm.mov(al, byte_ptr(si + v.letters))?;
    d.asm.mov(byte_ptr(v.label_wanted + 3), al)?;
    d.asm.test(byte_ptr(bx + record::FLAGS), flag::FLICKERS)?;
    d.asm.je(steady)?;
    d.asm.mov(byte_ptr(v.label_wanted + 4), u32::from(b'*'))?;
    d.asm.set_label(&mut steady)?;
    d.asm.cmp(byte_ptr(v.marker_on), 0)?;
    d.asm.je(hidden)?;
    d.asm.mov(di, v.label_wanted + 5)?;
    d.asm.mov(ax, word_ptr(v.marker_y))?;
    d.asm.call(r.three)?;
    d.asm.mov(di, v.label_wanted + 9)?;
    d.asm.mov(ax, word_ptr(v.marker_x))?;
    d.asm.call(r.three)?;
    d.asm.set_label(&mut hidden)?;
    d.asm.mov(bx, word_ptr(v.record))?;
    // Of the marks of a movement the column stands for the line as well.
    for (place, (number, letter)) in (13..).zip([0, 1, 2, 3, 4, 5, 7].into_iter().zip(*b"TSBLRFG")) {
        let mut unset = d.asm.create_label();
        d.asm.cmp(word_ptr(bx + (record::MARKS + 2 * number)), 0xFFFF_u32)?;
        d.asm.je(unset)?;
        d.asm.mov(byte_ptr(v.label_wanted + place), u32::from(letter))?;
        d.asm.set_label(&mut unset)?;
        d.asm.nop()?;
    }
    let mut irregular = d.asm.create_label();
    d.asm.test(byte_ptr(bx + record::FLAGS), flag::REGULAR)?;
    d.asm.je(irregular)?;
    d.asm.mov(byte_ptr(v.label_wanted + 20), u32::from(b'E'))?;
    d.asm.set_label(&mut irregular)?;
    let mut as_wide = d.asm.create_label();
    d.asm.test(byte_ptr(bx + record::FLAGS), flag::NARROWER)?;
    d.asm.je(as_wide)?;
    d.asm.mov(byte_ptr(v.label_wanted + 21), u32::from(b'N'))?;
    d.asm.set_label(&mut as_wide)?;
    d.asm.mov(al, byte_ptr(bx + record::TINGE))?;
    d.asm.xor(ah, ah)?;
    d.asm.shl(ax, 1)?;
    d.asm.add(ax, v.tinges)?;
    d.asm.mov(si, ax)?;
    d.asm.lodsw()?;
    d.asm.mov(word_ptr(v.label_wanted + 22), ax)?;
    d.asm.call(r.label)?;
    d.asm.ret()?;

    d.asm.set_label(&mut r.three)?;
    d.note("routine: AX in three digits at DI");
    d.asm.mov(cx, 100)?;
    for divisor in [Some(10), Some(1), None] {
        d.asm.xor(dx, dx)?;
        d.asm.div(cx)?;
        d.asm.add(al, u32::from(b'0'))?;
        d.asm.stosb()?;
        d.asm.mov(ax, dx)?;
        if let Some(divisor) = divisor {
            d.asm.mov(cx, divisor)?;
        }
    }
    d.asm.ret()
}
