//! Port writes at their moments, and waits for the beam.

use iced_x86::IcedError;
use iced_x86::code_asm::*;

use super::facts::SessionFacts;
use super::layout::SessionRoutines;
use crate::draft::Draft;
use crate::program::LINES_DOWN;

impl SessionFacts<'_> {
    /// Port writes stage by stage, and waits for the beam that end however the board behaves.
    pub(super) fn waits(&self, d: &mut Draft, r: &mut SessionRoutines) -> Result<(), IcedError> {
        let (mut stage, mut anytime, mut in_retrace, mut write, mut done) = (
            d.asm.create_label(),
            d.asm.create_label(),
            d.asm.create_label(),
            d.asm.create_label(),
            d.asm.create_label(),
        );
        d.asm.set_label(&mut r.ports)?;
        d.note("routine: make the port writes listed at SI, each stage at its moment");
        d.asm.nop()?;
        d.asm.set_label(&mut stage)?;
        d.asm.lodsb()?;
        d.asm.cmp(al, 0xFF)?;
        d.asm.je(done)?;
        d.asm.cmp(al, 1)?;
        d.asm.jb(anytime)?;
        d.asm.je(in_retrace)?;
        d.asm.call(r.active)?;
        d.asm.jmp(anytime)?;
        d.asm.set_label(&mut in_retrace)?;
        d.asm.call(r.retrace)?;
        d.asm.set_label(&mut anytime)?;
        d.note("interrupts off; a read of the status lets index come before data where both have one port");
        d.asm.cli()?;
        d.asm.mov(dx, u32::from(self.status))?;
        d.asm.in_(al, dx)?;
        d.asm.lodsb()?;
        d.asm.xor(cx, cx)?;
        d.asm.mov(cl, al)?;
        let mut empty = d.asm.create_label();
        d.asm.test(cx, cx)?;
        d.asm.je(empty)?;
        d.asm.set_label(&mut write)?;
        d.asm.lodsw()?;
        d.asm.mov(dx, ax)?;
        d.asm.lodsb()?;
        d.asm.out(dx, al)?;
        d.asm.dec(cx)?;
        d.asm.jne(write)?;
        d.asm.set_label(&mut empty)?;
        d.asm.sti()?;
        d.asm.jmp(stage)?;
        d.asm.set_label(&mut done)?;
        d.asm.ret()?;

        d.asm.set_label(&mut r.retrace)?;
        d.note("routine: wait for vertical retrace to begin, interrupts off");
        d.asm.cli()?;
        d.asm.mov(dx, u32::from(self.status))?;
        let (mask, set) = self.retrace;
        until(d, mask, !set)?;
        until(d, mask, set)?;
        d.asm.ret()?;

        let (mut line, mut counted) = (d.asm.create_label(), d.asm.create_label());
        d.asm.set_label(&mut r.active)?;
        d.note("routine: wait for the active area, some lines down, interrupts off");
        d.asm.call(r.retrace)?;
        let (mask, set) = self.retrace;
        until(d, mask, !set)?;
        d.asm.mov(cx, LINES_DOWN)?;
        d.asm.set_label(&mut line)?;
        until(d, self.no_display, false)?;
        until(d, self.no_display, true)?;
        d.asm.dec(cx)?;
        d.asm.je(counted)?;
        d.asm.jmp(line)?;
        d.asm.set_label(&mut counted)?;
        d.asm.ret()
    }
}

/// Until a bit of the status is as wanted, or for some thousand reads: a faulty board may never show it.
fn until(d: &mut Draft, bit: u32, wanted: bool) -> Result<(), IcedError> {
    let (mut read, mut there) = (d.asm.create_label(), d.asm.create_label());
    d.asm.mov(bx, 0xFFFF)?;
    d.asm.set_label(&mut read)?;
    d.asm.in_(al, dx)?;
    d.asm.test(al, bit)?;
    if wanted {
        d.asm.jne(there)?;
    } else {
        d.asm.je(there)?;
    }
    d.asm.dec(bx)?;
    d.asm.jne(read)?;
    d.asm.set_label(&mut there)?;
    d.asm.nop()
}
