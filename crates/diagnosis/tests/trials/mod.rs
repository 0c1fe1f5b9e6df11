//! Blind trials: faults drawn at random, found again from what an observer says.
//!
//! A fault is drawn from the families by their priors, or made up outside of
//! them. A simulated [`observer`](SimulatedObserver), vague and at times wrong, describes a
//! sweep of the start address; the diagnosis names its best probe, the observer
//! looks there, and so on. What comes out is held against the truth:
//!
//! ```text
//! draw ─► fault ─► sweep ─► SimulatedObserver ─► sightings ─► diagnose ─► probe ─┐
//!                                                  ▲                             │
//!                                                  └────── SimulatedObserver ◄───┘ up to some probes
//! ```
//!
//! Only faults that show in the sweep are drawn: no one starts looking for a
//! fault that has never been seen.

mod foreign;
mod observer;
mod random;
pub mod report;

use std::sync::Arc;

use backporch_analysis::{ExperimentSetup, FrameSignature, PredictionCache};
use backporch_bench::Bench;
use backporch_diagnosis::{Cause, Conclusion, Diagnosis, FaultFamilies, Prior, diagnose, probes};
use backporch_evidence::likelihood::same_by_eye;
use backporch_evidence::{Experiment, Observer, Sightings, StepRange};
use backporch_raster::Tap;
use rayon::prelude::*;

use foreign::ForeignFault;
use observer::{Manner, SimulatedObserver};
use random::Random;
use report::TrialReport;

/// How blind trials are made.
#[derive(Clone, Copy, Debug)]
pub struct Trials {
    /// Faults drawn from the families.
    pub inside: u64,
    /// Faults made up outside of them.
    pub outside: u64,
    /// Seed of everything drawn.
    pub seed: u64,
    /// Who looks.
    pub observer: Observer,
    /// Start addresses swept, from the bench's own on.
    pub steps: u32,
    /// Probes followed at most.
    pub most_probes: usize,
    /// Probability of the first suspect, and of what cannot be distinguished from it, from which on no probe is followed.
    pub sure: f64,
}

impl Default for Trials {
    fn default() -> Self {
        let observer = Observer::default();
        Self { inside: 200, outside: 50, seed: 1, observer, steps: 40, most_probes: 4, sure: 0.95 }
    }
}

/// One trial and what came out of it.
#[derive(Clone, Debug, PartialEq)]
pub struct Trial {
    /// How the observer looked.
    pub manner: Manner,
    /// The fault's family; `None` outside of them.
    pub family: Option<usize>,
    /// Whether the first suspect's family is the fault's.
    pub right_family: bool,
    /// What was stated after the sweep, and after each probe that was followed; at least one.
    pub statements: Vec<Stated>,
    /// What followed.
    pub conclusion: Conclusion,
    /// The first suspect and its parameters.
    pub named: String,
    /// The fault that was drawn.
    pub truth: String,
}

/// What a diagnosis stated, and whether it was so.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stated {
    /// Probability of the first suspect, and of what cannot be distinguished from it, 0 to 1.
    pub probability: f64,
    /// Whether the first suspect is the fault, or looks the same in every frame looked at.
    pub hit: bool,
}

impl Trial {
    /// What was stated in the end.
    #[must_use]
    pub fn last(&self) -> Stated {
        self.statements.last().copied().unwrap_or(Stated { probability: 0.0, hit: false })
    }

    /// Whether the first suspect is the fault in the end, or looks the same in every frame looked at.
    #[must_use]
    pub fn hit(&self) -> bool {
        self.last().hit
    }

    /// Probes followed.
    #[must_use]
    pub fn probes(&self) -> usize {
        self.statements.len().saturating_sub(1)
    }

    /// Probes after which the first suspect was right and stayed so.
    #[must_use]
    pub fn needed(&self) -> usize {
        self.statements.iter().rposition(|stated| !stated.hit).map_or(0, |miss| miss + 1)
    }
}

/// Makes the trials; `done` is called after each, from any thread.
#[must_use]
pub fn run<F: FaultFamilies>(bench: &Arc<Bench>, faults: &F, trials: &Trials, done: &(dyn Fn() + Sync)) -> TrialReport {
    let cache = PredictionCache::default();
    let made = (0..trials.inside + trials.outside).into_par_iter().map(|number| {
        let mut random = Random::new(trials.seed, number);
        let manner = Manner::ALL[number as usize % Manner::ALL.len()];
        let setting = Setting { bench, faults, trials, cache: &cache, manner };
        let trial = if number < trials.inside { setting.inside(&mut random) } else { setting.outside(&mut random) };
        done();
        trial
    });
    TrialReport::of(made.collect())
}

/// What is the same for all trials.
struct Setting<'a, F> {
    bench: &'a Arc<Bench>,
    faults: &'a F,
    trials: &'a Trials,
    /// The sweep is the same for all of them.
    cache: &'a PredictionCache,
    manner: Manner,
}

/// Draws after which a fault that shows nowhere is taken all the same.
const MOST_DRAWS: usize = 64;

