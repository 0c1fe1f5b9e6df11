//! The way through a survey.

use backporch_evidence::survey::TimedPattern;
use iced_x86::IcedError;
use iced_x86::code_asm::*;

use super::beam;
use super::facts::SurveyFacts;
use super::inspection::{self, RegisterInspection};
use super::layout::{BUFFER_LEN, BUFFER_PARAGRAPHS, SurveyRoutines, SurveyVariables};
use super::output::Texts;
use super::tables::SurveyTables;
use super::{take_over, timing, words};
use crate::draft::{Data, Draft, If};

/// Keys of function 00h of interrupt 16h (*Technical Reference*, keyboard).
const ESCAPE: u32 = 27;
const ENTER: u32 = 13;

/// Port of the interrupt controller's mask (common practice).
const MASK: u32 = 0x21;

/// Addresses of what the flow says and goes through.
#[derive(Debug)]
pub(super) struct SurveyPages {
    cautions: u32,
    modes: u32,
    no_memory: u32,
    /// Where an interrupt of the program's own leads.
    handler: u32,
    /// For each mode the line that names it, and the registers of which a bit is turned over.
    each: Vec<(u32, u32)>,
    pub beam: beam::BeamTexts,
    pub inspection: inspection::InspectionTexts,
    pub take_over: take_over::TakeOverTexts,
    pub timing: timing::TimingTexts,
}

impl SurveyPages {
    pub fn put(data: &mut Data, facts: &SurveyFacts<'_>) -> Self {
        let each = facts.modes.iter().map(|mode| {
            let name = data.line("a mode", &format!("mode {}\r\n", mode.name));
            let turned = mode.turned.iter().flat_map(|one| [one.index, one.value, one.bit]).chain([0xFF]);
            (name, data.put("registers of which a bit is turned over: index, value, bit", turned.collect()))
        });
        let each = each.collect();
        Self {
            cautions: data.text("first page", &words::cautions()),
            modes: data.text("second page", &words::modes(facts)),
            no_memory: data.text("too little memory", words::NO_MEMORY),
            // iret
            handler: data.put("an interrupt that only comes back", vec![0xCF]),
            each,
            beam: beam::BeamTexts::put(data),
            inspection: inspection::InspectionTexts::put(data),
            take_over: take_over::TakeOverTexts::put(data),
            timing: timing::TimingTexts::put(data),
        }
    }
}

/// From the beginning to the file.
pub(super) fn write(
    d: &mut Draft,
    r: &mut SurveyRoutines,
    v: &SurveyVariables,
    facts: &SurveyFacts<'_>,
    (pages, texts, tables): (&SurveyPages, &Texts, &SurveyTables),
) -> Result<(), IcedError> {
    let (mut enough, mut on, mut quit, mut chosen) =
        (d.asm.create_label(), d.asm.create_label(), d.asm.create_label(), d.asm.create_label());
    let mut measured = d.asm.create_label();
    d.note("strings go upwards; is there memory for the text?");
    d.asm.cld()?;
    d.asm.mov(bx, cs)?;
    d.asm.add(bx, BUFFER_PARAGRAPHS + BUFFER_LEN)?;
    d.asm.cmp(word_ptr(2), bx)?;
    d.asm.jae(enough)?;
    d.asm.mov(dx, pages.no_memory)?;
    d.asm.call(r.print)?;
    d.asm.mov(ax, 0x4C01)?;
    d.asm.int(0x21)?;
    d.asm.set_label(&mut enough)?;
    d.asm.push(cs)?;
    d.asm.pop(es)?;
    d.asm.mov(di, v.room)?;
    d.asm.mov(cx, v.end - v.room)?;
    d.asm.xor(al, al)?;
    d.asm.rep().stosb()?;
    d.note("the cautions");
    d.asm.mov(dx, pages.cautions)?;
    d.asm.call(r.page)?;
    d.asm.cmp(al, ESCAPE)?;
    d.asm.jne(on)?;
    d.asm.set_label(&mut quit)?;
    d.note("nothing has been done yet");
    d.asm.mov(ax, 0x4C00)?;
    d.asm.int(0x21)?;
    d.asm.set_label(&mut on)?;
    d.note("may modes be changed?");
    d.asm.mov(dx, pages.modes)?;
    d.asm.call(r.page)?;
    d.asm.cmp(al, ESCAPE)?;
    d.asm.je(quit)?;
    d.asm.mov(byte_ptr(v.text_address), al)?;
    d.asm.cmp(al, ENTER)?;
    d.asm.je(chosen)?;
    d.asm.and(al, 0xDF)?;
    d.asm.cmp(al, u32::from(b'S'))?;
    d.asm.jne(on)?;
    d.asm.set_label(&mut chosen)?;
    d.note("text again, and nothing on it");
    d.asm.mov(ax, u32::from(facts.text_mode))?;
    d.asm.int(0x10)?;
    begin(d, v, pages)?;
    d.asm.mov(si, texts.head)?;
    d.asm.call(r.say)?;
    kind_of_shifts(d, r, v, texts)?;
    let inspection = RegisterInspection { facts, routines: r, variables: v, said: &pages.inspection };
    inspection.refresh(d)?;
    d.note("the machine");
    table(d, r, v, tables.machine)?;
    d.asm.cmp(byte_ptr(v.text_address), ENTER)?;
    d.jump(If::NotEqual, measured)?;
    for (mode, (name, turned)) in facts.modes.iter().zip(&pages.each) {
        d.note(format!("the mode {}", mode.name));
        d.asm.mov(ax, u32::from(mode.number))?;
        d.asm.int(0x10)?;
        d.asm.mov(word_ptr(v.video), u32::from(mode.segment))?;
        d.asm.mov(si, *name)?;
        d.asm.call(r.say)?;
        d.asm.call(r.beam)?;
        inspection.mode(d, mode, *turned)?;
        table(d, r, v, tables.video)?;
        take_over::ask(d, r, v, mode)?;
    }
    d.asm.set_label(&mut measured)?;
    end(d, v)?;
    d.asm.mov(ax, u32::from(facts.text_mode))?;
    d.asm.int(0x10)?;
    d.asm.jmp(r.finish)?;

    d.asm.set_label(&mut r.print)?;
    d.note("routine: print the text at DX");
    d.asm.mov(ah, 9)?;
    d.asm.int(0x21)?;
    d.asm.ret()?;
    d.asm.set_label(&mut r.page)?;
    d.note("routine: a new screen with the page at DX, and wait for a key");
    d.asm.push(dx)?;
    d.asm.mov(ax, u32::from(facts.text_mode))?;
    d.asm.int(0x10)?;
    d.asm.pop(dx)?;
    d.asm.call(r.print)?;
    d.asm.xor(ah, ah)?;
    d.asm.int(0x16)?;
    d.asm.ret()
}

