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
use backporch_raster::Tap;
use rayon::prelude::*;

pub use draw::Draw;
pub use eye::Eye;
pub use outside::Odd;
pub use report::{Calibration, TrialReport};

use crate::diagnose::{Cause, Conclusion, Diagnosis, Prior, diagnose, signature_of};
use crate::faults::Faults;
use crate::memo::Memo;
use crate::probe::probes;
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
    /// Whether the first suspect is the fault, or predicts the same under every setting tried.
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

    fn trial<T: Tap + Clone>(&self, truth: &T, member: Option<(usize, u64)>, draw: &mut Draw) -> Trial {
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
            let hit = is_hit(&sightings, &diagnosis, truth, member);
            if !hit {
                needed = followed + 1;
            }
            let sure = diagnosis.suspects.first().is_some_and(|first| first.probability >= self.trials.sure);
            let probe = match sure || followed == self.trials.most_probes {
                true => None,
                false => probes(&sightings, self.faults, &diagnosis, 1, self.memo, &|| {}).pop(),
            };
            let Some(probe) = probe else {
                return self.told(&diagnosis, member, (hit, followed, needed));
            };
            let seen = eye.sees(&probe.candidate.scene().outcome(truth), draw);
            let _ = sightings.add(&probe.candidate.experiment, Steps::one(probe.candidate.step), seen);
            followed += 1;
        }
    }

    fn told(
        &self,
        diagnosis: &Diagnosis,
        member: Option<(usize, u64)>,
        (hit, probes, needed): (bool, usize, usize),
    ) -> Trial {
        let first = diagnosis.suspects.first();
        let family = member.map(|(family, _)| family);
        let of_first = first.and_then(|first| match first.best.cause {
            Cause::Fault { family, .. } => Some(family),
            _ => None,
        });
        let stated = first.map_or(0.0, |first| match first.best.signature {
            // What is claimed is that it is one of those that predict the same.
            Some(signature) => {
                let alike = diagnosis.members.iter().filter(|member| member.signature == Some(signature));
                alike.map(|member| member.probability).sum()
            }
            None => first.probability,
        });
        Trial {
            family,
            hit,
            right_family: family.is_some() && family == of_first,
            probes,
            needed,
            stated,
            conclusion: diagnosis.conclusion,
        }
    }
}

/// Whether the first suspect is the truth or cannot be told from it; outside
/// the families, whether it is said that none fits.
fn is_hit<T: Tap + Clone>(
    sightings: &Sightings,
    diagnosis: &Diagnosis,
    truth: &T,
    member: Option<(usize, u64)>,
) -> bool {
    let Some(first) = diagnosis.suspects.first() else {
        return false;
    };
    match (member, first.best.cause) {
        (None, cause) => cause == Cause::NoneOfThese,
        (Some((family, member)), cause) if cause == (Cause::Fault { family, member }) => true,
        (Some(_), _) => first.best.signature.is_some() && first.best.signature == signature_of(sightings, truth),
    }
}