impl<F: FaultFamilies> Setting<'_, F> {
    fn inside(&self, random: &mut Random) -> Trial {
        let kinds = self.faults.families();
        let weights: Vec<f64> = kinds.iter().map(|kind| kind.weight).collect();
        let mut drawn = None;
        for _ in 0..MOST_DRAWS {
            let family = random.weighted(&weights);
            let member = random.below(kinds[family].count);
            let Some(found) = self.faults.member(family, member) else {
                continue;
            };
            let shows = self.shows(&found.tap);
            drawn = Some((family, member, found.tap));
            if shows {
                break;
            }
        }
        match drawn {
            Some((family, member, tap)) => self.trial(&tap, Some((family, member)), random),
            None => self.outside(random),
        }
    }

    fn outside(&self, random: &mut Random) -> Trial {
        let mut foreign = ForeignFault::drawn(random);
        for _ in 0..MOST_DRAWS {
            if self.shows(&foreign) {
                break;
            }
            foreign = ForeignFault::drawn(random);
        }
        self.trial(&foreign, None, random)
    }

    fn sweep(&self) -> (Experiment, std::ops::Range<u32>) {
        let experiment = Experiment::on(Arc::clone(self.bench));
        let from = experiment.own_step();
        (experiment, from..from + self.trials.steps)
    }

    fn shows<T: Tap + Clone>(&self, tap: &T) -> bool {
        let (experiment, mut steps) = self.sweep();
        steps.any(|step| !experiment.setup(step).signature(tap).is_clean())
    }

    fn trial<T: Tap + Clone + std::fmt::Debug>(
        &self,
        truth: &T,
        member: Option<(usize, u64)>,
        random: &mut Random,
    ) -> Trial {
        let observer = SimulatedObserver { errors: self.trials.observer.errors(), manner: self.manner };
        let mut sightings = Sightings::new(Arc::clone(self.bench), self.trials.observer);
        let (experiment, steps) = self.sweep();
        for step in steps {
            let seen = observer.sees(&experiment.setup(step).signature(truth), random);
            // What an observer says of a frame is possible in it.
            let _ = sightings.add(&experiment, StepRange::one(step), seen);
        }
        let mut statements = Vec::new();
        loop {
            let diagnosis = diagnose(&sightings, self.faults, &Prior::default(), self.cache, &|_| {});
            let first = diagnosis.suspects.first().map_or(Cause::NoneOfThese, |first| first.best.cause);
            let named = self.shown(&sightings, first);
            let hit = match (member, &named) {
                (None, _) => first == Cause::NoneOfThese,
                (Some(_), None) => false,
                (Some((family, member)), Some(named)) => {
                    let setups = sightings.setups().iter();
                    let true_ones = setups.map(|setup| Arc::new(setup.signature(truth))).collect();
                    first == Cause::Fault { family, member } || alike(named, &true_ones)
                }
            };
            let stated = self.stated(&sightings, &diagnosis, named.as_ref());
            statements.push(Stated { probability: stated, hit });
            let sure = stated >= self.trials.sure;
            let probe = if sure || statements.len() > self.trials.most_probes {
                None
            } else {
                probes(&sightings, self.faults, &diagnosis, 1, self.cache, &|| {}).pop()
            };
            let Some(probe) = probe else {
                let truth = member.map_or(format!("{truth:?}"), |(family, member)| {
                    Cause::Fault { family, member }.full_name(self.faults)
                });
                let first = diagnosis.suspects.first().map(|first| first.best.cause);
                let family = member.map(|(family, _)| family);
                let right_family = matches!(first, Some(Cause::Fault { family: named, .. }) if Some(named) == family);
                return Trial {
                    manner: self.manner,
                    family,
                    right_family,
                    statements,
                    conclusion: diagnosis.conclusion,
                    named: first.map_or(String::new(), |first| first.full_name(self.faults)),
                    truth,
                };
            };
            let seen = observer.checks(&probe.candidate.setup().signature(truth), random);
            let _ = sightings.add(&probe.candidate.experiment, StepRange::one(probe.candidate.step), seen);
        }
    }

    /// What is claimed is that it is the first suspect, or one that cannot be distinguished from it.
    fn stated(&self, sightings: &Sightings, diagnosis: &Diagnosis, named: Option<&Shown>) -> f64 {
        let Some(named) = named else {
            return diagnosis.suspects.first().map_or(0.0, |first| first.probability);
        };
        let members = diagnosis.members.iter().filter(|member| member.probability >= LEAST_COUNTED);
        let alike =
            members.filter(|member| self.shown(sightings, member.cause).is_some_and(|shown| alike(named, &shown)));
        alike.map(|member| member.probability).sum()
    }
}

/// Members less likely than that are not asked whether they can be distinguished from the first suspect.
const LEAST_COUNTED: f64 = 1e-3;

/// What every set-up looked at shows under one cause.
type Shown = Vec<Arc<FrameSignature>>;

impl<F: FaultFamilies> Setting<'_, F> {
    /// What the set-ups show under a cause; `None` for one that predicts nothing.
    fn shown(&self, sightings: &Sightings, cause: Cause) -> Option<Shown> {
        let setups = sightings.setups().iter();
        match cause {
            Cause::NoneOfThese => None,
            Cause::ByDesign | Cause::Routine => Some(setups.map(|setup| Arc::new(setup.by_design().clone())).collect()),
            Cause::Fault { family, member } => {
                let tap = self.faults.member(family, member)?.tap;
                let signature = |setup: &Arc<ExperimentSetup>| {
                    self.cache.signature((family, member, setup.key()), || setup.signature(&tap))
                };
                Some(setups.map(signature).collect())
            }
        }
    }
}

/// Whether they cannot be distinguished by eye in any of the frames looked at.
fn alike(one: &Shown, other: &Shown) -> bool {
    one.iter().zip(other).all(|(one, other)| same_by_eye(one, other))
}
