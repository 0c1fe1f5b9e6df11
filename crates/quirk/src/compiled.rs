//! Quirks made ready for the pipeline: effects sorted by stage, conditions as
//! short as can be, each stage's list in stacking order.

use backporch_raster::{LineDependencies, Stages};

use crate::chance::draw;
use crate::compiled_condition::CompiledCondition;
use crate::compiled_effect::CompiledEffect;
use crate::context::Nowhere;
use crate::language::Action;
use crate::layers::DesignQuirk;
use crate::line_stage::LineStage;
use crate::quirk::Quirk;
use crate::stage::{
    AddressAction, ColourAction, FetchAction, LatchAction, PixelAction, PlaceAction, PortAction, SyncAction,
};

/// The effects of a whole stack.
#[derive(Clone, Debug, Default)]
pub(crate) struct Compiled {
    /// What of a line may change what any of them does to it.
    pub dependencies: LineDependencies,
    /// Stages at which any of them works.
    pub stages: Stages,
    /// Whether any of those of the faults works without writes.
    pub acts_at_rest: bool,
    /// Scan lines by which the start address is taken over late.
    pub latch_delay: u32,
    /// Whether any of them turns bits of the bank over.
    pub has_banks: bool,
    /// Whether scan lines that show the same picture line may be changed in different ways.
    pub tells_scan_lines_apart: bool,
    pub port: Vec<CompiledEffect<PortAction<i32>>>,
    pub latch: Vec<CompiledEffect<LatchAction<i32>>>,
    pub address: LineStage<AddressAction<i32>>,
    pub fetch: LineStage<FetchAction<i32>>,
    pub pixel: LineStage<PixelAction<i32>>,
    pub colour: Vec<CompiledEffect<ColourAction<i32>>>,
    pub sync: Vec<CompiledEffect<SyncAction<i32>>>,
}

impl Compiled {
    /// Sorts the effects of what a class does by design and of the faults on
    /// it, in stacking order; chance draws from `seed`.
    pub fn of(design: &[DesignQuirk], faults: &[Quirk], seed: u64) -> Self {
        let mut compiled = Self::default();
        // A fault draws the same whatever the board below it does.
        let below = (0u64..).map(|at| u64::MAX - at).zip(design.iter().map(|designed| &designed.quirk));
        for (quirk, (stream, closed)) in below.chain((0..).zip(faults)).enumerate() {
            let mut draws = 0;
            let mut key = || {
                draws += 1;
                draw(seed, stream, draws)
            };
            let is_fault = quirk >= design.len();
            for effect in closed.effects() {
                let when = CompiledCondition::of(&effect.when, &mut key);
                compiled.acts_at_rest |= is_fault && !effect.does.is_caused_by_writes();
                let Some(threshold) = effect.threshold else {
                    compiled.add(quirk, when, effect.does, key());
                    continue;
                };
                let above = CompiledCondition::at_least(threshold.of, threshold.from);
                let below = above.clone().negated();
                compiled.add(quirk, CompiledCondition::all(vec![when.clone(), below]), effect.does, key());
                compiled.acts_at_rest |= is_fault && !threshold.does.is_caused_by_writes();
                compiled.add(quirk, CompiledCondition::all(vec![when, above]), threshold.does, key());
            }
        }
        compiled.dependencies = compiled.depends_on();
        compiled
    }

    fn add(&mut self, quirk: usize, condition: CompiledCondition, action: Action<i32>, key: u64) {
        if condition == CompiledCondition::Always(false) {
            return;
        }
        self.stages |= action.stages();
        self.has_banks |= matches!(&action, Action::Address(action) if action.apply_to_bank(0) != 0);
        self.tells_scan_lines_apart |= action.is_of_lines() && condition.tells_scan_lines_apart();
        self.tells_scan_lines_apart |= match &action {
            Action::Fetch(action) => action.way().tells_scan_lines_apart(),
            Action::Pixel(action) => action.way().tells_scan_lines_apart(),
            Action::Port(_) | Action::Latch(_) | Action::Address(_) | Action::Colour(_) | Action::Sync(_) => false,
        };
        if let Action::Latch(action) = &action {
            // Nothing is known where it is asked for, so that it is the same at all times.
            self.latch_delay += if condition.ask(&Nowhere).may_hold() { action.delay() } else { 0 };
        }
        match action {
            Action::Port(action) => self.port.push(CompiledEffect { quirk, condition, action, key }),
            Action::Latch(action) => self.latch.push(CompiledEffect { quirk, condition, action, key }),
            Action::Address(action) => self.address.push(CompiledEffect { quirk, condition, action, key }, false),
            Action::Fetch(action) => {
                let by_notes = action.way().is_by_notes();
                self.fetch.push(CompiledEffect { quirk, condition, action, key }, by_notes);
            }
            Action::Pixel(action) => {
                let by_notes = action.way().is_by_notes();
                self.pixel.push(CompiledEffect { quirk, condition, action, key }, by_notes);
            }
            Action::Colour(action) => self.colour.push(CompiledEffect { quirk, condition, action, key }),
            Action::Sync(action) => self.sync.push(CompiledEffect { quirk, condition, action, key }),
        }
    }
}

impl Action<i32> {
    /// Whether it changes lines as they are drawn.
    fn is_of_lines(&self) -> bool {
        matches!(self, Self::Address(_) | Self::Fetch(_) | Self::Pixel(_))
    }

    /// Whether nothing of it shows unless something is written.
    fn is_caused_by_writes(&self) -> bool {
        match self {
            Self::Port(_) => true,
            Self::Fetch(action) => action.way().is_by_notes(),
            Self::Pixel(action) => action.way().is_by_notes(),
            Self::Sync(action) => action.is_caused_by_writes(),
            Self::Latch(_) | Self::Address(_) | Self::Colour(_) => false,
        }
    }

    /// Stages of the tap it works through.
    fn stages(&self) -> Stages {
        match self {
            Self::Port(_) => Stages::PORT,
            Self::Latch(action) => action.stages(),
            Self::Address(_) => Stages::ADDRESS,
            Self::Fetch(action) if action.way().is_by_notes() => Stages::MEMORY | Stages::FETCH,
            Self::Fetch(_) => Stages::FETCH,
            Self::Pixel(action) if action.way().is_by_notes() => Stages::PORT | Stages::PIXEL,
            Self::Pixel(_) => Stages::PIXEL,
            Self::Colour(_) => Stages::COLOUR,
            Self::Sync(action) => action.stages(),
        }
    }
}
