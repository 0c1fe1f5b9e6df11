//! Timing: experiments of a table one after the other, and the timer.

use iced_x86::IcedError;
use iced_x86::code_asm::*;

use super::layout::{ENTRY, REPEATS, ROOM, ROOM_BYTES, SurveyRoutines, SurveyVariables, entry, segment, wait};
use crate::draft::{Data, Draft, If};

/// Copies to begin with where as many are wanted as take a while.
const FIRST_COPIES: u32 = 16;

/// Ports of the timer: its first counter and its control (8253 Programmable Interval Timer data sheet; common practice).
const COUNTER: u32 = 0x40;
const CONTROL: u32 = 0x43;
/// Control words: the first counter, both bytes, in mode 2, and in the mode firmware leaves it in; latch it.
const MODE_2: u32 = 0x34;
const MODE_3: u32 = 0x36;
const LATCH: u32 = 0x00;

/// What is said of a series.
#[derive(Clone, Copy, Debug)]
pub(super) struct TimingTexts {
    least: u32,
    space: u32,
    spread: u32,
}

impl TimingTexts {
    pub fn put(data: &mut Data) -> Self {
        let runs = format!(" runs {REPEATS} least");
        let mut line = |text: &str| data.line("said of a series", text);
        Self { least: line(&runs), space: line(" "), spread: line(" spread ") }
    }
}

/// Routines that time.
pub(super) fn write(
    d: &mut Draft,
    r: &mut SurveyRoutines,
    v: &SurveyVariables,
    said: &TimingTexts,
) -> Result<(), IcedError> {
    table(d, r, v, said)?;
    build(d, r, v)?;
    measure(d, r, v)?;
    take(d, r, v)?;
    d.asm.set_label(&mut r.now)?;
    d.note("routine: AX, what the timer's first counter stands at");
    latch(d)?;
    d.asm.ret()
}

/// Lets the timer's first counter count 65536 by ones, or by twos as firmware does.
pub(super) fn set_timer(d: &mut Draft, measuring: bool) -> Result<(), IcedError> {
    d.asm.mov(al, if measuring { MODE_2 } else { MODE_3 })?;
    d.asm.out(CONTROL, al)?;
    d.asm.xor(al, al)?;
    d.asm.out(COUNTER, al)?;
    d.asm.out(COUNTER, al)
}

fn latch(d: &mut Draft) -> Result<(), IcedError> {
    d.asm.mov(al, LATCH)?;
    d.asm.out(CONTROL, al)?;
    d.asm.in_(al, COUNTER)?;
    d.asm.mov(ah, al)?;
    d.asm.in_(al, COUNTER)?;
    d.asm.xchg(ah, al)
}

