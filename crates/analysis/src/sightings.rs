//! Sightings: experiments made on real hardware, and what was seen.
//!
//! An *experiment* is a setting of registers on a board and a register that is
//! stepped; a *sighting* is what was seen at one step or over a range of them,
//! in words as vague or as exact as one can be. Sightings come from a file
//! ([`Sightings::from_source`]) or are added one by one, as after a probe.
//!
//! ```text
//! *.sightings.ron ─► file ─► check ─► Sightings ─┬─► scenes: the settings looked at
//!    "every fourth line" ─► phrase ─► Seen ──────┘
//! ```

mod built_in;
mod check;
mod conflict;
mod file;
mod phrase;
pub(crate) mod statement;

use std::sync::Arc;

use backporch_adapter::{FieldId, Registers};
use backporch_bench::Bench;

pub use built_in::BUILT_IN_SIGHTINGS;
pub use check::SightingError;
pub use conflict::Note;
pub use file::{ExperimentFile, SightingFile, SightingsFile};
pub use statement::{Seen, Share, Statement};

use crate::scene::{Scene, Staging};

/// Frames of a range that are computed at most; of longer ones evenly spread steps are.
pub const MOST_FRAMES_A_SIGHTING: usize = 64;
/// Sightings a file may hold.
pub const MOST_SIGHTINGS: usize = 4096;

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
    pub staging: Staging,
}

impl Experiment {
    /// The bench as it is, its start address stepped.
    #[must_use]
    pub fn on(bench: Arc<Bench>) -> Self {
        let over = bench.adapter().start_address();
        Self { title: String::new(), bench, settings: Vec::new(), over, staging: Staging::default() }
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

    /// One step as a scene.
    #[must_use]
    pub fn scene(&self, step: u32) -> Scene {
        let mut settings = self.settings.clone();
        settings.push((self.over, step));
        Scene::new(Arc::clone(&self.bench), &settings, self.staging.clone())
    }

    /// Whether two experiments look at the same thing.
    #[must_use]
    pub fn same_as(&self, other: &Self) -> bool {
        self.over == other.over
            && self.staging == other.staging
            && self.bench.adapter().name() == other.bench.adapter().name()
            && self.registers(0) == other.registers(0)
    }
}

/// What was seen, and in which frames.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Sighting {
    /// Position of its experiment.
    pub experiment: usize,
    /// First and last step it speaks of.
    pub steps: (u32, u32),
    /// Number of steps it speaks of.
    pub count: u64,
    /// What was seen.
    pub seen: Seen,
    /// Positions of its scenes, in the order of the steps. Of what repeats,
    /// pairs: a step, and the one that should look the same.
    pub scenes: Vec<usize>,
}

/// Experiments and what was seen in them.
#[derive(Clone, Debug)]
pub struct Sightings {
    title: String,
    bench: Arc<Bench>,
    observer: Observer,
    experiments: Vec<Experiment>,
    sightings: Vec<Sighting>,
    scenes: Vec<Arc<Scene>>,
    places: Vec<(usize, u32)>,
}

impl Sightings {
    /// No sightings yet, of faults on this bench's board.
    #[must_use]
    pub fn new(bench: Arc<Bench>, observer: Observer) -> Self {
        let title = String::new();
        Self {
            title,
            bench,
            observer,
            experiments: Vec::new(),
            sightings: Vec::new(),
            scenes: Vec::new(),
            places: Vec::new(),
        }
    }

    /// What they are of, for people.
    #[must_use]
    pub fn title(&self) -> &str {
        &self.title
    }

    /// The bench with the board under suspicion.
    #[must_use]
    pub fn bench(&self) -> &Arc<Bench> {
        &self.bench
    }

    /// Who saw them.
    #[must_use]
    pub fn observer(&self) -> Observer {
        self.observer
    }

    /// The same, seen by another observer.
    #[must_use]
    pub fn seen_by(self, observer: Observer) -> Self {
        Self { observer, ..self }
    }

    /// The experiments.
    #[must_use]
    pub fn experiments(&self) -> &[Experiment] {
        &self.experiments
    }

