//! Quirks made ready for the pipeline: effects sorted by stage, conditions as
//! short as can be, each stage's list in stacking order.

use backporch_raster::{LineFacts, Stages};

use crate::armed::Armed;
use crate::chance::draw;
use crate::language::Action;
use crate::line_stage::LineStage;
use crate::quirk::Quirk;
use crate::scene::Nowhere;
use crate::stage::{
    AddressAction, ColourAction, FetchAction, LatchAction, PixelAction, PlaceAction, PortAction, SyncAction,
};
use crate::truth::Truth;

/// The effects of a whole stack.
#[derive(Clone, Debug, Default)]
pub(crate) struct Compiled {
    /// Facts of a line that may change what any of them does to it.
    pub facts: LineFacts,
    /// Stages that any of them touches.
    pub stages: Stages,
    /// Scan lines by which the start address is taken over late.
    pub latch_delay: u32,
    /// Whether any of them turns bits of the bank over.
    pub has_banks: bool,
    /// Whether scan lines that show the same picture line may be bent in different ways.
    pub tells_scan_lines_apart: bool,
    pub port: Vec<Armed<PortAction<i32>>>,
    pub latch: Vec<Armed<LatchAction<i32>>>,
    pub address: LineStage<AddressAction<i32>>,
    pub fetch: LineStage<FetchAction<i32>>,
    pub pixel: LineStage<PixelAction<i32>>,
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
        compiled.facts = compiled.looks_at();
        compiled
    }

    fn add(&mut self, quirk: usize, truth: Truth, action: Action<i32>, key: u64) {
        if truth == Truth::Always(false) {
            return;
        }
        self.stages |= action.stages();
        self.has_banks |= matches!(action, Action::Address(AddressAction::WrongBank { .. }));
        self.tells_scan_lines_apart |= action.is_of_lines() && truth.tells_scan_lines_apart();
        self.tells_scan_lines_apart |= match &action {
            Action::Fetch(action) => action.tells_scan_lines_apart(),
            Action::Pixel(action) => action.tells_scan_lines_apart(),
            _ => false,
        };
        if let Action::Latch(action) = &action {
            // Nothing is known where it is asked for, so that it is the same at all times.
            self.latch_delay += if truth.ask(&Nowhere).may_hold() { action.delay() } else { 0 };
        }
        match action {
            Action::Port(action) => self.port.push(Armed { quirk, truth, action, key }),
            Action::Latch(action) => self.latch.push(Armed { quirk, truth, action, key }),
            Action::Address(action) => self.address.push(Armed { quirk, truth, action, key }, false),
            Action::Fetch(action) => {
                let by_notes = action.acts_by_notes();
                self.fetch.push(Armed { quirk, truth, action, key }, by_notes);
            }
            Action::Pixel(action) => {
                let by_notes = action.acts_by_notes();
                self.pixel.push(Armed { quirk, truth, action, key }, by_notes);
            }
            Action::Colour(action) => self.colour.push(Armed { quirk, truth, action, key }),
            Action::Sync(action) => self.sync.push(Armed { quirk, truth, action, key }),
        }
    }
}

impl Action<i32> {
    /// Whether it bends lines as they are drawn.
    fn is_of_lines(&self) -> bool {
        matches!(self, Self::Address(_) | Self::Fetch(_) | Self::Pixel(_))
    }

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
