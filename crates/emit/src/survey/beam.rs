//! The beam by the status port: frame, retrace, lines; and waits for it.

use backporch_evidence::survey::TIMED_LINES;
use iced_x86::IcedError;
use iced_x86::code_asm::*;

use super::facts::SurveyFacts;
use super::layout::{FRAMES, SurveyRoutines, SurveyVariables};
use crate::draft::{Data, Draft, If};

/// Lines that pass before what is timed in the part that is shown.
const LINES_DOWN: u32 = 4;

/// What is said of the beam.
#[derive(Clone, Copy, Debug)]
pub(super) struct BeamTexts {
    frame: u32,
    retrace: u32,
    lines: u32,
    marks: u32,
    unseen: u32,
}

impl BeamTexts {
    pub fn put(data: &mut Data) -> Self {
        let mut line = |text: &str| data.line("said of the beam", text);
        Self {
            frame: line("beam frame"),
            retrace: line("beam retrace"),
            lines: line("beam lines"),
            marks: line("beam marks"),
            unseen: line(" unseen"),
        }
    }
}

/// The status port polled.
pub(super) struct Poll<'a, 'b> {
    pub facts: &'a SurveyFacts<'b>,
    /// Where it goes on when a bit never comes.
    pub unseen: CodeLabel,
}

impl Poll<'_, '_> {
    /// Until a bit is as wanted, or for some hundred milliseconds.
    fn until(&self, d: &mut Draft, bit: u32, set: bool) -> Result<(), IcedError> {
        let mut read = d.asm.create_label();
        d.asm.xor(cx, cx)?;
        d.asm.set_label(&mut read)?;
        d.asm.in_(al, dx)?;
        d.asm.test(al, bit)?;
        if set {
            d.asm.loope(read)?;
            d.jump(If::Equal, self.unseen)
        } else {
            d.asm.loopne(read)?;
            d.jump(If::NotEqual, self.unseen)
        }
    }

    pub fn retrace(&self, d: &mut Draft, under_way: bool) -> Result<(), IcedError> {
        let (bit, set) = self.facts.retrace;
        self.until(d, bit, set == under_way)
    }

    /// Until the next retrace begins.
    pub fn next_retrace(&self, d: &mut Draft) -> Result<(), IcedError> {
        self.retrace(d, false)?;
        self.retrace(d, true)
    }

    /// Until some part of a line is shown, or its sync is over.
    pub fn shown(&self, d: &mut Draft) -> Result<(), IcedError> {
        self.until(d, self.facts.line_end, false)
    }

    /// Until a line has been shown to its end.
    fn line(&self, d: &mut Draft) -> Result<(), IcedError> {
        self.shown(d)?;
        self.until(d, self.facts.line_end, true)
    }
}

/// Takes the time from the last edge to now; now is the last edge.
fn since_edge(d: &mut Draft, r: &SurveyRoutines, v: &SurveyVariables) -> Result<(), IcedError> {
    d.asm.call(r.now)?;
    d.asm.mov(bx, word_ptr(v.before))?;
    d.asm.mov(word_ptr(v.before), ax)?;
    d.asm.sub(bx, ax)?;
    d.asm.call(r.take)
}

/// Now is the last edge.
pub(super) fn edge(d: &mut Draft, r: &SurveyRoutines, v: &SurveyVariables) -> Result<(), IcedError> {
    d.asm.call(r.now)?;
    d.asm.mov(word_ptr(v.before), ax)
}

/// Routines of the beam.
pub(super) fn write(
    d: &mut Draft,
    r: &mut SurveyRoutines,
    v: &SurveyVariables,
    facts: &SurveyFacts<'_>,
    said: &BeamTexts,
) -> Result<(), IcedError> {
    d.asm.set_label(&mut r.beam)?;
    d.note("routine: time frames, retraces, lines; count the lines between retraces");
    d.asm.nop()?;
    let runs = Runs { facts, said, routines: *r, variables: v };
    runs.of(
        d,
        said.frame,
        |d, poll| {
            poll.next_retrace(d)?;
            edge(d, r, v)
        },
        |d, poll| {
            poll.next_retrace(d)?;
            since_edge(d, r, v)
        },
    )?;
    runs.of(
        d,
        said.retrace,
        |d, _| d.asm.nop(),
        |d, poll| {
            poll.next_retrace(d)?;
            edge(d, r, v)?;
            poll.retrace(d, false)?;
            since_edge(d, r, v)
        },
    )?;
    runs.of(
        d,
        said.lines,
        |d, _| d.asm.nop(),
        |d, poll| {
            let mut line = d.asm.create_label();
            poll.retrace(d, true)?;
            poll.retrace(d, false)?;
            poll.line(d)?;
            edge(d, r, v)?;
            d.asm.mov(si, TIMED_LINES)?;
            d.asm.set_label(&mut line)?;
            poll.line(d)?;
            d.asm.dec(si)?;
            d.jump(If::NotEqual, line)?;
            since_edge(d, r, v)
        },
    )?;
    runs.of(d, said.marks, |d, _| d.asm.nop(), |d, poll| count_lines(d, r, poll))?;
    d.asm.ret()?;
    waits(d, r, facts)
}

