//! Pictures: records of what is written where, and the routine that unpacks them into video memory.

use iced_x86::IcedError;
use iced_x86::code_asm::*;

use super::image::Pass;
use super::layout::{BUFFER_PARAGRAPHS, FILE_PARAGRAPHS, SessionRoutines, SessionVariables};
use super::writes::port_list;
use crate::draft::{Data, Draft, If};
use crate::packing::copies::packed;

/// The packed pictures of a session.
#[derive(Debug)]
pub(super) struct Pictures {
    images: Vec<Vec<(Pass, Vec<u8>)>>,
}

impl Pictures {
    pub fn of(images: &[Vec<Pass>]) -> Self {
        let pack = |pass: &Pass| (pass.clone(), packed(&pass.bytes));
        Self { images: images.iter().map(|passes| passes.iter().map(pack).collect()).collect() }
    }

    /// All of them behind each other, as the data file has them.
    pub fn file(&self) -> Vec<u8> {
        self.images.iter().flatten().flat_map(|(_, packed)| packed.iter().copied()).collect()
    }

    /// Puts records, and the pictures themselves where they are not in a file; addresses of the records.
    pub fn put(&self, data: &mut Data, in_file: bool) -> Vec<u32> {
        let mut position = 0u32;
        let mut records = Vec::new();
        for (number, passes) in (1..).zip(&self.images) {
            let mut record = vec![passes.len() as u8];
            for (pass, packed) in passes {
                let select = match pass.select.as_slice() {
                    [] => 0,
                    writes => data.put("ports to write before a pass", port_list(writes)),
                };
                let place = if in_file { 0 } else { data.put(format!("picture {number}, packed"), packed.clone()) };
                let file = if in_file { position } else { 0 };
                position += packed.len() as u32;
                for word in [
                    select,
                    place,
                    file & 0xFFFF,
                    file >> 16,
                    packed.len() as u32,
                    pass.offset,
                    pass.bytes.len() as u32,
                ] {
                    record.extend((word as u16).to_le_bytes());
                }
            }
            records.push(data.put(format!("passes of picture {number}"), record));
        }
        records
    }
}

/// The routine that unpacks the picture whose record SI points at into the window of the look.
pub(super) fn write(
    d: &mut Draft,
    r: &mut SessionRoutines,
    v: &SessionVariables,
    in_file: bool,
) -> Result<(), IcedError> {
    let (mut pass, mut filled, mut done) = (d.asm.create_label(), d.asm.create_label(), d.asm.create_label());
    d.asm.set_label(&mut r.picture)?;
    d.note("routine: unpack the picture whose record is at SI");
    d.asm.lodsb()?;
    d.asm.mov(byte_ptr(v.passes), al)?;
    d.asm.set_label(&mut pass)?;
    d.asm.cmp(byte_ptr(v.passes), 0)?;
    d.jump(If::Equal, done)?;
    d.asm.dec(byte_ptr(v.passes))?;
    d.note("the pass's own port writes");
    d.asm.lodsw()?;
    d.asm.mov(bx, si)?;
    d.asm.add(bx, 12)?;
    d.asm.push(bx)?;
    d.asm.push(si)?;
    d.asm.test(ax, ax)?;
    d.asm.je(filled)?;
    d.asm.mov(si, ax)?;
    d.asm.call(r.ports)?;
    d.asm.set_label(&mut filled)?;
    d.asm.pop(bx)?;
    d.asm.mov(si, word_ptr(bx))?;
    if in_file {
        d.note("the packed bytes from the data file");
        d.asm.push(bx)?;
        d.asm.mov(dx, word_ptr(bx + 2))?;
        d.asm.mov(cx, word_ptr(bx + 4))?;
        d.asm.mov(si, word_ptr(bx + 6))?;
        d.asm.mov(bx, word_ptr(v.handle))?;
        d.asm.mov(ax, 0x4200)?;
        d.asm.int(0x21)?;
        d.jump(If::Below, r.bad_data)?;
        d.asm.mov(cx, si)?;
        d.asm.mov(ax, cs)?;
        d.asm.add(ax, FILE_PARAGRAPHS)?;
        d.asm.mov(ds, ax)?;
        d.asm.xor(dx, dx)?;
        d.asm.mov(ah, 0x3F)?;
        d.asm.int(0x21)?;
        d.asm.mov(dx, cs)?;
        d.asm.mov(ds, dx)?;
        d.jump(If::Below, r.bad_data)?;
        d.asm.cmp(ax, si)?;
        d.jump(If::NotEqual, r.bad_data)?;
        d.asm.pop(bx)?;
        d.asm.xor(si, si)?;
    }
    d.note("unpacked into the buffer");
    d.asm.push(bx)?;
    d.asm.mov(ax, cs)?;
    d.asm.add(ax, BUFFER_PARAGRAPHS)?;
    d.asm.mov(es, ax)?;
    d.asm.xor(di, di)?;
    if in_file {
        d.asm.mov(ax, cs)?;
        d.asm.add(ax, FILE_PARAGRAPHS)?;
        d.asm.mov(ds, ax)?;
    }
    d.unpack("4 to 131 bytes from a distance before", |d| {
        d.asm.sub(cx, 124)?;
        d.asm.lodsw()?;
        d.asm.push(ds)?;
        d.asm.push(si)?;
        d.asm.mov(si, di)?;
        d.asm.sub(si, ax)?;
        d.asm.push(es)?;
        d.asm.pop(ds)?;
        d.asm.rep().movsb()?;
        d.asm.pop(si)?;
        d.asm.pop(ds)
    })?;
    d.note("and copied into the window");
    d.asm.mov(ax, cs)?;
    d.asm.mov(ds, ax)?;
    d.asm.pop(bx)?;
    d.asm.mov(di, word_ptr(bx + 8))?;
    d.asm.mov(cx, word_ptr(bx + 10))?;
    d.asm.mov(dx, es)?;
    d.asm.mov(ax, word_ptr(v.canvas + super::canvas::at::SEGMENT))?;
    d.asm.mov(es, ax)?;
    d.asm.mov(ds, dx)?;
    d.asm.xor(si, si)?;
    d.asm.rep().movsb()?;
    d.asm.mov(ax, cs)?;
    d.asm.mov(ds, ax)?;
    d.asm.mov(es, ax)?;
    d.note("the next record");
    d.asm.pop(si)?;
    d.asm.jmp(pass)?;
    d.asm.set_label(&mut done)?;
    d.asm.ret()
}
