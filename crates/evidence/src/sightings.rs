//! Sightings: what was seen in the steps of experiments on real hardware.

use std::sync::Arc;

use backporch_analysis::ExperimentSetup;
use backporch_bench::Bench;

use crate::check::{self, SightingError};
use crate::experiment::{Experiment, Observer, StepRange};
use crate::statement::{Seen, Share, Statement};
use crate::survey::Survey;

/// Most sightings that are taken.
pub const MOST_SIGHTINGS: usize = 4096;

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
    /// Positions of its setups, in the order of the steps. Of what looks the
    /// same, pairs: a step, and the one, or the other specimen, that should.
    pub setups: Vec<usize>,
}

/// Experiments and what was seen in them.
#[derive(Clone, Debug)]
pub struct Sightings {
    pub(crate) title: String,
    bench: Arc<Bench>,
    observer: Observer,
    experiments: Vec<Experiment>,
    sightings: Vec<Sighting>,
    setups: Vec<Arc<ExperimentSetup>>,
    places: Vec<(usize, u32)>,
    survey: Option<Arc<Survey>>,
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
            setups: Vec::new(),
            places: Vec::new(),
            survey: None,
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

    /// The same with a survey of the machine that the board under suspicion is in, in the place of any other.
    ///
    /// # Errors
    /// Where it was made for another class of boards.
    pub fn with_survey(self, survey: Survey) -> Result<Self, SightingError> {
        let suspected = self.bench.adapter().name();
        if survey.board != suspected {
            return Err(SightingError::OtherBoard { found: survey.board, suspected: suspected.to_string() });
        }
        Ok(Self { survey: Some(Arc::new(survey)), ..self })
    }

    /// What a survey of the machine counted, if there is one.
    #[must_use]
    pub fn survey(&self) -> Option<&Survey> {
        self.survey.as_deref()
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
    pub fn setups(&self) -> &[Arc<ExperimentSetup>] {
        &self.setups
    }

    /// Adds what was seen at the experiment's steps, and says what is odd about it.
    ///
    /// # Errors
    /// Where a step does not fit the register, or what was seen cannot be:
    /// a line below the frame, a pixel beside it.
    pub fn add(&mut self, experiment: &Experiment, steps: StepRange, seen: Seen) -> Result<(), SightingError> {
        check::steps(experiment, steps)?;
        check::possible(experiment, steps, &seen)?;
        check::same_class(&self.bench, experiment, &seen)?;
        if self.sightings.len() >= MOST_SIGHTINGS {
            return Err(SightingError::TooMany { most: MOST_SIGHTINGS });
        }
        let position = self.experiment(experiment);
        let looked_at = steps.computed(&seen);
        let setups = if seen == Seen::SameAsSuspected {
            let suspected = self.experiment(&experiment.on_suspected());
            looked_at.into_iter().flat_map(|step| [self.setup(suspected, step), self.setup(position, step)]).collect()
        } else {
            looked_at.into_iter().map(|step| self.setup(position, step)).collect()
        };
        let ends = (steps.0.from() as u32, steps.0.last() as u32);
        self.sightings.push(Sighting { experiment: position, steps: ends, count: steps.0.len(), seen, setups });
        Ok(())
    }

    /// The same with every statement a sighting of its own, as if each had been said by itself.
    #[must_use]
    pub fn apart(&self) -> Self {
        let apart = |one: &Sighting| match &one.seen {
            Seen::Said(Share::Each, statements) => {
                let alone = |statement: &Statement| Seen::Said(Share::Each, vec![statement.clone()]);
                statements.iter().map(|statement| Sighting { seen: alone(statement), ..one.clone() }).collect()
            }
            _ => vec![one.clone()],
        };
        Self { sightings: self.sightings.iter().flat_map(apart).collect(), ..self.clone() }
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

    fn experiment(&mut self, experiment: &Experiment) -> usize {
        let known = self.experiments.iter().position(|known| known.same_as(experiment));
        known.unwrap_or_else(|| {
            self.experiments.push(experiment.clone());
            self.experiments.len() - 1
        })
    }

    fn setup(&mut self, experiment: usize, step: u32) -> usize {
        let known = self.places.iter().position(|place| *place == (experiment, step));
        known.unwrap_or_else(|| {
            self.places.push((experiment, step));
            self.setups.push(Arc::new(self.experiments[experiment].setup(step)));
            self.setups.len() - 1
        })
    }
}
