//! Stacks: quirks on one board, each acting on what the one before left.

use std::sync::Arc;

use backporch_adapter::{Guard, Palette, Timing};
use backporch_raster::{
    Acting, Bend, LatchMoment, Line, LineFacts, MemoryWrite, Outcome, PortWrite, Run, Shift, Stages, Tap, Touch,
};

use crate::armed::Armed;
use crate::compiled::Compiled;
use crate::language::{Action, Value};
use crate::on_line::OnLine;
use crate::quirk::Quirk;
use crate::scene::{AtByte, AtLine, AtMemoryWrite, AtTakeOver, AtWrite, OfComparands, OfFrame, Scene};
use crate::stage::{BounceMemory, FetchAction, LatchMemory, Notes, PixelAction, PortMemory, Row, settle};

/// Quirks on one board, in the order in which they act. An empty stack is healthy.
#[derive(Clone, Debug)]
pub struct QuirkStack {
    quirks: Arc<[Quirk]>,
    seed: u64,
    compiled: Arc<Compiled>,
    memory: Memory,
}

/// Which effects act on a line, stage by stage.
#[derive(Clone, Copy, Debug)]
struct Settled {
    address: OnLine,
    fetch: OnLine,
    pixel: OnLine,
}

/// What the effects of a stack remember, each list beside the one of its stage.
#[derive(Clone, Debug, Default)]
struct Memory {
    port: PortMemory,
    latch: Vec<LatchMemory>,
    fetch: Vec<Notes>,
    pixel: Vec<Notes>,
    sync: Vec<BounceMemory>,
}

impl Memory {
    fn of(compiled: &Compiled) -> Self {
        Self {
            port: PortMemory::default(),
            latch: vec![LatchMemory::default(); compiled.latch.len()],
            fetch: vec![Notes::default(); compiled.fetch.effects.len()],
            pixel: vec![Notes::default(); compiled.pixel.effects.len()],
            sync: vec![BounceMemory::default(); compiled.sync.len()],
        }
    }
}

impl QuirkStack {
    /// Puts quirks on one another; whatever acts by chance draws from `seed`.
    #[must_use]
    pub fn new(quirks: Vec<Quirk>, seed: u64) -> Self {
        let compiled = Compiled::of(&quirks, seed);
        let memory = Memory::of(&compiled);
        Self { quirks: quirks.into(), seed, compiled: Arc::new(compiled), memory }
    }

    /// The quirks, in the order in which they act.
    #[must_use]
    pub fn quirks(&self) -> &[Quirk] {
        &self.quirks
    }

    /// The seed of whatever acts by chance.
    #[must_use]
    pub fn seed(&self) -> u64 {
        self.seed
    }

    /// What was settled for a line, stage by stage.
    fn settled(&self, acting: &Acting) -> Settled {
        let [a, b, c, d, e, f] = acting.marks;
        let Compiled { address, fetch, pixel, .. } = &*self.compiled;
        Settled {
            address: address.settled.again([a, b]),
            fetch: fetch.settled.again([c, d]),
            pixel: pixel.settled.again([e, f]),
        }
    }

    /// The address of a byte, bent by the effects that may act on its line.
    fn bent(&self, on_line: OnLine, line: &Line, offset: u32, linear: u32) -> Run {
        let mut run = Run { linear, len: u32::MAX };
        for position in on_line.positions() {
            let effect = &self.compiled.address.effects[position];
            let answer = on_line.answer(position, || effect.truth.ask(&AtByte(line, offset)));
            run.len = run.len.min(answer.len);
            if answer.may_hold() {
                let bent = effect.action.bend(line, offset, run.linear);
                run = Run { linear: bent.linear, len: run.len.min(bent.len) };
            }
        }
        run
    }

    fn touch<A>(&self, effect: &Armed<A>, action: &Action<i32>) -> Touch {
        let numbers = &mut |number: &i32| Value::Number((*number).into());
        Touch { quirk: self.quirks[effect.quirk].name().to_owned(), does: action.map(numbers).words() }
    }
}

