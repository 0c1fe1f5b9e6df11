//! Drawing on the picture: single pixels by exclusive or, the marker and the label at the top left made of them.

use iced_x86::IcedError;
use iced_x86::code_asm::*;

use super::canvas::{PixelAccess, at};
use super::facts::{Indexed, SessionFacts};
use super::layout::{GLYPHS, LABEL, SessionRoutines, SessionVariables};
use crate::draft::{Draft, If};

/// Routines that begin and end drawing.
pub(super) fn write_begin_and_end(
    d: &mut Draft,
    r: &mut SessionRoutines,
    v: &SessionVariables,
) -> Result<(), IcedError> {
    d.asm.set_label(&mut r.begin_drawing)?;
    d.note("routine: begin drawing, the window in ES");
    d.asm.mov(si, word_ptr(v.canvas + at::BEGIN))?;
    d.asm.call(r.ports)?;
    d.asm.mov(es, word_ptr(v.canvas + at::SEGMENT))?;
    d.asm.ret()?;
    d.asm.set_label(&mut r.end_drawing)?;
    d.note("routine: end drawing, the program's own segment in ES");
    d.asm.push(cs)?;
    d.asm.pop(es)?;
    d.asm.mov(si, word_ptr(v.canvas + at::END))?;
    d.asm.call(r.ports)?;
    d.asm.ret()
}

/// Exclusive-ors the pixel at column CX of line DX, both kept.
pub(super) fn write_pixel(
    d: &mut Draft,
    r: &mut SessionRoutines,
    v: &SessionVariables,
    facts: &SessionFacts<'_>,
) -> Result<(), IcedError> {
    let (mut text, mut planar, mut plane_bytes) = (d.asm.create_label(), d.asm.create_label(), d.asm.create_label());
    let mut out = d.asm.create_label();
    let canvas = |offset| v.canvas + offset;
    d.asm.set_label(&mut r.pixel)?;
    d.note("routine: exclusive-or the pixel at column CX of line DX");
    d.asm.push(cx)?;
    d.asm.push(dx)?;
    d.asm.mov(ax, dx)?;
    d.asm.mov(cl, byte_ptr(canvas(at::LINES_SHIFT)))?;
    d.asm.shr(ax, cl)?;
    d.asm.mul(word_ptr(canvas(at::PITCH)))?;
    d.asm.add(ax, word_ptr(v.origin))?;
    d.asm.mov(di, ax)?;
    d.note("the line's bank in SI");
    d.asm.pop(dx)?;
    d.asm.push(dx)?;
    d.asm.mov(ax, dx)?;
    d.asm.and(ax, word_ptr(canvas(at::LINES_MASK)))?;
    d.asm.mul(word_ptr(canvas(at::BANK)))?;
    d.asm.mov(si, ax)?;
    d.asm.pop(dx)?;
    d.asm.pop(cx)?;
    d.asm.push(cx)?;
    d.asm.push(dx)?;
    d.note("the byte along the line");
    d.asm.mov(bx, cx)?;
    d.asm.mov(ax, cx)?;
    d.asm.mov(cl, byte_ptr(canvas(at::PIXELS_SHIFT)))?;
    d.asm.shr(ax, cl)?;
    d.asm.add(di, ax)?;
    d.asm.cmp(byte_ptr(canvas(at::KIND)), PixelAccess::Text as u32)?;
    d.asm.je(text)?;
    d.asm.and(di, word_ptr(canvas(at::MASK)))?;
    d.asm.or(di, si)?;
    d.asm.and(bx, word_ptr(canvas(at::PIXELS_MASK)))?;
    d.asm.mov(al, byte_ptr(bx + canvas(at::MASKS)))?;
    d.asm.cmp(byte_ptr(canvas(at::KIND)), PixelAccess::Planar as u32)?;
    d.asm.je(planar)?;
    d.asm.cmp(byte_ptr(canvas(at::KIND)), PixelAccess::PlaneBytes as u32)?;
    d.asm.je(plane_bytes)?;
    d.asm.xor(byte_ptr(di).es(), al)?;
    d.jump_to(out)?;
    d.asm.set_label(&mut text)?;
    d.note("the attribute of a cell");
    d.asm.add(di, ax)?;
    d.asm.and(di, word_ptr(canvas(at::MASK)))?;
    d.asm.mov(al, byte_ptr(canvas(at::MASKS)))?;
    d.asm.xor(byte_ptr(di + 1).es(), al)?;
    d.jump_to(out)?;
    d.asm.set_label(&mut planar)?;
    match facts.bit_mask {
        Some(bit_mask) => {
            d.note("one bit of all planes, by the logic function");
            d.asm.mov(ah, al)?;
            write_register(d, bit_mask, ah)?;
            d.asm.mov(al, byte_ptr(di).es())?;
            d.asm.mov(byte_ptr(di).es(), 0xFF)?;
            d.jump_to(out)?;
        }
        None => d.asm.nop()?,
    }
    d.asm.set_label(&mut plane_bytes)?;
    match (facts.map_mask, facts.read_map) {
        (Some(map_mask), Some(read_map)) => {
            d.note("a byte of the plane that is the column's");
            d.asm.mov(cx, bx)?;
            d.asm.mov(ah, 1)?;
            d.asm.shl(ah, cl)?;
            write_register(d, map_mask, ah)?;
            write_register(d, read_map, cl)?;
            d.asm.mov(al, byte_ptr(canvas(at::MASKS)))?;
            d.asm.xor(byte_ptr(di).es(), al)?;
        }
        _ => d.asm.nop()?,
    }
    d.asm.set_label(&mut out)?;
    d.asm.pop(dx)?;
    d.asm.pop(cx)?;
    d.asm.ret()
}

