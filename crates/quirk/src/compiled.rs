//! Quirks made ready for the pipeline: effects sorted by stage, conditions as
//! short as can be, each stage's list in stacking order.

use backporch_raster::Stages;

use crate::chance::draw;
use crate::language::Action;
use crate::quirk::Quirk;
use crate::stage::{AddressAction, LatchAction};
use crate::truth::Truth;

/// An action and when it acts.
#[derive(Clone, Debug)]
pub(crate) struct Armed<A> {
    /// Position of its quirk in the stack.
    pub quirk: usize,
    /// When it acts.
    pub truth: Truth,
    /// What it does.
    pub action: A,
}

/// The effects of a whole stack.
#[derive(Clone, Debug, Default)]
pub(crate) struct Compiled {
    /// Stages that any of them touches.
    pub stages: Stages,
    pub latch: Vec<Armed<LatchAction<i32>>>,
    pub address: Vec<Armed<AddressAction<i32>>>,
}

impl Compiled {
    /// Sorts the effects of quirks, in stacking order; chance draws from `seed`.
    pub fn of(quirks: &[Quirk], seed: u64) -> Self {
        let mut compiled = Self::default();
        for (quirk, closed) in quirks.iter().enumerate() {
            let mut chances = 0;
            let mut key = || {
                chances += 1;
                draw(seed, quirk as u64, chances)
            };
            for effect in closed.effects() {
                let when = Truth::of(&effect.when, &mut key);
                let Some(threshold) = effect.threshold else {
                    compiled.add(quirk, when, effect.does);
                    continue;
                };
                let above = Truth::at_least(threshold.of, threshold.from);
                compiled.add(quirk, Truth::all(vec![when.clone(), above.clone().negated()]), effect.does);
                compiled.add(quirk, Truth::all(vec![when, above]), threshold.does);
            }
        }
        compiled
    }

    fn add(&mut self, quirk: usize, truth: Truth, action: Action<i32>) {
        if truth == Truth::Always(false) {
            return;
        }
        self.stages = self.stages | action.stages();
        match action {
            Action::Latch(action) => self.latch.push(Armed { quirk, truth, action }),
            Action::Address(action) => self.address.push(Armed { quirk, truth, action }),
        }
    }
}

impl Action<i32> {
    fn stages(&self) -> Stages {
        match self {
            Self::Latch(_) => Stages::LATCH,
            Self::Address(_) => Stages::ADDRESS,
        }
    }
}
