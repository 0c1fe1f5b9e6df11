//! Keys while a picture is shown: the marker's moves, answers, marks, words.

use backporch_evidence::TINGES;
use iced_x86::IcedError;
use iced_x86::code_asm::*;

use super::canvas::at;
use super::layout::{MARKS, NOTE_ROOM, SessionPages, SessionRoutines, SessionVariables, flag, record};
use crate::draft::{Draft, If};

/// Answers as records have them: positions in the words of the evidence.
mod saw {
    pub const CLEAN: u32 = 1;
    pub const COLOURS: u32 = 4;
    pub const UNSURE: u32 = 8;
    pub const DAMAGED: u32 = 9;
}

/// Keys of function 00h of interrupt 16h: characters, and scan codes of keys without one (*Technical Reference*, keyboard).
pub(super) mod key {
    pub const ESCAPE: u32 = 27;
    pub const BACKSPACE: u32 = 8;
    pub const ENTER: u32 = 13;
    pub const UP: u32 = 0x48;
    pub const DOWN: u32 = 0x50;
    pub const LEFT: u32 = 0x4B;
    pub const RIGHT: u32 = 0x4D;
    pub const PAGE_UP: u32 = 0x49;
    pub const PAGE_DOWN: u32 = 0x51;
    pub const HOME: u32 = 0x47;
    pub const END: u32 = 0x4F;
}

/// Arrows and their like: a key without a character.
pub(super) fn moves(
    d: &mut Draft,
    r: &SessionRoutines,
    v: &SessionVariables,
    keys: CodeLabel,
    answered: CodeLabel,
) -> Result<(), IcedError> {
    let (mut other, mut moved) = (d.asm.create_label(), d.asm.create_label());
    d.note("keys without a character move the marker");
    d.asm.test(al, al)?;
    d.jump(If::NotEqual, other)?;
    let steps: [(u32, i32, i32); 8] = [
        (key::UP, 0, -1),
        (key::DOWN, 0, 1),
        (key::LEFT, -1, 0),
        (key::RIGHT, 1, 0),
        (key::PAGE_UP, 0, -10),
        (key::PAGE_DOWN, 0, 10),
        (key::HOME, -20, 0),
        (key::END, 20, 0),
    ];
    for (code, right, down) in steps {
        let mut next = d.asm.create_label();
        d.asm.cmp(ah, code)?;
        d.asm.jne(next)?;
        d.asm.mov(cx, right & 0xFFFF)?;
        d.asm.mov(dx, down & 0xFFFF)?;
        d.asm.jmp(moved)?;
        d.asm.set_label(&mut next)?;
        d.asm.nop()?;
    }
    d.asm.jmp(keys)?;
    d.asm.set_label(&mut moved)?;
    d.note("the first such key only shows it");
    let (mut first, mut show) = (d.asm.create_label(), d.asm.create_label());
    d.asm.cmp(byte_ptr(v.marker_on), 0)?;
    d.jump(If::Equal, first)?;
    d.asm.push(cx)?;
    d.asm.push(dx)?;
    d.asm.call(r.marker)?;
    d.asm.pop(dx)?;
    d.asm.pop(cx)?;
    for (place, size, by) in [(v.marker_x, at::WIDTH, cx), (v.marker_y, at::HEIGHT, dx)] {
        let (mut inside, mut below) = (d.asm.create_label(), d.asm.create_label());
        d.asm.mov(ax, word_ptr(place))?;
        d.asm.add(ax, by)?;
        d.asm.jns(inside)?;
        d.asm.xor(ax, ax)?;
        d.asm.set_label(&mut inside)?;
        d.asm.cmp(ax, word_ptr(v.canvas + size))?;
        d.asm.jb(below)?;
        d.asm.mov(ax, word_ptr(v.canvas + size))?;
        d.asm.dec(ax)?;
        d.asm.set_label(&mut below)?;
        d.asm.mov(word_ptr(place), ax)?;
    }
    d.asm.jmp(show)?;
    d.asm.set_label(&mut first)?;
    d.asm.mov(byte_ptr(v.marker_on), 1)?;
    d.asm.set_label(&mut show)?;
    d.asm.call(r.marker)?;
    d.asm.jmp(answered)?;
    d.asm.set_label(&mut other)?;
    d.note("letters count alike, large or small");
    let mut large = d.asm.create_label();
    d.asm.cmp(al, u32::from(b'a'))?;
    d.asm.jb(large)?;
    d.asm.and(al, 0xDF)?;
    d.asm.set_label(&mut large)?;
    d.asm.nop()
}

