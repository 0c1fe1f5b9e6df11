//! What there is: registers of the controller, memory and its planes, the timer that asks for refresh.

use backporch_evidence::survey::SURVEYED_REGISTERS;
use iced_x86::IcedError;
use iced_x86::code_asm::*;

use super::facts::{Indexed, ModeFacts, SurveyFacts};
use super::layout::{LOOKS, SurveyRoutines, SurveyVariables};
use crate::draft::{Data, Draft, If};

/// Two bytes that differ in every bit.
const ONE: u32 = 0xA5;
const OTHER: u32 = 0x5A;
/// The first place in memory that is looked at; each of the others is twice as far.
const NEAREST: u32 = 0x200;
/// What each plane gets, plus its number.
const PLANE: u32 = 0x10;

/// What is said.
#[derive(Clone, Copy, Debug)]
pub(super) struct InspectionTexts {
    registers: u32,
    turned: u32,
    memory: u32,
    planes: u32,
    refresh: u32,
    space: u32,
}

impl InspectionTexts {
    pub fn put(data: &mut Data) -> Self {
        let mut line = |text: &str| data.line("said of what there is", text);
        Self {
            registers: line("registers"),
            turned: line("turned"),
            memory: line("memory"),
            planes: line("planes"),
            refresh: line("refresh most"),
            space: line(" "),
        }
    }
}

/// What inspects.
pub(super) struct RegisterInspection<'a, 'b> {
    pub facts: &'a SurveyFacts<'b>,
    pub routines: &'a SurveyRoutines,
    pub variables: &'a SurveyVariables,
    pub said: &'a InspectionTexts,
}

impl RegisterInspection<'_, '_> {
    /// The byte AL, behind a space.
    fn say_byte(&self, d: &mut Draft) -> Result<(), IcedError> {
        d.asm.xor(ah, ah)?;
        self.say_word(d)
    }

    fn say_word(&self, d: &mut Draft) -> Result<(), IcedError> {
        d.asm.push(ax)?;
        d.asm.mov(si, self.said.space)?;
        d.asm.call(self.routines.say)?;
        d.asm.pop(ax)?;
        d.asm.call(self.routines.say_number)
    }

    fn say(&self, d: &mut Draft, text: u32) -> Result<(), IcedError> {
        d.asm.mov(si, text)?;
        d.asm.call(self.routines.say)
    }

    /// Every register of the controller as it is read.
    fn registers(&self, d: &mut Draft) -> Result<(), IcedError> {
        let mut next = d.asm.create_label();
        d.note("what the registers of the controller read as");
        self.say(d, self.said.registers)?;
        d.asm.xor(bx, bx)?;
        d.asm.set_label(&mut next)?;
        d.asm.mov(dx, u32::from(self.facts.controller.0))?;
        d.asm.mov(al, bl)?;
        d.asm.out(dx, al)?;
        d.asm.mov(dx, u32::from(self.facts.controller.1))?;
        d.asm.in_(al, dx)?;
        self.say_byte(d)?;
        d.asm.inc(bx)?;
        d.asm.cmp(bx, SURVEYED_REGISTERS as u32)?;
        d.jump(If::Below, next)?;
        d.asm.call(self.routines.say_end)
    }

    /// Registers of which a bit is turned over and back.
    fn turned(&self, d: &mut Draft, list: u32) -> Result<(), IcedError> {
        let (mut next, mut end) = (d.asm.create_label(), d.asm.create_label());
        d.note("where the signal stays as it is, a bit is turned over and back: what is read before, between, after");
        d.asm.mov(bx, list)?;
        d.asm.set_label(&mut next)?;
        d.asm.mov(al, byte_ptr(bx))?;
        d.asm.cmp(al, 0xFF)?;
        d.jump(If::Equal, end)?;
        d.asm.mov(dx, u32::from(self.facts.controller.0))?;
        d.asm.out(dx, al)?;
        self.say(d, self.said.turned)?;
        d.asm.mov(al, byte_ptr(bx))?;
        self.say_byte(d)?;
        d.asm.mov(dx, u32::from(self.facts.controller.1))?;
        d.asm.in_(al, dx)?;
        d.asm.mov(cl, al)?;
        d.asm.mov(al, byte_ptr(bx + 1))?;
        d.asm.xor(al, byte_ptr(bx + 2))?;
        d.asm.out(dx, al)?;
        d.asm.in_(al, dx)?;
        d.asm.mov(ch, al)?;
        d.asm.mov(al, byte_ptr(bx + 1))?;
        d.asm.out(dx, al)?;
        d.asm.in_(al, dx)?;
        d.asm.push(ax)?;
        d.asm.push(cx)?;
        d.asm.mov(al, cl)?;
        self.say_byte(d)?;
        d.asm.pop(cx)?;
        d.asm.mov(al, ch)?;
        self.say_byte(d)?;
        d.asm.pop(ax)?;
        self.say_byte(d)?;
        d.asm.call(self.routines.say_end)?;
        d.asm.add(bx, 3)?;
        d.asm.jmp(next)?;
        d.asm.set_label(&mut end)?;
        d.asm.nop()
    }

