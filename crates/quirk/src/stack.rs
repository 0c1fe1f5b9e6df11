//! Stacks: quirks on one board, each acting on what the one before left.

use std::sync::Arc;

use backporch_adapter::{Guard, Palette, Timing};
use backporch_raster::{
    AddressChange, Explain, Intercept, LatchMoment, Layer, Line, LineDependencies, LineEffects, LineReuse, MemoryWrite,
    PortWrite, Run, Shift, Stages, ValueChange, WriteOutcome,
};

use crate::compiled::Compiled;
use crate::compiled_effect::CompiledEffect;
use crate::context::{AtByte, AtLine, AtMemoryWrite, AtTakeOver, AtWrite, Context, OfComparands, OfFrame};
use crate::language::Action;
use crate::layers::DesignQuirk;
use crate::on_line::OnLine;
use crate::quirk::Quirk;
use crate::stage::{BounceMemory, FetchAction, LatchMemory, LineValues, Notes, PixelAction, PortMemory, settle};

/// Quirks on one board, in the order in which they act: what its class does by
/// design, then faults. An empty stack changes nothing.
#[derive(Clone, Debug)]
pub struct QuirkStack {
    design: Arc<[DesignQuirk]>,
    faults: Arc<[Quirk]>,
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
    /// Faults on a board that does nothing by design, put on one another;
    /// whatever acts by chance draws from `seed`. For a board of a class see
    /// [`Layers`](crate::Layers).
    #[must_use]
    pub fn new(faults: Vec<Quirk>, seed: u64) -> Self {
        Self::layered(Arc::new([]), faults, seed)
    }

    /// Faults on what a class does by design.
    pub(crate) fn layered(design: Arc<[DesignQuirk]>, faults: Vec<Quirk>, seed: u64) -> Self {
        let compiled = Compiled::of(&design, &faults, seed);
        let memory = Memory::of(&compiled);
        Self { design, faults: faults.into(), seed, compiled: Arc::new(compiled), memory }
    }

    /// The faults, in the order in which they act.
    #[must_use]
    pub fn quirks(&self) -> &[Quirk] {
        &self.faults
    }

    /// What the class does by design below them, in the order in which it acts.
    #[must_use]
    pub fn design(&self) -> &[DesignQuirk] {
        &self.design
    }

    /// Name and layer of the quirk at a position of the stack.
    fn cause(&self, position: usize) -> (String, Layer) {
        match self.design.get(position) {
            Some(designed) => (designed.name.clone(), Layer::Design { source: designed.basis.to_string() }),
            None => (self.faults[position - self.design.len()].name().to_owned(), Layer::Fault),
        }
    }

    /// The seed of whatever acts by chance.
    #[must_use]
    pub fn seed(&self) -> u64 {
        self.seed
    }

    /// What was settled for a line, stage by stage.
    fn settled(&self, on_line: &LineEffects) -> Settled {
        let [a, b, c, d, e, f] = on_line.detail;
        let Compiled { address, fetch, pixel, .. } = &*self.compiled;
        Settled {
            address: address.settled.again([a, b]),
            fetch: fetch.settled.again([c, d]),
            pixel: pixel.settled.again([e, f]),
        }
    }

    /// The address of a byte, changed by the effects that may act on its line.
    fn changed(&self, on_line: OnLine, line: &Line, offset: u32, linear: u32) -> Run {
        let mut run = Run { linear, len: u32::MAX };
        for position in on_line.positions() {
            let effect = &self.compiled.address.effects[position];
            let answer = on_line.answer(position, || effect.condition.ask(&AtByte(line, offset)));
            run.len = run.len.min(answer.len);
            if answer.may_hold() {
                let changed = effect.action.apply(line, offset, run.linear);
                run = Run { linear: changed.linear, len: run.len.min(changed.len) };
            }
        }
        run
    }

    fn value_change<A>(&self, effect: &CompiledEffect<A>, action: &Action<i32>) -> ValueChange {
        let (quirk, layer) = self.cause(effect.quirk);
        ValueChange { quirk, layer, does: action.closed_words() }
    }
}

impl Default for QuirkStack {
    fn default() -> Self {
        Self::new(Vec::new(), 0)
    }
}

/// The effects whose condition holds in a context.
fn acting<A>(effects: &[CompiledEffect<A>], context: impl Context) -> impl Iterator<Item = &CompiledEffect<A>> {
    effects.iter().filter(move |effect| effect.condition.ask(&context).may_hold())
}