/// Writes what stands in an eight-bit register of the processor to one of the board.
fn write_register(d: &mut Draft, (select, index, data): Indexed, value: AsmRegister8) -> Result<(), IcedError> {
    d.out(select, index)?;
    d.asm.mov(dx, u32::from(data))?;
    d.asm.mov(al, value)?;
    d.asm.out(dx, al)
}

/// Exclusive-ors the marker: a line and a column.
pub(super) fn write_marker(d: &mut Draft, r: &mut SessionRoutines, v: &SessionVariables) -> Result<(), IcedError> {
    let (mut along, mut down) = (d.asm.create_label(), d.asm.create_label());
    d.asm.set_label(&mut r.marker)?;
    d.note("routine: exclusive-or the marker");
    d.asm.call(r.begin_drawing)?;
    d.asm.xor(cx, cx)?;
    d.asm.mov(dx, word_ptr(v.marker_y))?;
    d.asm.set_label(&mut along)?;
    d.asm.call(r.pixel)?;
    d.asm.inc(cx)?;
    d.asm.cmp(cx, word_ptr(v.canvas + at::WIDTH))?;
    d.asm.jb(along)?;
    d.asm.mov(cx, word_ptr(v.marker_x))?;
    d.asm.xor(dx, dx)?;
    d.asm.set_label(&mut down)?;
    d.asm.call(r.pixel)?;
    d.asm.inc(dx)?;
    d.asm.cmp(dx, word_ptr(v.canvas + at::HEIGHT))?;
    d.asm.jb(down)?;
    d.asm.call(r.end_drawing)?;
    d.asm.ret()
}

/// Brings the label on the screen to what is in the new one, character by character.
pub(super) fn write_label(d: &mut Draft, r: &mut SessionRoutines, v: &SessionVariables) -> Result<(), IcedError> {
    let (mut each, mut same, mut cell) = (d.asm.create_label(), d.asm.create_label(), d.asm.create_label());
    let (mut row, mut bit, mut dark) = (d.asm.create_label(), d.asm.create_label(), d.asm.create_label());
    let mut glyph = d.asm.create_label();
    d.asm.set_label(&mut r.label)?;
    d.note("routine: draw what has changed of the label");
    d.asm.call(r.begin_drawing)?;
    d.asm.mov(word_ptr(v.label_at), 0)?;
    d.asm.set_label(&mut each)?;
    d.asm.mov(bx, word_ptr(v.label_at))?;
    d.asm.mov(al, byte_ptr(bx + v.label_shown))?;
    d.asm.mov(ah, byte_ptr(bx + v.label_wanted))?;
    d.asm.cmp(al, ah)?;
    d.asm.je(same)?;
    d.asm.mov(byte_ptr(bx + v.label_shown), ah)?;
    d.asm.cmp(byte_ptr(v.canvas + at::KIND), PixelAccess::Text as u32)?;
    d.asm.je(cell)?;
    d.note("out with the old glyph, in with the new");
    d.asm.push(ax)?;
    d.asm.call(glyph)?;
    d.asm.pop(ax)?;
    d.asm.mov(al, ah)?;
    d.asm.call(glyph)?;
    d.asm.jmp(same)?;
    d.asm.set_label(&mut cell)?;
    d.note("in text the character itself");
    d.asm.xor(al, ah)?;
    d.asm.mov(di, bx)?;
    d.asm.add(di, bx)?;
    d.asm.add(di, word_ptr(v.origin))?;
    d.asm.and(di, word_ptr(v.canvas + at::MASK))?;
    d.asm.xor(byte_ptr(di).es(), al)?;
    d.asm.set_label(&mut same)?;
    d.asm.inc(word_ptr(v.label_at))?;
    d.asm.cmp(word_ptr(v.label_at), LABEL)?;
    d.jump(If::Below, each)?;
    d.asm.call(r.end_drawing)?;
    d.asm.ret()?;

    d.asm.set_label(&mut glyph)?;
    d.note("exclusive-or the glyph of AL at the label's place");
    d.asm.sub(al, u32::from(*GLYPHS.start()))?;
    d.asm.xor(ah, ah)?;
    d.asm.shl(ax, 1)?;
    d.asm.shl(ax, 1)?;
    d.asm.shl(ax, 1)?;
    d.asm.add(ax, v.glyphs)?;
    d.asm.mov(word_ptr(v.glyph), ax)?;
    d.asm.xor(dx, dx)?;
    d.asm.set_label(&mut row)?;
    d.asm.mov(si, word_ptr(v.glyph))?;
    d.asm.lodsb()?;
    d.asm.mov(byte_ptr(v.bits), al)?;
    d.asm.mov(word_ptr(v.glyph), si)?;
    d.asm.mov(cx, word_ptr(v.label_at))?;
    d.asm.shl(cx, 1)?;
    d.asm.shl(cx, 1)?;
    d.asm.shl(cx, 1)?;
    d.asm.mov(byte_ptr(v.count), 8)?;
    d.asm.set_label(&mut bit)?;
    d.asm.shl(byte_ptr(v.bits), 1)?;
    d.asm.jae(dark)?;
    d.asm.cmp(cx, word_ptr(v.canvas + at::WIDTH))?;
    d.asm.jae(dark)?;
    d.asm.call(r.pixel)?;
    d.asm.set_label(&mut dark)?;
    d.asm.inc(cx)?;
    d.asm.dec(byte_ptr(v.count))?;
    d.asm.jne(bit)?;
    d.asm.inc(dx)?;
    d.asm.cmp(dx, 8)?;
    d.asm.jb(row)?;
    d.asm.ret()
}