    /// Whether memory goes on, and where it comes again.
    fn memory(&self, d: &mut Draft, reach: u32) -> Result<(), IcedError> {
        let (mut next, mut end) = (d.asm.create_label(), d.asm.create_label());
        // The farthest power of two that is not beyond the window.
        let farthest = reach.next_power_of_two() / 2;
        if farthest < NEAREST {
            return Ok(());
        }
        d.note("a byte at the start of memory and another further on: what both read as then");
        d.asm.mov(bx, NEAREST)?;
        d.asm.set_label(&mut next)?;
        self.say(d, self.said.memory)?;
        d.asm.mov(ax, bx)?;
        self.say_word(d)?;
        d.asm.mov(ds, word_ptr(self.variables.video))?;
        d.asm.mov(byte_ptr(0), ONE)?;
        d.asm.mov(byte_ptr(bx), OTHER)?;
        d.asm.mov(cl, byte_ptr(0))?;
        d.asm.mov(ch, byte_ptr(bx))?;
        d.asm.push(cs)?;
        d.asm.pop(ds)?;
        d.asm.push(cx)?;
        d.asm.mov(al, cl)?;
        self.say_byte(d)?;
        d.asm.pop(cx)?;
        d.asm.mov(al, ch)?;
        self.say_byte(d)?;
        d.asm.call(self.routines.say_end)?;
        d.asm.cmp(bx, farthest)?;
        d.asm.je(end)?;
        d.asm.shl(bx, 1)?;
        d.jump_to(next)?;
        d.asm.set_label(&mut end)?;
        d.asm.nop()
    }

    /// What each plane reads as after each got something of its own.
    fn planes(&self, d: &mut Draft, (map, read): (Indexed, Indexed)) -> Result<(), IcedError> {
        let select = |d: &mut Draft, register: Indexed, value: u8| {
            d.out(register.index_port, register.index)?;
            d.out(register.data_port, value)
        };
        d.note("each plane gets a byte of its own; what they read as");
        self.say(d, self.said.planes)?;
        for plane in 0..4 {
            select(d, map, 1 << plane)?;
            d.asm.mov(ds, word_ptr(self.variables.video))?;
            d.asm.mov(byte_ptr(0), PLANE + plane)?;
            d.asm.push(cs)?;
            d.asm.pop(ds)?;
        }
        for plane in 0..4 {
            select(d, read, plane)?;
            d.asm.mov(ds, word_ptr(self.variables.video))?;
            d.asm.mov(al, byte_ptr(0))?;
            d.asm.push(cs)?;
            d.asm.pop(ds)?;
            self.say_byte(d)?;
        }
        select(d, map, map.value)?;
        select(d, read, read.value)?;
        d.asm.call(self.routines.say_end)
    }

    /// All of a mode.
    pub fn mode(&self, d: &mut Draft, mode: &ModeFacts, turned: u32) -> Result<(), IcedError> {
        self.registers(d)?;
        self.turned(d, turned)?;
        self.memory(d, mode.reach)?;
        mode.planes.map_or(Ok(()), |planes| self.planes(d, planes))
    }

    /// The most that the timer's second counter is found at: what it counts from.
    pub fn refresh(&self, d: &mut Draft) -> Result<(), IcedError> {
        let (mut next, mut less) = (d.asm.create_label(), d.asm.create_label());
        d.note("the timer's second counter asks for refresh: the most it is found at, looked at after delays of all lengths");
        self.say(d, self.said.refresh)?;
        d.asm.xor(bx, bx)?;
        d.asm.mov(dx, LOOKS)?;
        d.asm.set_label(&mut next)?;
        d.asm.mov(cl, dl)?;
        d.asm.and(cl, 31)?;
        d.asm.shl(si, cl)?;
        d.asm.mov(al, 0x40)?;
        d.asm.out(0x43, al)?;
        d.asm.in_(al, 0x41)?;
        d.asm.cmp(al, bl)?;
        d.asm.jb(less)?;
        d.asm.mov(bl, al)?;
        d.asm.set_label(&mut less)?;
        d.asm.dec(dx)?;
        d.asm.jne(next)?;
        d.asm.mov(ax, bx)?;
        self.say_word(d)?;
        d.asm.call(self.routines.say_end)
    }
}