/// Runs the experiments of a table.
fn table(d: &mut Draft, r: &mut SurveyRoutines, v: &SurveyVariables, said: &TimingTexts) -> Result<(), IcedError> {
    let (mut series, mut next, mut delay, mut closer) =
        (d.asm.create_label(), d.asm.create_label(), d.asm.create_label(), d.asm.create_label());
    let (mut adapt, mut fixed, mut enough, mut again) =
        (d.asm.create_label(), d.asm.create_label(), d.asm.create_label(), d.asm.create_label());
    d.asm.set_label(&mut r.table)?;
    d.note("routine: make the experiments from BX on");
    d.asm.mov(word_ptr(v.entry), bx)?;
    d.asm.mov(ax, word_ptr(bx + entry::COPIES))?;
    d.asm.test(ax, ax)?;
    d.asm.jne(fixed)?;
    d.asm.mov(ax, FIRST_COPIES)?;
    d.asm.set_label(&mut adapt)?;
    d.note("do this many copies take long enough?");
    d.asm.mov(word_ptr(v.copies), ax)?;
    d.asm.call(r.build)?;
    d.asm.call(r.measure)?;
    d.asm.mov(bx, word_ptr(v.entry))?;
    d.asm.cmp(ax, word_ptr(bx + entry::BEATS))?;
    d.asm.jae(enough)?;
    d.note("twice as many, where there is room");
    d.asm.mov(ax, word_ptr(v.copies))?;
    d.asm.shl(ax, 1)?;
    d.asm.mov(cx, ax)?;
    d.asm.mul(word_ptr(bx + entry::LEN))?;
    d.asm.test(dx, dx)?;
    d.asm.jne(enough)?;
    d.asm.cmp(ax, ROOM_BYTES - 1)?;
    d.asm.jae(enough)?;
    d.asm.mov(ax, cx)?;
    d.asm.jmp(adapt)?;
    d.asm.set_label(&mut fixed)?;
    d.asm.mov(word_ptr(v.copies), ax)?;
    d.asm.call(r.build)?;
    d.asm.set_label(&mut enough)?;
    d.note("said while it is made");
    d.asm.mov(bx, word_ptr(v.entry))?;
    d.asm.mov(si, word_ptr(bx + entry::NAME))?;
    d.asm.call(r.say)?;
    d.asm.mov(ax, word_ptr(v.copies))?;
    d.asm.call(r.say_number)?;
    d.asm.cmp(word_ptr(bx + entry::DELAYS), 0)?;
    d.jump(If::NotEqual, series)?;
    d.asm.call(r.repeat)?;
    d.asm.mov(ax, REPEATS)?;
    d.asm.call(r.say_taken)?;
    d.asm.set_label(&mut next)?;
    d.asm.mov(bx, word_ptr(v.entry))?;
    d.asm.add(bx, ENTRY)?;
    d.asm.cmp(bx, word_ptr(v.table_end))?;
    d.jump(If::Below, r.table)?;
    d.asm.ret()?;
    d.asm.set_label(&mut series)?;
    d.note("delay after delay: the least of each, and the greatest spread");
    d.asm.mov(si, said.least)?;
    d.asm.call(r.say)?;
    d.asm.mov(word_ptr(v.spread), 0)?;
    d.asm.set_label(&mut delay)?;
    d.asm.call(r.repeat)?;
    d.asm.mov(si, said.space)?;
    d.asm.call(r.say)?;
    d.asm.mov(ax, word_ptr(v.least))?;
    d.asm.call(r.say_number)?;
    d.asm.mov(ax, word_ptr(v.most))?;
    d.asm.sub(ax, word_ptr(v.least))?;
    d.asm.cmp(ax, word_ptr(v.spread))?;
    d.asm.jb(closer)?;
    d.asm.mov(word_ptr(v.spread), ax)?;
    d.asm.set_label(&mut closer)?;
    d.asm.inc(word_ptr(v.delay))?;
    d.asm.mov(bx, word_ptr(v.entry))?;
    d.asm.mov(ax, word_ptr(v.delay))?;
    d.asm.cmp(ax, word_ptr(bx + entry::DELAYS))?;
    d.jump(If::Below, delay)?;
    d.asm.mov(word_ptr(v.delay), 0)?;
    d.asm.mov(si, said.spread)?;
    d.asm.call(r.say)?;
    d.asm.mov(ax, word_ptr(v.spread))?;
    d.asm.call(r.say_number)?;
    d.asm.call(r.say_end)?;
    d.asm.jmp(next)?;

    d.asm.set_label(&mut r.repeat)?;
    d.note("routine: the experiment some times over");
    d.asm.mov(ax, REPEATS)?;
    d.asm.call(r.begin_taking)?;
    d.asm.set_label(&mut again)?;
    d.asm.call(r.measure)?;
    d.asm.mov(bx, ax)?;
    d.asm.call(r.take)?;
    d.asm.dec(word_ptr(v.left))?;
    d.asm.jne(again)?;
    d.asm.ret()
}

/// Lays the pattern of the experiment under way, this many copies of it, and what comes back.
fn build(d: &mut Draft, r: &mut SurveyRoutines, v: &SurveyVariables) -> Result<(), IcedError> {
    let mut copy = d.asm.create_label();
    d.asm.set_label(&mut r.build)?;
    d.note("routine: lay the pattern of the experiment, copy after copy, and a way back");
    d.asm.push(cs)?;
    d.asm.pop(es)?;
    d.asm.mov(di, ROOM)?;
    d.asm.mov(bx, word_ptr(v.entry))?;
    d.asm.mov(dx, word_ptr(v.copies))?;
    d.asm.set_label(&mut copy)?;
    d.asm.mov(si, word_ptr(bx + entry::PATTERN))?;
    d.asm.mov(cx, word_ptr(bx + entry::LEN))?;
    d.asm.rep().movsb()?;
    d.asm.dec(dx)?;
    d.asm.jne(copy)?;
    d.note("a near return");
    d.asm.mov(al, 0xC3)?;
    d.asm.stosb()?;
    d.asm.ret()
}