impl Intercept for QuirkStack {
    fn stages(&self) -> Stages {
        self.compiled.stages
    }

    fn acts_at_rest(&self) -> bool {
        self.compiled.acts_at_rest
    }

    fn port(&mut self, write: &PortWrite) -> WriteOutcome {
        let Self { compiled, memory, .. } = self;
        let context = AtWrite(write, memory.port.since_last(write));
        for (effect, bounce) in compiled.sync.iter().zip(&mut memory.sync) {
            if effect.action.is_caused_by_writes() && effect.condition.ask(&context).may_hold() {
                effect.action.note(write.frame, bounce);
            }
        }
        for (effect, notes) in compiled.pixel.effects.iter().zip(&mut memory.pixel) {
            if let PixelAction::WriteShows { pixels } = effect.action
                && effect.condition.ask(&context).may_hold()
            {
                notes.note((write.frame, write.scan_line), write.char, pixels as u32, write.value);
            }
        }
        let mut outcome = WriteOutcome::Take(write.value, Guard::AsRegister);
        for effect in acting(&compiled.port, context) {
            if let WriteOutcome::Take(value, guard) = outcome {
                outcome = effect.action.apply(write, value, guard, &memory.port);
            }
        }
        memory.port.note(write, outcome);
        outcome
    }

    fn memory(&mut self, write: &MemoryWrite) {
        for (effect, notes) in self.compiled.fetch.effects.iter().zip(&mut self.memory.fetch) {
            if let FetchAction::Snow { bytes } = effect.action
                && effect.condition.ask(&AtMemoryWrite(write)).may_hold()
            {
                notes.note((write.frame, write.scan_line), write.char, bytes as u32, write.value);
            }
        }
    }

    fn latch(&mut self, moment: &LatchMoment) -> u32 {
        let mut start = moment.start;
        for (effect, memory) in self.compiled.latch.iter().zip(&mut self.memory.latch) {
            if effect.condition.ask(&AtTakeOver(moment)).may_hold() {
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
            if effect.condition.ask(&OfComparands(timing)).may_hold() {
                effect.action.apply(timing);
            }
        }
        for effect in &self.compiled.sync {
            if effect.condition.ask(&OfComparands(timing)).may_hold() {
                effect.action.apply(timing);
            }
        }
    }

    fn address(&self, line: &Line, offset: u32, linear: u32) -> Run {
        self.changed(self.compiled.address.on_line(line), line, offset, linear)
    }

    fn bank(&self, line: &Line) -> u32 {
        if !self.compiled.has_banks {
            return line.bank;
        }
        let acting = acting(&self.compiled.address.effects, AtLine(line));
        acting.fold(line.bank, |bank, effect| effect.action.apply_to_bank(bank))
    }

    fn fetch(&self, line: &Line, offset: u32, bytes: &mut [u8], peek: &dyn Fn(u32) -> u8) {
        self.fetch_on(line, &self.line_effects(line), offset, bytes, peek);
    }

    fn pixels(&self, line: &Line, x: u32, values: &mut [u8], peek: &dyn Fn(u32) -> u8) {
        self.pixels_on(line, &self.line_effects(line), x, values, peek);
    }

    fn colour(&self, frame: u64, palette: &mut Palette) {
        for effect in acting(&self.compiled.colour, OfFrame(frame)) {
            effect.action.apply(palette);
        }
    }

    fn shift(&mut self, frame: u64) -> Shift {
        let mut shift = Shift::default();
        for (effect, memory) in self.compiled.sync.iter().zip(&self.memory.sync) {
            // A jump caused by a write has asked its condition then.
            if effect.action.is_caused_by_writes() || effect.condition.ask(&OfFrame(frame)).may_hold() {
                let by = effect.action.shift(frame, effect.key, memory);
                shift.dots = shift.dots.saturating_add(by.dots);
                shift.lines = shift.lines.saturating_add(by.lines);
            }
        }
        shift
    }
}

impl LineReuse for QuirkStack {
    fn depends_on(&self) -> LineDependencies {
        self.compiled.dependencies
    }