    /// The sightings, in the order in which they came.
    #[must_use]
    pub fn sightings(&self) -> &[Sighting] {
        &self.sightings
    }

    /// Every setting looked at, once.
    #[must_use]
    pub fn scenes(&self) -> &[Arc<Scene>] {
        &self.scenes
    }

    /// Adds what was seen at the experiment's steps, and says what is odd about it.
    ///
    /// # Errors
    /// Where a step does not fit the register, or what was seen cannot be:
    /// a line below the frame, a pixel beside it.
    pub fn add(&mut self, experiment: &Experiment, steps: Steps, seen: Seen) -> Result<(), SightingError> {
        check::steps(experiment, steps)?;
        check::possible(experiment, steps, &seen)?;
        if self.sightings.len() >= MOST_SIGHTINGS {
            return Err(SightingError::TooMany);
        }
        let position = self.experiment(experiment);
        let looked_at = steps.computed(&seen);
        let scenes = looked_at.into_iter().map(|step| self.scene(position, step)).collect();
        let ends = (steps.0.from() as u32, steps.0.last() as u32);
        self.sightings.push(Sighting { experiment: position, steps: ends, count: steps.0.len(), seen, scenes });
        Ok(())
    }

    /// Where something was seen: `39 characters, start_address 1 to 31`.
    #[must_use]
    pub fn place(&self, sighting: &Sighting) -> String {
        let experiment = &self.experiments[sighting.experiment];
        let register = &experiment.bench.adapter().field_info(experiment.over).name;
        let title = match experiment.title.as_str() {
            "" => String::new(),
            title => format!("{title}, "),
        };
        let (from, last) = sighting.steps;
        let steps = if from == last { format!("{from}") } else { format!("{from} to {last}") };
        format!("{title}{register} {steps}")
    }

    /// What is odd about the sightings, and the positions of those that count.
    #[must_use]
    pub fn weighed(&self) -> (Vec<Note>, Vec<usize>) {
        conflict::weigh(self)
    }

    fn experiment(&mut self, experiment: &Experiment) -> usize {
        let known = self.experiments.iter().position(|known| known.same_as(experiment));
        known.unwrap_or_else(|| {
            self.experiments.push(experiment.clone());
            self.experiments.len() - 1
        })
    }

    fn scene(&mut self, experiment: usize, step: u32) -> usize {
        let known = self.places.iter().position(|place| *place == (experiment, step));
        known.unwrap_or_else(|| {
            self.places.push((experiment, step));
            self.scenes.push(Arc::new(self.experiments[experiment].scene(step)));
            self.scenes.len() - 1
        })
    }
}

/// The steps a sighting speaks of.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Steps(pub backporch_input::Range);

impl Steps {
    /// One step.
    #[must_use]
    pub fn one(step: u32) -> Self {
        Self(backporch_input::Range::single(u64::from(step)))
    }

    /// The steps that are computed, in the order a [`Sighting`] keeps its scenes.
    fn computed(self, seen: &Seen) -> Vec<u32> {
        let step = |value: u64| value as u32;
        match seen {
            Seen::Nothing { .. } => Vec::new(),
            Seen::Said(..) => spread(self.0.iter().map(step).collect(), MOST_FRAMES_A_SIGHTING),
            Seen::CleanAgainAt(at) => {
                let before = self.0.iter().map(step).take_while(|value| value < at).collect();
                let mut steps = spread(before, MOST_FRAMES_A_SIGHTING - 1);
                steps.push(*at);
                steps
            }
            Seen::RepeatsEvery(period) => {
                let last = self.0.last().saturating_sub(u64::from(*period));
                let first = self.0.iter().take_while(|value| *value <= last).map(step).collect();
                let first = spread(first, MOST_FRAMES_A_SIGHTING / 2);
                first.into_iter().flat_map(|step| [step, step + period]).collect()
            }
        }
    }
}

/// At most `most` of the items, evenly spread, the first and the last among them.
fn spread(items: Vec<u32>, most: usize) -> Vec<u32> {
    match items.len() {
        len if len <= most => items,
        len => (0..most).map(|at| items[at * (len - 1) / (most - 1)]).collect(),
    }
}
