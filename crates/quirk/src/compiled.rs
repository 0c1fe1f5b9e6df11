//! Quirks made ready for the pipeline: effects sorted by stage, conditions as
//! short as can be, each stage's list in stacking order.

use backporch_raster::Stages;

use crate::chance::draw;
use crate::language::Action;
use crate::quirk::Quirk;
use crate::stage::{AddressAction, ColourAction, FetchAction, LatchAction, PixelAction, PortAction, SyncAction};
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
    /// What its own chance draws from.
    pub key: u64,
}

/// The effects of a whole stack.
#[derive(Clone, Debug, Default)]
pub(crate) struct Compiled {
    /// Stages that any of them touches.
    pub stages: Stages,
    pub port: Vec<Armed<PortAction<i32>>>,
    pub latch: Vec<Armed<LatchAction<i32>>>,
    pub address: Vec<Armed<AddressAction<i32>>>,
    pub fetch: Vec<Armed<FetchAction<i32>>>,
    pub pixel: Vec<Armed<PixelAction<i32>>>,
    pub colour: Vec<Armed<ColourAction<i32>>>,
    pub sync: Vec<Armed<SyncAction<i32>>>,
}

impl Compiled {
    /// Sorts the effects of quirks, in stacking order; chance draws from `seed`.
    pub fn of(quirks: &[Quirk], seed: u64) -> Self {
        let mut compiled = Self::default();
        for (quirk, closed) in quirks.iter().enumerate() {
            let mut draws = 0;
            let mut key = || {
                draws += 1;
                draw(seed, quirk as u64, draws)
            };
            for effect in closed.effects() {
                let when = Truth::of(&effect.when, &mut key);
                let Some(threshold) = effect.threshold else {
                    compiled.add(quirk, when, effect.does, key());
                    continue;
                };
                let above = Truth::at_least(threshold.of, threshold.from);
                let below = above.clone().negated();
                compiled.add(quirk, Truth::all(vec![when.clone(), below]), effect.does, key());
                compiled.add(quirk, Truth::all(vec![when, above]), threshold.does, key());
            }
        }
        compiled
    }

    fn add(&mut self, quirk: usize, truth: Truth, action: Action<i32>, key: u64) {
        if truth == Truth::Always(false) {
            return;
        }
        self.stages = self.stages | action.stages();
        match action {
            Action::Port(action) => self.port.push(Armed { quirk, truth, action, key }),
            Action::Latch(action) => self.latch.push(Armed { quirk, truth, action, key }),
            Action::Address(action) => self.address.push(Armed { quirk, truth, action, key }),
            Action::Fetch(action) => self.fetch.push(Armed { quirk, truth, action, key }),
            Action::Pixel(action) => self.pixel.push(Armed { quirk, truth, action, key }),
            Action::Colour(action) => self.colour.push(Armed { quirk, truth, action, key }),
            Action::Sync(action) => self.sync.push(Armed { quirk, truth, action, key }),
        }
    }
}

impl Action<i32> {
    /// Stages of the tap it works through.
    fn stages(&self) -> Stages {
        match self {
            Self::Port(_) => Stages::PORT,
            Self::Latch(action) => action.stages(),
            Self::Address(_) => Stages::ADDRESS,
            Self::Fetch(FetchAction::Snow { .. }) => Stages::MEMORY | Stages::FETCH,
            Self::Fetch(_) => Stages::FETCH,
            Self::Pixel(PixelAction::WriteShows { .. }) => Stages::PORT | Stages::PIXEL,
            Self::Pixel(_) => Stages::PIXEL,
            Self::Colour(_) => Stages::COLOUR,
            Self::Sync(action) => action.stages(),
        }
    }
}