impl Default for QuirkStack {
    fn default() -> Self {
        Self::new(Vec::new(), 0)
    }
}

/// The effects whose condition holds in a scene.
fn acting<A>(effects: &[Armed<A>], scene: impl Scene) -> impl Iterator<Item = &Armed<A>> {
    effects.iter().filter(move |effect| effect.truth.ask(&scene).may_hold())
}

impl Tap for QuirkStack {
    fn stages(&self) -> Stages {
        self.compiled.stages
    }

    fn looks_at(&self) -> LineFacts {
        self.compiled.facts
    }

    fn stages_on(&self, line: &Line) -> Stages {
        self.acting(line).stages
    }

    fn acting(&self, line: &Line) -> Acting {
        let Self { compiled, memory, .. } = self;
        let address = compiled.address.on_line(line);
        let fetch = settle(&compiled.fetch, &memory.fetch, line);
        let pixel = settle(&compiled.pixel, &memory.pixel, line);
        let mut stages = Stages::empty();
        let mut add = |stage: Stages, unbent: bool| stages = if unbent { stages } else { stages | stage };
        add(Stages::ADDRESS, address.is_none());
        add(Stages::FETCH, fetch.is_none());
        add(Stages::PIXEL, pixel.is_none());
        let ([a, b], [c, d], [e, f]) = (address.marks(), fetch.marks(), pixel.marks());
        Acting { stages, marks: [a, b, c, d, e, f] }
    }

    fn repeats(&self, before: &Acting, again: &Acting) -> bool {
        let by_notes = |acting: &Acting| {
            let Settled { fetch, pixel, .. } = self.settled(acting);
            fetch.has_any_of(self.compiled.fetch.settled.by_notes)
                || pixel.has_any_of(self.compiled.pixel.settled.by_notes)
        };
        let alike = !self.compiled.tells_scan_lines_apart || before.is_unbent() && again.is_unbent();
        alike && !by_notes(before) && !by_notes(again)
    }

    fn port(&mut self, write: &PortWrite) -> Outcome {
        let Self { compiled, memory, .. } = self;
        let scene = AtWrite(write, memory.port.since_last(write));
        for (effect, bounce) in compiled.sync.iter().zip(&mut memory.sync) {
            if effect.action.is_caused_by_writes() && effect.truth.ask(&scene).may_hold() {
                effect.action.note(write.frame, bounce);
            }
        }
        for (effect, notes) in compiled.pixel.effects.iter().zip(&mut memory.pixel) {
            if let PixelAction::WriteShows { pixels } = effect.action
                && effect.truth.ask(&scene).may_hold()
            {
                notes.note((write.frame, write.scan_line), write.char, pixels as u32, write.value);
            }
        }
        let mut outcome = Outcome::Take(write.value, Guard::AsRegister);
        for effect in acting(&compiled.port, scene) {
            if let Outcome::Take(value, guard) = outcome {
                outcome = effect.action.meet(write, value, guard, &memory.port);
            }
        }
        memory.port.note(write, outcome);
        outcome
    }

    fn memory(&mut self, write: &MemoryWrite) {
        for (effect, notes) in self.compiled.fetch.effects.iter().zip(&mut self.memory.fetch) {
            if let FetchAction::Snow { bytes } = effect.action
                && effect.truth.ask(&AtMemoryWrite(write)).may_hold()
            {
                notes.note((write.frame, write.scan_line), write.char, bytes as u32, write.value);
            }
        }
    }

    fn latch(&mut self, moment: &LatchMoment) -> u32 {
        let mut start = moment.start;
        for (effect, memory) in self.compiled.latch.iter().zip(&mut self.memory.latch) {
            if effect.truth.ask(&AtTakeOver(moment)).may_hold() {
                start = effect.action.take(moment, start, memory);
            }
        }
        start
    }

    fn latch_delay(&self) -> u32 {
        self.compiled.latch_delay
    }

    fn timing(&self, timing: &mut Timing) {
        for effect in &self.compiled.latch {
            if effect.truth.ask(&OfComparands(timing)).may_hold() {
                effect.action.bend(timing);
            }
        }
        for effect in &self.compiled.sync {
            if effect.truth.ask(&OfComparands(timing)).may_hold() {
                effect.action.bend(timing);
            }
        }
    }