/// Digits.
pub(super) fn answers(d: &mut Draft, answered: CodeLabel) -> Result<(), IcedError> {
    let (mut none, mut flickers, mut zero, mut store, mut not_clean) =
        (d.asm.create_label(), d.asm.create_label(), d.asm.create_label(), d.asm.create_label(), d.asm.create_label());
    d.note("digits are answers");
    d.asm.cmp(al, u32::from(b'0'))?;
    d.jump(If::Below, none)?;
    d.asm.cmp(al, u32::from(b'9') + 1)?;
    d.jump(If::NotBelow, none)?;
    d.asm.sub(al, u32::from(b'0'))?;
    d.asm.je(zero)?;
    d.asm.cmp(al, 8)?;
    d.jump(If::Equal, flickers)?;
    d.asm.jmp(store)?;
    d.asm.set_label(&mut zero)?;
    d.asm.mov(al, saw::UNSURE)?;
    d.asm.set_label(&mut store)?;
    d.asm.mov(byte_ptr(bx + record::SAW), al)?;
    d.asm.cmp(al, saw::CLEAN)?;
    d.jump(If::NotEqual, not_clean)?;
    d.note("a clean picture has no marks, and does not flicker");
    d.asm.and(byte_ptr(bx + record::FLAGS), !flag::FLICKERS & 0xFF)?;
    clear_marks(d)?;
    d.asm.set_label(&mut not_clean)?;
    d.asm.jmp(answered)?;
    d.asm.set_label(&mut flickers)?;
    d.asm.xor(byte_ptr(bx + record::FLAGS), flag::FLICKERS)?;
    is_damaged(d)?;
    d.asm.jmp(answered)?;
    d.asm.set_label(&mut none)?;
    d.asm.nop()
}

/// No mark of the record at BX, nor what goes with marks.
fn clear_marks(d: &mut Draft) -> Result<(), IcedError> {
    d.asm.and(byte_ptr(bx + record::FLAGS), flag::FLICKERS)?;
    d.asm.mov(byte_ptr(bx + record::TINGE), 0)?;
    d.asm.mov(di, bx)?;
    d.asm.add(di, record::MARKS)?;
    d.asm.mov(ax, 0xFFFF)?;
    d.asm.mov(cx, MARKS)?;
    d.asm.rep().stosw()
}

/// Who marks damage, or sees it flicker, has not seen a clean picture.
fn is_damaged(d: &mut Draft) -> Result<(), IcedError> {
    let mut said = d.asm.create_label();
    d.asm.cmp(byte_ptr(bx + record::SAW), saw::CLEAN + 1)?;
    d.asm.jae(said)?;
    d.asm.mov(byte_ptr(bx + record::SAW), saw::DAMAGED)?;
    d.asm.set_label(&mut said)?;
    d.asm.nop()
}

/// Letters that keep the marker's place.
pub(super) fn marks(
    d: &mut Draft,
    v: &SessionVariables,
    keys: CodeLabel,
    answered: CodeLabel,
) -> Result<(), IcedError> {
    let (x, y) = (v.marker_x, v.marker_y);
    // Each with the marks it sets, by their positions.
    let letters: [(u8, &[(u32, u32)]); 7] = [
        (b'T', &[(0, y)]),
        (b'S', &[(1, y)]),
        (b'B', &[(2, y)]),
        (b'L', &[(3, x)]),
        (b'R', &[(4, x)]),
        (b'F', &[(5, x), (6, y)]),
        (b'G', &[(7, x), (8, y)]),
    ];
    for (letter, marks) in letters {
        let mut next = d.asm.create_label();
        d.asm.cmp(al, u32::from(letter))?;
        d.jump(If::NotEqual, next)?;
        d.asm.cmp(byte_ptr(v.marker_on), 0)?;
        d.jump(If::Equal, keys)?;
        for (number, place) in marks {
            d.asm.mov(ax, word_ptr(*place))?;
            d.asm.mov(word_ptr(bx + (record::MARKS + 2 * number)), ax)?;
        }
        is_damaged(d)?;
        d.asm.jmp(answered)?;
        d.asm.set_label(&mut next)?;
        d.asm.nop()?;
    }
    regular_and_narrower(d, answered)?;
    tinge(d, answered)?;
    let mut next = d.asm.create_label();
    d.asm.cmp(al, u32::from(b'X'))?;
    d.jump(If::NotEqual, next)?;
    clear_marks(d)?;
    d.asm.jmp(answered)?;
    d.asm.set_label(&mut next)?;
    d.asm.nop()
}

