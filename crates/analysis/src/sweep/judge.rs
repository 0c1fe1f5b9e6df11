//! One step after another, judged the cheapest way that is true.

use backporch_adapter::Registers;
use backporch_bench::Bench;

use super::boards::{StepBoards, registers_at, step_boards};
use super::still::StillPictures;
use super::{SweepAxis, SweepStep};
use crate::verdict::Damage;

/// Judges the steps of a sweep; keeps what they share.
pub(super) struct Judge<'a> {
    bench: &'a Bench,
    over: &'a [SweepAxis],
    hold: u32,
    registers: Registers,
    still: Option<StillPictures<'a>>,
}

impl<'a> Judge<'a> {
    pub fn new(bench: &'a Bench, over: &'a [SweepAxis], hold: u32) -> Self {
        let still = StillPictures::new(bench, over);
        Self { bench, over, hold, registers: bench.registers().clone(), still }
    }

    /// The step that sets `values` after the one that set `before`.
    pub fn step(&mut self, before: &[u32], values: &[u32]) -> SweepStep {
        self.registers.clone_from(self.bench.registers());
        registers_at(self.bench, self.over, values, &mut self.registers);
        let known = self.still.as_mut().and_then(|still| still.damage(&self.registers));
        let damage = known.unwrap_or_else(|| {
            let StepBoards { mut healthy, mut faulty } = step_boards(self.bench, self.over, before, values, self.hold);
            Damage::between(&healthy.run_frame(), &faulty.run_frame())
        });
        SweepStep::new(values.to_vec(), damage)
    }
}