/// Beats of the timer that the room takes.
fn measure(d: &mut Draft, r: &mut SurveyRoutines, v: &SurveyVariables) -> Result<(), IcedError> {
    let (mut at_once, mut blanked, mut own, mut known) =
        (d.asm.create_label(), d.asm.create_label(), d.asm.create_label(), d.asm.create_label());
    let mut places = d.asm.create_label();
    d.asm.set_label(&mut r.measure)?;
    d.note("routine: AX, the beats of the timer that the room takes");
    d.asm.mov(bx, word_ptr(v.entry))?;
    d.asm.cmp(word_ptr(bx + entry::WAIT), u32::from(wait::SHOWN))?;
    d.asm.jb(at_once)?;
    d.asm.jne(blanked)?;
    d.asm.call(r.wait_shown)?;
    d.asm.jmp(at_once)?;
    d.asm.set_label(&mut blanked)?;
    d.asm.call(r.wait_blanked)?;
    d.asm.set_label(&mut at_once)?;
    d.note("registers as the experiment has them");
    d.asm.cli()?;
    d.asm.mov(bx, word_ptr(v.entry))?;
    d.asm.mov(dx, word_ptr(bx + entry::DX))?;
    d.asm.mov(di, word_ptr(bx + entry::DI))?;
    d.asm.mov(ax, cs)?;
    d.asm.cmp(word_ptr(bx + entry::SEGMENT), u32::from(segment::VIDEO))?;
    d.asm.jne(own)?;
    d.asm.mov(ax, word_ptr(v.video))?;
    d.asm.jmp(known)?;
    d.asm.set_label(&mut own)?;
    d.asm.nop()?;
    d.asm.set_label(&mut known)?;
    d.asm.mov(word_ptr(v.ds), ax)?;
    d.note("the delay: bits of the factor in CH and places in CL, or places alone");
    d.asm.mov(ax, word_ptr(v.delay))?;
    d.asm.mov(cx, ax)?;
    d.asm.cmp(byte_ptr(v.masks_shifts), 0)?;
    d.asm.jne(places)?;
    d.asm.and(cl, 3)?;
    d.asm.mov(ch, 1)?;
    d.asm.shl(ch, cl)?;
    d.asm.dec(ch)?;
    d.asm.shr(ax, 1)?;
    d.asm.shr(ax, 1)?;
    d.asm.mov(cl, al)?;
    d.asm.set_label(&mut places)?;
    d.asm.mov(bx, 1)?;
    d.asm.xor(si, si)?;
    d.asm.mov(bp, ROOM)?;
    d.note("from here");
    latch(d)?;
    d.asm.push(ax)?;
    d.asm.xor(ax, ax)?;
    d.asm.mov(ds, word_ptr(v.ds))?;
    d.asm.call(bp)?;
    d.note("to here; the counter counts down");
    latch(d)?;
    d.asm.push(cs)?;
    d.asm.pop(ds)?;
    d.asm.pop(bx)?;
    d.asm.sub(bx, ax)?;
    d.asm.mov(ax, bx)?;
    d.asm.sti()?;
    d.asm.cld()?;
    d.asm.ret()
}

/// Least, most and total.
fn take(d: &mut Draft, r: &mut SurveyRoutines, v: &SurveyVariables) -> Result<(), IcedError> {
    d.asm.set_label(&mut r.begin_taking)?;
    d.note("routine: nothing is taken yet of AX runs");
    d.asm.mov(word_ptr(v.left), ax)?;
    d.asm.mov(word_ptr(v.least), 0xFFFF_u32)?;
    d.asm.xor(ax, ax)?;
    for at in [v.most, v.total, v.total + 2] {
        d.asm.mov(word_ptr(at), ax)?;
    }
    d.asm.ret()?;
    let (mut not_least, mut not_most) = (d.asm.create_label(), d.asm.create_label());
    d.asm.set_label(&mut r.take)?;
    d.note("routine: take BX into least, most and total");
    d.asm.cmp(bx, word_ptr(v.least))?;
    d.asm.jae(not_least)?;
    d.asm.mov(word_ptr(v.least), bx)?;
    d.asm.set_label(&mut not_least)?;
    d.asm.cmp(bx, word_ptr(v.most))?;
    d.asm.jb(not_most)?;
    d.asm.mov(word_ptr(v.most), bx)?;
    d.asm.set_label(&mut not_most)?;
    d.asm.add(word_ptr(v.total), bx)?;
    d.asm.adc(word_ptr(v.total + 2), 0)?;
    d.asm.ret()
}