/// Counts the lines that end between two retraces.
fn count_lines(d: &mut Draft, r: &SurveyRoutines, poll: &Poll<'_, '_>) -> Result<(), IcedError> {
    let (mut blanked, mut shown, mut over) = (d.asm.create_label(), d.asm.create_label(), d.asm.create_label());
    poll.retrace(d, true)?;
    poll.retrace(d, false)?;
    let (bit, set) = poll.facts.retrace;
    let ends = |d: &mut Draft| {
        d.asm.in_(al, dx)?;
        d.asm.test(al, bit)?;
        if set { d.asm.jne(over) } else { d.asm.je(over) }
    };
    d.asm.xor(si, si)?;
    d.asm.xor(cx, cx)?;
    d.asm.set_label(&mut blanked)?;
    ends(d)?;
    d.asm.test(al, poll.facts.line_end)?;
    d.asm.loopne(blanked)?;
    d.jump(If::NotEqual, poll.unseen)?;
    d.asm.xor(cx, cx)?;
    d.asm.set_label(&mut shown)?;
    ends(d)?;
    d.asm.test(al, poll.facts.line_end)?;
    d.asm.loope(shown)?;
    d.jump(If::Equal, poll.unseen)?;
    d.asm.inc(si)?;
    d.asm.xor(cx, cx)?;
    d.asm.jmp(blanked)?;
    d.asm.set_label(&mut over)?;
    d.asm.mov(bx, si)?;
    d.asm.call(r.take)
}

/// One measurement, this many runs of it.
struct Runs<'a, 'b> {
    facts: &'a SurveyFacts<'b>,
    said: &'a BeamTexts,
    routines: SurveyRoutines,
    variables: &'a SurveyVariables,
}

impl Runs<'_, '_> {
    fn of(
        &self,
        d: &mut Draft,
        name: u32,
        before: impl FnOnce(&mut Draft, &Poll<'_, '_>) -> Result<(), IcedError>,
        each: impl FnOnce(&mut Draft, &Poll<'_, '_>) -> Result<(), IcedError>,
    ) -> Result<(), IcedError> {
        let (r, v) = (&self.routines, self.variables);
        let (mut next, mut unseen, mut done) = (d.asm.create_label(), d.asm.create_label(), d.asm.create_label());
        let poll = Poll { facts: self.facts, unseen };
        d.asm.mov(si, name)?;
        d.asm.call(r.say)?;
        d.asm.mov(ax, FRAMES)?;
        d.asm.call(r.begin_taking)?;
        d.asm.mov(dx, u32::from(self.facts.status))?;
        before(d, &poll)?;
        d.asm.set_label(&mut next)?;
        d.asm.nop()?;
        each(d, &poll)?;
        d.asm.dec(word_ptr(v.left))?;
        d.jump(If::NotEqual, next)?;
        d.asm.mov(ax, FRAMES)?;
        d.asm.call(r.say_taken)?;
        d.asm.jmp(done)?;
        d.asm.set_label(&mut unseen)?;
        d.asm.mov(si, self.said.unseen)?;
        d.asm.call(r.say)?;
        d.asm.call(r.say_end)?;
        d.asm.set_label(&mut done)?;
        d.asm.nop()
    }
}

/// Waits before experiments; a bit that never comes ends them.
fn waits(d: &mut Draft, r: &mut SurveyRoutines, facts: &SurveyFacts<'_>) -> Result<(), IcedError> {
    let (mut line, mut end) = (d.asm.create_label(), d.asm.create_label());
    let poll = Poll { facts, unseen: end };
    d.asm.set_label(&mut r.wait_shown)?;
    d.note("routine: wait for the part that is shown, some lines down");
    d.asm.mov(dx, u32::from(facts.status))?;
    poll.retrace(d, true)?;
    poll.retrace(d, false)?;
    d.asm.mov(si, LINES_DOWN)?;
    d.asm.set_label(&mut line)?;
    poll.line(d)?;
    d.asm.dec(si)?;
    d.asm.jne(line)?;
    d.asm.set_label(&mut end)?;
    d.asm.ret()?;
    let mut end = d.asm.create_label();
    let poll = Poll { facts, unseen: end };
    d.asm.set_label(&mut r.wait_blanked)?;
    d.note("routine: wait for vertical retrace to begin");
    d.asm.mov(dx, u32::from(facts.status))?;
    poll.next_retrace(d)?;
    d.asm.set_label(&mut end)?;
    d.asm.ret()
}
