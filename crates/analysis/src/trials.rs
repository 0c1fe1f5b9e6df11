//! Blind trials: faults drawn at random, found again from what an observer says.
//!
//! A fault is drawn from the families by their priors, or made up outside of
//! them. A simulated [`observer`](Eye), vague and at times wrong, tells of a
//! sweep of the start address; the diagnosis names its best probe, the observer
//! looks there, and so on. What comes out is held against the truth:
//!
//! ```text
//! draw ─► fault ─► sweep ─► Eye ─► sightings ─► diagnose ─► probe ─┐
//!                                      ▲                          │
//!                                      └────────── Eye ◄──────────┘ up to some probes
//! ```
//!
//! Only faults that show in the sweep are drawn: nobody starts looking for a
//! fault that has never been seen.

mod draw;
mod eye;
mod outside;
mod report;

use std::sync::Arc;

use backporch_bench::Bench;
use backporch_raster::{Healthy, Tap};
use rayon::prelude::*;

pub use draw::Draw;
pub use eye::Eye;
pub use outside::Odd;
pub use report::{Calibration, TrialReport};

use crate::diagnose::{Cause, Conclusion, Diagnosis, Prior, diagnose, member_name};
use crate::faults::Faults;
use crate::likelihood::same_by_eye;
use crate::memo::Memo;
use crate::outcome::Outcome;
use crate::probe::probes;
use crate::scene::Scene;
use crate::sightings::{Experiment, Observer, Sightings, Steps};

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
    /// Probability of the first suspect from which on no probe is followed.
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
    /// The fault's family; `None` outside of them.
    pub family: Option<usize>,
    /// Whether the first suspect is the fault, or looks the same in every frame looked at.
    pub hit: bool,
    /// Whether the first suspect's family is the fault's.
    pub right_family: bool,
    /// Probes followed.
    pub probes: usize,
    /// Probes after which the first suspect was right and stayed so.
    pub needed: usize,
    /// Probability stated for the suspects that predict the same as the first.
    pub stated: f64,
    /// What followed.
    pub conclusion: Conclusion,
    /// The first suspect and its parameters, and the truth.
    pub named: (String, String),
}

/// Makes the trials; `done` is called after each, from any thread.
#[must_use]
pub fn run<F: Faults>(bench: &Arc<Bench>, faults: &F, trials: &Trials, done: &(dyn Fn() + Sync)) -> TrialReport {
    let memo = Memo::default();
    let made = (0..trials.inside + trials.outside).into_par_iter().map(|number| {
        let mut draw = Draw::new(trials.seed, number);
        let ground = Ground { bench, faults, trials, memo: &memo };
        let trial = match number < trials.inside {
            true => ground.inside(&mut draw),
            false => ground.outside(&mut draw),
        };
        done();
        trial
    });
    TrialReport::of(made.collect())
}

/// What is the same for all trials.
struct Ground<'a, F> {
    bench: &'a Arc<Bench>,
    faults: &'a F,
    trials: &'a Trials,
    /// The sweep is the same for all of them.
    memo: &'a Memo,
}

/// Draws after which a fault that shows nowhere is taken all the same.
const MOST_DRAWS: usize = 64;

