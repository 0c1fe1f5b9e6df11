//! Stacks: quirks on one board, each acting on what the one before left.

use std::sync::Arc;

use backporch_adapter::{Guard, Palette, Timing};
use backporch_raster::{Bend, LatchMoment, Line, MemoryWrite, Outcome, PortWrite, Run, Shift, Stages, Tap, Touch};

use crate::compiled::{Armed, Compiled};
use crate::language::{Action, Value};
use crate::quirk::Quirk;
use crate::scene::Scene;
use crate::stage::{BounceMemory, FetchAction, LatchMemory, Notes, PixelAction, PlaceAction, PortMemory, Row, may_act};

/// Quirks on one board, in the order in which they act. An empty stack is healthy.
#[derive(Clone, Debug)]
pub struct QuirkStack {
    quirks: Arc<[Quirk]>,
    seed: u64,
    compiled: Arc<Compiled>,
    memory: Memory,
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
            fetch: vec![Notes::default(); compiled.fetch.len()],
            pixel: vec![Notes::default(); compiled.pixel.len()],
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
fn acting<'a, A>(effects: &'a [Armed<A>], scene: Scene<'a>) -> impl Iterator<Item = &'a Armed<A>> {
    effects.iter().filter(move |effect| effect.truth.ask(&scene).may_hold())
}

fn any_may_act<A: PlaceAction>(effects: &[Armed<A>], notes: &[Notes], line: &Line) -> bool {
    effects.iter().zip(notes).any(|(effect, notes)| may_act(effect, notes, line))
}

impl Tap for QuirkStack {
    fn stages(&self) -> Stages {
        self.compiled.stages
    }

    fn stages_on(&self, line: &Line) -> Stages {
        let Self { compiled, memory, .. } = self;
        let acts = [
            (Stages::ADDRESS, acting(&compiled.address, Scene::Line(line)).next().is_some()),
            (Stages::FETCH, any_may_act(&compiled.fetch, &memory.fetch, line)),
            (Stages::PIXEL, any_may_act(&compiled.pixel, &memory.pixel, line)),
        ];
        let named = acts.into_iter().filter(|(_, acts)| *acts);
        named.fold(Stages::NONE, |stages, (stage, _)| stages | stage)
    }

    fn port(&mut self, write: &PortWrite) -> Outcome {
        let Self { compiled, memory, .. } = self;
        let scene = Scene::Write(write, memory.port.since_last(write));
        for (effect, bounce) in compiled.sync.iter().zip(&mut memory.sync) {
            if effect.action.is_caused_by_writes() && effect.truth.ask(&scene).may_hold() {
                effect.action.note(write.frame, bounce);
            }
        }
        for (effect, notes) in compiled.pixel.iter().zip(&mut memory.pixel) {
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
        for (effect, notes) in self.compiled.fetch.iter().zip(&mut self.memory.fetch) {
            if let FetchAction::Snow { bytes } = effect.action
                && effect.truth.ask(&Scene::MemoryWrite(write)).may_hold()
            {
                notes.note((write.frame, write.scan_line), write.char, bytes as u32, write.value);
            }
        }
    }

    fn latch(&mut self, moment: &LatchMoment) -> u32 {
        let mut start = moment.start;
        for (effect, memory) in self.compiled.latch.iter().zip(&mut self.memory.latch) {
            if effect.truth.ask(&Scene::TakeOver(moment)).may_hold() {
                start = effect.action.take(moment, start, memory);
            }
        }
        start
    }

    fn latch_delay(&self) -> u32 {
        acting(&self.compiled.latch, Scene::Nothing).map(|effect| effect.action.delay()).sum()
    }

    fn timing(&self, timing: &mut Timing) {
        for effect in &self.compiled.latch {
            if effect.truth.ask(&Scene::Comparands(timing)).may_hold() {
                effect.action.bend(timing);
            }
        }
        for effect in &self.compiled.sync {
            if effect.truth.ask(&Scene::Comparands(timing)).may_hold() {
                effect.action.bend(timing);
            }
        }
    }

    fn address(&self, line: &Line, offset: u32, linear: u32) -> Run {
        let mut run = Run { linear, len: u32::MAX };
        for effect in &self.compiled.address {
            let answer = effect.truth.ask(&Scene::Byte(line, offset));
            run.len = run.len.min(answer.len);
            if answer.may_hold() {
                let bent = effect.action.bend(line, offset, run.linear);
                run = Run { linear: bent.linear, len: run.len.min(bent.len) };
            }
        }
        run
    }

    fn bank(&self, line: &Line) -> u32 {
        let acting = acting(&self.compiled.address, Scene::Line(line));
        acting.fold(line.bank, |bank, effect| effect.action.bend_bank(bank))
    }

    fn fetch(&self, line: &Line, offset: u32, bytes: &mut [u8], peek: &dyn Fn(u32) -> u8) {
        Row::of(&self.compiled.fetch, &self.memory.fetch, line).bend(offset, bytes, peek);
    }

    fn pixels(&self, line: &Line, x: u32, values: &mut [u8], peek: &dyn Fn(u32) -> u8) {
        Row::of(&self.compiled.pixel, &self.memory.pixel, line).bend(x, values, peek);
    }

    fn colour(&self, frame: u64, palette: &mut Palette) {
        for effect in acting(&self.compiled.colour, Scene::Frame(frame)) {
            effect.action.bend(palette);
        }
    }

    fn shift(&mut self, frame: u64) -> Shift {
        let mut shift = Shift::default();
        for (effect, memory) in self.compiled.sync.iter().zip(&self.memory.sync) {
            // A jump caused by a write has asked its condition then.
            if effect.action.is_caused_by_writes() || effect.truth.ask(&Scene::Frame(frame)).may_hold() {
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
        for effect in acting(&self.compiled.address, Scene::Byte(line, offset)) {
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
        let banks = acting(&compiled.address, Scene::Line(line));
        let banks = banks.filter(|effect| effect.action.bend_bank(line.bank) != line.bank);
        let banks = banks.map(|effect| self.touch(effect, &Action::Address(effect.action.clone())));
        let bytes = Row::of(&compiled.fetch, &memory.fetch, line);
        let bytes = bytes.acting_at(offset).map(|effect| self.touch(effect, &Action::Fetch(effect.action.clone())));
        let pixels = Row::of(&compiled.pixel, &memory.pixel, line);
        let pixels = pixels.acting_at(x).map(|effect| self.touch(effect, &Action::Pixel(effect.action.clone())));
        let colours = acting(&compiled.colour, Scene::Frame(line.frame));
        let colours = colours.map(|effect| self.touch(effect, &Action::Colour(effect.action.clone())));
        banks.chain(bytes).chain(pixels).chain(colours).collect()
    }
}
