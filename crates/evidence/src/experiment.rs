//! Experiments: a setting of a board, the register stepped on it, and who looks.

use std::sync::Arc;

use backporch_adapter::{FieldId, Registers};
use backporch_analysis::{Conditions, ExperimentSetup, Specimen};
use backporch_bench::Bench;
use backporch_input::Range;

use crate::statement::Seen;

/// Most steps of a range that are computed; of longer ones evenly spread steps are.
const MOST_STEPS_COMPUTED: usize = 64;

/// How often an observer is wrong.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Observer {
    errors: f64,
}

impl Observer {
    /// Share of sightings that are wrong, where nothing else is said.
    pub const USUAL_ERRORS: f64 = 0.05;
    /// The least and the greatest share that may be said.
    pub const ALLOWED: std::ops::RangeInclusive<f64> = 0.001..=0.5;

    /// An observer with that share of wrong sightings; `None` outside [`Observer::ALLOWED`].
    #[must_use]
    pub fn new(errors: f64) -> Option<Self> {
        Self::ALLOWED.contains(&errors).then_some(Self { errors })
    }

    /// Share of sightings that are wrong.
    #[must_use]
    pub fn errors(self) -> f64 {
        self.errors
    }
}

impl Default for Observer {
    fn default() -> Self {
        Self { errors: Self::USUAL_ERRORS }
    }
}

/// A setting of a board, and the register stepped on it.
#[derive(Clone, Debug)]
pub struct Experiment {
    /// What it is, for people.
    pub title: String,
    /// The board with its memory.
    pub bench: Arc<Bench>,
    /// Registers that differ from the bench's, by stored value.
    pub settings: Vec<(FieldId, u32)>,
    /// The register stepped.
    pub over: FieldId,
    /// How it comes about.
    pub conditions: Conditions,
}

impl Experiment {
    /// The bench as it is, its start address stepped.
    #[must_use]
    pub fn on(bench: Arc<Bench>) -> Self {
        let over = bench.adapter().start_address();
        Self { title: String::new(), bench, settings: Vec::new(), over, conditions: Conditions::default() }
    }

    /// The same with a register at another stored value.
    #[must_use]
    pub fn with(mut self, field: FieldId, value: u32) -> Self {
        self.settings.retain(|(known, _)| *known != field);
        self.settings.push((field, value));
        self
    }

    /// Every register's stored value at one step.
    #[must_use]
    pub fn registers(&self, step: u32) -> Registers {
        let mut registers = self.bench.registers().clone();
        for (field, value) in self.settings.iter().copied().chain([(self.over, step)]) {
            // What does not fit was refused where it came in.
            let _ = self.bench.adapter().set(&mut registers, field, u64::from(value));
        }
        registers
    }

    /// The step that the settings themselves stand for.
    #[must_use]
    pub fn own_step(&self) -> u32 {
        let set = self.settings.iter().find(|(field, _)| *field == self.over).map(|(_, value)| *value);
        set.unwrap_or_else(|| self.bench.adapter().get(self.bench.registers(), self.over))
    }

    /// One step as a setup.
    #[must_use]
    pub fn setup(&self, step: u32) -> ExperimentSetup {
        let mut settings = self.settings.clone();
        settings.push((self.over, step));
        ExperimentSetup::new(Arc::clone(&self.bench), &settings, self.conditions.clone())
    }

    /// The same on the board under suspicion.
    #[must_use]
    pub fn on_suspected(&self) -> Self {
        let conditions = Conditions { specimen: Specimen::Suspected, ..self.conditions.clone() };
        Self { conditions, ..self.clone() }
    }

    /// Whether two experiments look at the same thing.
    #[must_use]
    pub fn same_as(&self, other: &Self) -> bool {
        self.over == other.over
            && self.conditions == other.conditions
            && self.bench.adapter().name() == other.bench.adapter().name()
            && self.bench.name() == other.bench.name()
            && self.registers(0) == other.registers(0)
    }
}

/// The steps a sighting speaks of.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct StepRange(pub Range);

impl StepRange {
    /// One step.
    #[must_use]
    pub fn one(step: u32) -> Self {
        Self(Range::single(u64::from(step)))
    }

    /// The steps that are computed, in the order a [`Sighting`] keeps its setups.
    pub(crate) fn computed(self, seen: &Seen) -> Vec<u32> {
        let step = |value: u64| value as u32;
        match seen {
            Seen::Nothing { .. } => Vec::new(),
            Seen::Said(..) | Seen::SameAsSuspected | Seen::Measured(_) => {
                spread(self.0.iter().map(step).collect(), MOST_STEPS_COMPUTED)
            }
            Seen::CleanAgainAt(at) => {
                let before = self.0.iter().map(step).take_while(|value| value < at).collect();
                let mut steps = spread(before, MOST_STEPS_COMPUTED - 1);
                steps.push(*at);
                steps
            }
            Seen::FromStep(at, _) => {
                let before: Vec<u32> = self.0.iter().map(step).take_while(|value| value < at).collect();
                let after: Vec<u32> = self.0.iter().map(step).skip_while(|value| value < at).collect();
                // As many before as after, so that the middle is where it begins.
                let each = before.len().max(after.len()).min(MOST_STEPS_COMPUTED / 2);
                spread_to(&before, each).chain(spread_to(&after, each)).collect()
            }
            Seen::RepeatsEvery(period) => {
                let last = self.0.last().saturating_sub(u64::from(*period));
                let first = self.0.iter().take_while(|value| *value <= last).map(step).collect();
                let first = spread(first, MOST_STEPS_COMPUTED / 2);
                first.into_iter().flat_map(|step| [step, step + period]).collect()
            }
        }
    }
}

/// Just `count` of the items, evenly spread, the first and the last among them; few items come more than once.
fn spread_to(items: &[u32], count: usize) -> impl Iterator<Item = u32> {
    let last = items.len().saturating_sub(1);
    (0..count).filter_map(move |at| items.get(at * last / count.saturating_sub(1).max(1)).copied())
}

/// At most `most` of the items, evenly spread, the first and the last among them.
fn spread(items: Vec<u32>, most: usize) -> Vec<u32> {
    match items.len() {
        len if len <= most => items,
        len => (0..most).map(|at| items[at * (len - 1) / (most - 1)]).collect(),
    }
}