impl<F: Faults> Ground<'_, F> {
    fn inside(&self, draw: &mut Draw) -> Trial {
        let kinds = self.faults.kinds();
        let weights: Vec<f64> = kinds.iter().map(|kind| kind.weight).collect();
        let mut drawn = None;
        for _ in 0..MOST_DRAWS {
            let family = draw.weighted(&weights);
            let member = draw.below(kinds[family].count);
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
            Some((family, member, tap)) => self.trial(&tap, Some((family, member)), draw),
            None => self.outside(draw),
        }
    }

    fn outside(&self, draw: &mut Draw) -> Trial {
        let mut odd = Odd::drawn(draw);
        for _ in 0..MOST_DRAWS {
            if self.shows(&odd) {
                break;
            }
            odd = Odd::drawn(draw);
        }
        self.trial(&odd, None, draw)
    }

    fn sweep(&self) -> (Experiment, std::ops::Range<u32>) {
        let experiment = Experiment::on(Arc::clone(self.bench));
        let from = experiment.own_step();
        (experiment, from..from + self.trials.steps)
    }

    fn shows<T: Tap + Clone>(&self, tap: &T) -> bool {
        let (experiment, mut steps) = self.sweep();
        steps.any(|step| !experiment.scene(step).outcome(tap).is_clean())
    }

    fn trial<T: Tap + Clone + std::fmt::Debug>(
        &self,
        truth: &T,
        member: Option<(usize, u64)>,
        draw: &mut Draw,
    ) -> Trial {
        let eye = Eye { errors: self.trials.observer.errors() };
        let mut sightings = Sightings::new(Arc::clone(self.bench), self.trials.observer);
        let (experiment, steps) = self.sweep();
        for step in steps {
            let seen = eye.sees(&experiment.scene(step).outcome(truth), draw);
            // What an eye says of a frame is possible in it.
            let _ = sightings.add(&experiment, Steps::one(step), seen);
        }
        let mut followed = 0;
        let mut needed = 0;
        loop {
            let diagnosis = diagnose(&sightings, self.faults, &Prior::default(), self.memo, &|_| {});
            let first = diagnosis.suspects.first().map_or(Cause::NoneOfThese, |first| first.best.cause);
            let named = self.shown(&sightings, first);
            let hit = match (member, &named) {
                (None, _) => first == Cause::NoneOfThese,
                (Some(_), None) => false,
                (Some((family, member)), Some(named)) => {
                    let scenes = sightings.scenes().iter();
                    let true_ones = scenes.map(|scene| Arc::new(scene.outcome(truth))).collect();
                    first == Cause::Fault { family, member } || alike(named, &true_ones)
                }
            };
            if !hit {
                needed = followed + 1;
            }
            let sure = diagnosis.suspects.first().is_some_and(|first| first.probability >= self.trials.sure);
            let probe = match sure || followed == self.trials.most_probes {
                true => None,
                false => probes(&sightings, self.faults, &diagnosis, 1, self.memo, &|| {}).pop(),
            };
            let Some(probe) = probe else {
                let truth = member.map_or(format!("{truth:?}"), |(family, member)| {
                    member_name(self.faults, Cause::Fault { family, member })
                });
                let stated = self.stated(&sightings, &diagnosis, named.as_ref());
                return told(self.faults, &diagnosis, member, (hit, followed, needed), stated, truth);
            };
            let seen = eye.checks(&probe.candidate.scene().outcome(truth), draw);
            let _ = sightings.add(&probe.candidate.experiment, Steps::one(probe.candidate.step), seen);
            followed += 1;
        }
    }

    /// What is claimed is that it is the first suspect, or one that cannot be told from it.
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

/// Members less likely than that are not asked whether they can be told from the first suspect.
const LEAST_COUNTED: f64 = 1e-3;

fn told<F: Faults>(
    faults: &F,
    diagnosis: &Diagnosis,
    member: Option<(usize, u64)>,
    (hit, probes, needed): (bool, usize, usize),
    stated: f64,
    truth: String,
) -> Trial {
    let first = diagnosis.suspects.first();
    let family = member.map(|(family, _)| family);
    let of_first = first.and_then(|first| match first.best.cause {
        Cause::Fault { family, .. } => Some(family),
        _ => None,
    });
    Trial {
        family,
        hit,
        right_family: family.is_some() && family == of_first,
        probes,
        needed,
        stated,
        conclusion: diagnosis.conclusion,
        named: (first.map_or(String::new(), |first| member_name(faults, first.best.cause)), truth),
    }
}

/// What every scene looked at shows under one cause.
type Shown = Vec<Arc<Outcome>>;

impl<F: Faults> Ground<'_, F> {
    /// What the scenes show under a cause; `None` for one that predicts nothing.
    fn shown(&self, sightings: &Sightings, cause: Cause) -> Option<Shown> {
        let scenes = sightings.scenes().iter();
        match cause {
            Cause::NoneOfThese => None,
            Cause::Healthy | Cause::Routine => Some(scenes.map(|scene| Arc::new(scene.outcome(&Healthy))).collect()),
            Cause::Fault { family, member } => {
                let tap = self.faults.member(family, member)?.tap;
                let outcome =
                    |scene: &Arc<Scene>| self.memo.outcome((family, member, scene.key()), || scene.outcome(&tap));
                Some(scenes.map(outcome).collect())
            }
        }
    }
}

/// Whether nobody tells them apart by eye in any of the frames looked at.
fn alike(one: &Shown, other: &Shown) -> bool {
    one.iter().zip(other).all(|(one, other)| same_by_eye(one, other))
}