    fn line_effects(&self, line: &Line) -> LineEffects {
        let Self { compiled, memory, .. } = self;
        let address = compiled.address.on_line(line);
        let fetch = settle(&compiled.fetch, &memory.fetch, line);
        let pixel = settle(&compiled.pixel, &memory.pixel, line);
        let mut stages = Stages::empty();
        let mut add = |stage: Stages, idle: bool| stages = if idle { stages } else { stages | stage };
        add(Stages::ADDRESS, address.is_none());
        add(Stages::FETCH, fetch.is_none());
        add(Stages::PIXEL, pixel.is_none());
        let ([a, b], [c, d], [e, f]) = (address.marks(), fetch.marks(), pixel.marks());
        LineEffects { stages, detail: [a, b, c, d, e, f] }
    }

    fn always_repeats(&self) -> bool {
        let Compiled { tells_scan_lines_apart, fetch, pixel, .. } = &*self.compiled;
        !tells_scan_lines_apart && fetch.settled.by_notes | pixel.settled.by_notes == 0
    }

    fn repeats(&self, before: &LineEffects, again: &LineEffects) -> bool {
        let by_notes = |on_line: &LineEffects| {
            let Settled { fetch, pixel, .. } = self.settled(on_line);
            fetch.has_any_of(self.compiled.fetch.settled.by_notes)
                || pixel.has_any_of(self.compiled.pixel.settled.by_notes)
        };
        let alike = !self.compiled.tells_scan_lines_apart || before.changes_nothing() && again.changes_nothing();
        alike && !by_notes(before) && !by_notes(again)
    }

    fn runs(&self, line: &Line, effects: &LineEffects, offset: u32, len: u32, each: &mut dyn FnMut(u32, Run)) {
        let on_line = self.settled(effects).address;
        let end = offset + len;
        let mut at = offset;
        while at < end {
            let run = self.changed(on_line, line, at, line.plain_address(at));
            let len = run.len.min(end - at);
            each(at, Run { len, ..run });
            at += len;
        }
    }

    fn fetch_on(&self, line: &Line, effects: &LineEffects, offset: u32, bytes: &mut [u8], peek: &dyn Fn(u32) -> u8) {
        let on_line = self.settled(effects).fetch;
        LineValues::of(&self.compiled.fetch, &self.memory.fetch, line, on_line).apply(offset, bytes, peek);
    }

    fn pixels_on(&self, line: &Line, effects: &LineEffects, x: u32, values: &mut [u8], peek: &dyn Fn(u32) -> u8) {
        let on_line = self.settled(effects).pixel;
        LineValues::of(&self.compiled.pixel, &self.memory.pixel, line, on_line).apply(x, values, peek);
    }
}

impl Explain for QuirkStack {
    fn address_changes(&self, line: &Line, offset: u32, linear: u32) -> Vec<AddressChange> {
        let mut before = linear;
        let mut changes = Vec::new();
        for effect in acting(&self.compiled.address.effects, AtByte(line, offset)) {
            let after = effect.action.apply(line, offset, before).linear;
            if line.memory(after) != line.memory(before) {
                let (quirk, layer) = self.cause(effect.quirk);
                let does = effect.action.words_at(line, offset, before);
                let does = does.unwrap_or_else(|| Action::Address(effect.action.clone()).closed_words());
                changes.push(AddressChange { quirk, layer, does, before, after });
            }
            before = after;
        }
        changes
    }

    fn value_changes(&self, line: &Line, offset: u32, x: u32) -> Vec<ValueChange> {
        let Self { compiled, memory, .. } = self;
        let banks = acting(&compiled.address.effects, AtLine(line));
        let banks = banks.filter(|effect| effect.action.apply_to_bank(line.bank) != line.bank);
        let banks = banks.map(|effect| self.value_change(effect, &Action::Address(effect.action.clone())));
        let Settled { fetch, pixel, .. } = self.settled(&self.line_effects(line));
        let bytes = LineValues::of(&compiled.fetch, &memory.fetch, line, fetch);
        let bytes =
            bytes.acting_at(offset).map(|effect| self.value_change(effect, &Action::Fetch(effect.action.clone())));
        let pixels = LineValues::of(&compiled.pixel, &memory.pixel, line, pixel);
        let pixels = pixels.acting_at(x).map(|effect| self.value_change(effect, &Action::Pixel(effect.action.clone())));
        let colours = acting(&compiled.colour, OfFrame(line.frame));
        let colours = colours.map(|effect| self.value_change(effect, &Action::Colour(effect.action.clone())));
        banks.chain(bytes).chain(pixels).chain(colours).collect()
    }
}