/// Whether damaged lines follow at equal distances; whether lines end before they should.
fn regular_and_narrower(d: &mut Draft, answered: CodeLabel) -> Result<(), IcedError> {
    for (letter, flag) in [(b'E', flag::REGULAR), (b'N', flag::NARROWER)] {
        let mut next = d.asm.create_label();
        d.asm.cmp(al, u32::from(letter))?;
        d.jump(If::NotEqual, next)?;
        d.asm.xor(byte_ptr(bx + record::FLAGS), flag)?;
        is_damaged(d)?;
        d.asm.jmp(answered)?;
        d.asm.set_label(&mut next)?;
        d.asm.nop()?;
    }
    Ok(())
}

/// How colours are wrong, a word after another.
fn tinge(d: &mut Draft, answered: CodeLabel) -> Result<(), IcedError> {
    let mut not_tinge = d.asm.create_label();
    d.asm.cmp(al, u32::from(b'C'))?;
    d.jump(If::NotEqual, not_tinge)?;
    let (mut known, mut said) = (d.asm.create_label(), d.asm.create_label());
    d.asm.mov(al, byte_ptr(bx + record::TINGE))?;
    d.asm.inc(al)?;
    d.asm.cmp(al, TINGES.len() as u32)?;
    d.asm.jb(known)?;
    d.asm.xor(al, al)?;
    d.asm.set_label(&mut known)?;
    d.asm.mov(byte_ptr(bx + record::TINGE), al)?;
    d.asm.cmp(byte_ptr(bx + record::SAW), saw::CLEAN + 1)?;
    d.asm.jae(said)?;
    d.asm.mov(byte_ptr(bx + record::SAW), saw::COLOURS)?;
    d.asm.set_label(&mut said)?;
    d.asm.jmp(answered)?;
    d.asm.set_label(&mut not_tinge)?;
    d.asm.nop()
}

/// The marker on and off, words, help.
pub(super) fn others(
    d: &mut Draft,
    r: &SessionRoutines,
    v: &SessionVariables,
    pages: &SessionPages,
    (answered, leave_text): (CodeLabel, CodeLabel),
) -> Result<(), IcedError> {
    let (mut not_marker, mut not_help, mut not_words) =
        (d.asm.create_label(), d.asm.create_label(), d.asm.create_label());
    d.asm.cmp(al, u32::from(b'M'))?;
    d.jump(If::NotEqual, not_marker)?;
    d.asm.xor(byte_ptr(v.marker_on), 1)?;
    d.asm.call(r.marker)?;
    d.asm.jmp(answered)?;
    d.asm.set_label(&mut not_marker)?;
    d.asm.cmp(al, u32::from(b'H'))?;
    d.jump(If::NotEqual, not_help)?;
    d.asm.mov(dx, pages.help)?;
    d.asm.call(r.page)?;
    d.asm.jmp(leave_text)?;
    d.asm.set_label(&mut not_help)?;
    d.asm.cmp(al, u32::from(b'W'))?;
    d.jump(If::NotEqual, not_words)?;
    d.note("words are typed in text, and kept");
    d.asm.call(r.text_mode)?;
    d.asm.mov(dx, pages.words)?;
    d.asm.call(r.print)?;
    d.asm.mov(byte_ptr(v.typed), NOTE_ROOM + 1)?;
    d.asm.mov(dx, v.typed)?;
    d.asm.mov(ah, 0x0A)?;
    d.asm.int(0x21)?;
    d.asm.mov(bx, word_ptr(v.record))?;
    d.asm.mov(al, byte_ptr(v.typed + 1))?;
    d.asm.mov(byte_ptr(bx + record::NOTE_LEN), al)?;
    d.asm.mov(si, v.typed + 2)?;
    d.asm.mov(di, bx)?;
    d.asm.add(di, record::NOTE)?;
    d.asm.mov(cx, NOTE_ROOM)?;
    d.asm.rep().movsb()?;
    d.asm.jmp(leave_text)?;
    d.asm.set_label(&mut not_words)?;
    d.asm.nop()
}
