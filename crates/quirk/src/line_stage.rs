//! The effects of one stage that changes lines.

use backporch_raster::Line;

use crate::compiled_effect::CompiledEffect;
use crate::on_line::{OnLine, Settled};

/// The effects of a stage that changes lines.
#[derive(Clone, Debug)]
pub(crate) struct LineStage<A> {
    /// In stacking order.
    pub effects: Vec<CompiledEffect<A>>,
    /// What is known of them before a line is drawn.
    pub settled: Settled,
}

impl<A> Default for LineStage<A> {
    fn default() -> Self {
        Self { effects: Vec::new(), settled: Settled::default() }
    }
}

impl<A> LineStage<A> {
    /// Adds an effect, on top of those there are.
    pub fn push(&mut self, effect: CompiledEffect<A>, by_notes: bool) {
        self.settled.add(self.effects.len(), &effect.condition, by_notes);
        self.effects.push(effect);
    }

    /// Which of the effects act on a line, as their conditions say.
    pub fn on_line(&self, line: &Line) -> OnLine {
        self.settled.asking(&self.effects, line)
    }
}