fn table(d: &mut Draft, r: &SurveyRoutines, v: &SurveyVariables, (begin, end): (u32, u32)) -> Result<(), IcedError> {
    d.asm.mov(word_ptr(v.table_end), end)?;
    d.asm.mov(bx, begin)?;
    d.asm.call(r.table)
}

/// Takes the machine over.
fn begin(d: &mut Draft, v: &SurveyVariables, pages: &SurveyPages) -> Result<(), IcedError> {
    d.note("the interrupt of the program's own");
    d.asm.mov(ax, 0x3500 | u32::from(TimedPattern::OWN_INTERRUPT))?;
    d.asm.int(0x21)?;
    d.asm.mov(word_ptr(v.vector), bx)?;
    d.asm.mov(word_ptr(v.vector + 2), es)?;
    d.asm.mov(dx, pages.handler)?;
    d.asm.mov(ax, 0x2500 | u32::from(TimedPattern::OWN_INTERRUPT))?;
    d.asm.int(0x21)?;
    d.note("no interrupt of any device, whatever firmware does; the timer counts by ones");
    d.asm.cli()?;
    d.asm.in_(al, MASK)?;
    d.asm.mov(byte_ptr(v.masked), al)?;
    d.asm.mov(al, 0xFF)?;
    d.asm.out(MASK, al)?;
    timing::set_timer(d, true)?;
    d.asm.sti()
}

/// Gives it back.
fn end(d: &mut Draft, v: &SurveyVariables) -> Result<(), IcedError> {
    d.note("everything as it was");
    d.asm.cli()?;
    timing::set_timer(d, false)?;
    d.asm.mov(al, byte_ptr(v.masked))?;
    d.asm.out(MASK, al)?;
    d.asm.sti()?;
    d.asm.push(ds)?;
    d.asm.lds(dx, dword_ptr(v.vector))?;
    d.asm.mov(ax, 0x2500 | u32::from(TimedPattern::OWN_INTERRUPT))?;
    d.asm.int(0x21)?;
    d.asm.pop(ds)
}

/// Whether the processor counts shifts whole or modulo 32 (iAPX 286 Programmer's Reference, shift instructions).
fn kind_of_shifts(d: &mut Draft, r: &SurveyRoutines, v: &SurveyVariables, texts: &Texts) -> Result<(), IcedError> {
    let mut whole = d.asm.create_label();
    d.note("a shift by 32 places empties a register where it is counted whole");
    d.asm.mov(si, texts.shifts[0])?;
    d.asm.mov(ax, 1)?;
    d.asm.mov(cl, 32)?;
    d.asm.shl(ax, cl)?;
    d.asm.test(ax, ax)?;
    d.asm.je(whole)?;
    d.asm.mov(si, texts.shifts[1])?;
    d.asm.mov(word_ptr(v.masks_shifts), 1)?;
    d.asm.call(r.say)?;
    later_processor(d, texts, whole)?;
    d.asm.set_label(&mut whole)?;
    d.asm.call(r.say)
}

/// Which of those that count shifts modulo 32 it is: an 80186 pushes SP lowered, an 80286 keeps bits 12 to 15 of the flags
/// 0 in real mode, an 80386 lets bits 12 to 14 be set (iAPX 286 Programmer's Reference, PUSH; 80386 Programmer's Reference
/// Manual, differences from the 8086 and from the 80286). SI gets what is to be said at `say`, which follows.
fn later_processor(d: &mut Draft, texts: &Texts, say: CodeLabel) -> Result<(), IcedError> {
    d.note("SP is pushed lowered by an 80186, as it was by those after it");
    d.asm.mov(si, texts.processors[0])?;
    d.asm.push(sp)?;
    d.asm.pop(ax)?;
    d.asm.cmp(ax, sp)?;
    d.asm.jne(say)?;
    d.note("flags that an 80286 keeps 0");
    d.asm.mov(si, texts.processors[1])?;
    d.asm.pushf()?;
    d.asm.mov(ax, 0x7000)?;
    d.asm.push(ax)?;
    d.asm.popf()?;
    d.asm.pushf()?;
    d.asm.pop(ax)?;
    d.asm.popf()?;
    d.asm.test(ax, 0x7000)?;
    d.asm.je(say)?;
    d.asm.mov(si, texts.processors[2])
}