    fn address(&self, line: &Line, offset: u32, linear: u32) -> Run {
        self.bent(self.compiled.address.on_line(line), line, offset, linear)
    }

    fn runs(&self, line: &Line, acting: &Acting, offset: u32, len: u32, each: &mut dyn FnMut(u32, Run)) {
        let on_line = self.settled(acting).address;
        let end = offset + len;
        let mut at = offset;
        while at < end {
            let run = self.bent(on_line, line, at, line.healthy(at));
            let len = run.len.min(end - at);
            each(at, Run { len, ..run });
            at += len;
        }
    }

    fn bank(&self, line: &Line) -> u32 {
        if !self.compiled.has_banks {
            return line.bank;
        }
        let acting = acting(&self.compiled.address.effects, AtLine(line));
        acting.fold(line.bank, |bank, effect| effect.action.bend_bank(bank))
    }

    fn fetch(&self, line: &Line, acting: &Acting, offset: u32, bytes: &mut [u8], peek: &dyn Fn(u32) -> u8) {
        let on_line = self.settled(acting).fetch;
        Row::of(&self.compiled.fetch, &self.memory.fetch, line, on_line).bend(offset, bytes, peek);
    }

    fn pixels(&self, line: &Line, acting: &Acting, x: u32, values: &mut [u8], peek: &dyn Fn(u32) -> u8) {
        let on_line = self.settled(acting).pixel;
        Row::of(&self.compiled.pixel, &self.memory.pixel, line, on_line).bend(x, values, peek);
    }

    fn colour(&self, frame: u64, palette: &mut Palette) {
        for effect in acting(&self.compiled.colour, OfFrame(frame)) {
            effect.action.bend(palette);
        }
    }

    fn shift(&mut self, frame: u64) -> Shift {
        let mut shift = Shift::default();
        for (effect, memory) in self.compiled.sync.iter().zip(&self.memory.sync) {
            // A jump caused by a write has asked its condition then.
            if effect.action.is_caused_by_writes() || effect.truth.ask(&OfFrame(frame)).may_hold() {
                let by = effect.action.shift(frame, effect.key, memory);
                shift.dots = shift.dots.saturating_add(by.dots);
                shift.lines = shift.lines.saturating_add(by.lines);
            }
        }
        shift
    }

    fn bends(&self, line: &Line, offset: u32, linear: u32) -> Vec<Bend> {
        let mut before = linear;
        let mut bends = Vec::new();
        for effect in acting(&self.compiled.address.effects, AtByte(line, offset)) {
            let after = effect.action.bend(line, offset, before).linear;
            if line.memory(after) != line.memory(before) {
                bends.push(Bend { quirk: self.quirks[effect.quirk].name().to_owned(), before, after });
            }
            before = after;
        }
        bends
    }

    fn touches(&self, line: &Line, offset: u32, x: u32) -> Vec<Touch> {
        let Self { compiled, memory, .. } = self;
        let banks = acting(&compiled.address.effects, AtLine(line));
        let banks = banks.filter(|effect| effect.action.bend_bank(line.bank) != line.bank);
        let banks = banks.map(|effect| self.touch(effect, &Action::Address(effect.action.clone())));
        let Settled { fetch, pixel, .. } = self.settled(&self.acting(line));
        let bytes = Row::of(&compiled.fetch, &memory.fetch, line, fetch);
        let bytes = bytes.acting_at(offset).map(|effect| self.touch(effect, &Action::Fetch(effect.action.clone())));
        let pixels = Row::of(&compiled.pixel, &memory.pixel, line, pixel);
        let pixels = pixels.acting_at(x).map(|effect| self.touch(effect, &Action::Pixel(effect.action.clone())));
        let colours = acting(&compiled.colour, OfFrame(line.frame));
        let colours = colours.map(|effect| self.touch(effect, &Action::Colour(effect.action.clone())));
        banks.chain(bytes).chain(pixels).chain(colours).collect()
    }
}
