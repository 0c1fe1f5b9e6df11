//! Stacks: quirks on one board, each acting on what the one before left.

use std::sync::Arc;

use backporch_raster::{Bend, LatchMoment, Line, Run, Stages, Tap};

use crate::compiled::{Armed, Compiled};
use crate::quirk::Quirk;
use crate::scene::Scene;
use crate::stage::LatchMemory;

/// Quirks on one board, in the order in which they act. An empty stack is healthy.
#[derive(Clone, Debug)]
pub struct QuirkStack {
    quirks: Arc<[Quirk]>,
    seed: u64,
    compiled: Arc<Compiled>,
    latches: Vec<LatchMemory>,
}

impl QuirkStack {
    /// Puts quirks on one another; whatever acts by chance draws from `seed`.
    #[must_use]
    pub fn new(quirks: Vec<Quirk>, seed: u64) -> Self {
        let compiled = Compiled::of(&quirks, seed);
        let latches = vec![LatchMemory::default(); compiled.latch.len()];
        Self { quirks: quirks.into(), seed, compiled: Arc::new(compiled), latches }
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
}

impl Default for QuirkStack {
    fn default() -> Self {
        Self::new(Vec::new(), 0)
    }
}

/// Whether some effect of a stage may act on a line.
fn any_on<A>(effects: &[Armed<A>], line: &Line) -> bool {
    effects.iter().any(|effect| effect.truth.ask(&Scene::Line(line)).may_hold())
}

impl Tap for QuirkStack {
    fn stages(&self) -> Stages {
        self.compiled.stages
    }

    fn stages_on(&self, line: &Line) -> Stages {
        let compiled = &self.compiled;
        let mut stages = Stages::NONE;
        if any_on(&compiled.address, line) {
            stages = stages | Stages::ADDRESS;
        }
        stages
    }

    fn latch(&mut self, moment: &LatchMoment) -> u32 {
        let mut start = moment.start;
        for (effect, memory) in self.compiled.latch.iter().zip(&mut self.latches) {
            if effect.truth.ask(&Scene::TakeOver(moment)).may_hold() {
                start = effect.action.take(moment, start, memory);
            }
        }
        start
    }

    fn latch_delay(&self) -> u32 {
        let acting = self.compiled.latch.iter().filter(|effect| effect.truth.ask(&Scene::Nothing).may_hold());
        acting.map(|effect| effect.action.delay()).sum()
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

    fn bends(&self, line: &Line, offset: u32, linear: u32) -> Vec<Bend> {
        let mut before = linear;
        let mut bends = Vec::new();
        for effect in &self.compiled.address {
            if effect.truth.ask(&Scene::Byte(line, offset)).may_hold() {
                let after = effect.action.bend(line, offset, before).linear;
                if line.memory(after) != line.memory(before) {
                    bends.push(Bend { quirk: self.quirks[effect.quirk].name().to_owned(), before, after });
                }
                before = after;
            }
        }
        bends
    }
}
