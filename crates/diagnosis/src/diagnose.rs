//! Ranking the suspects: every member of every family, a board as its class is built, a routine with hazards, and none of these.
//!
//! Members are assessed in blocks of a fixed size, in parallel inside a block and put together in order, so the answer
//! is the same on any number of threads. Families that only change addresses come first: they need no frame drawn. A
//! member that can no longer come within `PRUNED_LOG_ODDS` of the best one found in the blocks before is given up; what
//! it could have weighed is below a millionth of the answer.

use std::sync::Arc;

use backporch_analysis::PredictionCache;
use backporch_evidence::{Note, Sightings};
use backporch_raster::{Intercept, Stages, Tap};
use rayon::prelude::*;

use crate::assess::{Assessment, Assessor, Held};
use crate::cause::Cause;
use crate::check::{CheckedSuspect, MOST_CHECKED, ModelCheck};
use crate::diagnosis::Diagnosis;
use crate::families::FaultFamilies;
use crate::posterior::{Evidence, Posterior};
use crate::prior::Prior;
use crate::registers::RegisterEvidence;

/// Members assessed before the best one is looked up again.
const BLOCK: usize = 32;
/// Probabilities of what was seen are told apart down to this one.
const LEAST_CHECKED: f64 = 1e-6;
/// Natural logarithm of the odds at which a member is given up.
const PRUNED_LOG_ODDS: f64 = 25.0;

/// Ranks the faults, and what else may be the cause, by the sightings.
///
/// `cache` keeps the predictions for the next time, when more has been seen.
/// `done` is called with the number of members assessed since the last call, from any thread.
#[must_use]
pub fn diagnose<F: FaultFamilies>(
    sightings: &Sightings,
    faults: &F,
    prior: &Prior,
    cache: &PredictionCache,
    done: &(dyn Fn(u64) + Sync),
) -> Diagnosis {
    let (mut notes, counting) = sightings.weighed();
    let design = sightings.bench().layers().by_design();
    let registers = RegisterEvidence::of(sightings);
    let surveyed = registers.as_ref().map_or(0.0, |registers| registers.log(&design));
    let otherwise = registers.as_ref().map_or(Vec::new(), |registers| registers.otherwise(&design));
    let survey_tells = !otherwise.is_empty();
    notes.retain(|note| !survey_tells || *note != Note::NothingSeen);
    notes.extend(otherwise.into_iter().map(|(mode, index)| Note::Register { mode, index }));
    let assessor = Assessor::new(sightings, counting);
    let as_built = prior.as_built(!faults.design().is_empty());
    let by_design = assessor.by_design().and_survey(surveyed);
    let evidence = Evidence {
        counts: assessor.counting() > 0 || survey_tells,
        shows_design: !faults.design().is_empty() && assessor.shows_design(),
    };
    // Where the design is seen it needs no fault besides; elsewhere whoever came has seen something that was not.
    let design_by_eye = by_design.by_eye.filter(|_| evidence.shows_design);
    let mut posterior = Posterior::new(faults.families().len(), prior.unnoticed.ln(), design_by_eye);
    posterior.add(Cause::ByDesign, as_built.ln(), &by_design);
    posterior.add(Cause::Routine, prior.routine.ln(), &assessor.routine().and_survey(surveyed));
    let families = faults.families();
    let in_order = cheapest_first(faults).into_iter();
    let all = in_order.flat_map(|family| (0..families[family].count).map(move |member| (family, member)));
    let mut all = all.peekable();
    while all.peek().is_some() {
        let block: Vec<(usize, u64)> = all.by_ref().take(BLOCK).collect();
        let floor = posterior.best() - PRUNED_LOG_ODDS;
        let assessed: Vec<_> = block
            .par_iter()
            .map(|&(family, member)| {
                let weight = prior.of_member(as_built, families, family).ln();
                let found = faults.member(family, member);
                let assessed = found.map(|found| {
                    let log = registers.as_ref().map_or(0.0, |registers| registers.log(&found.tap));
                    let seen = assessor.by(floor - weight - log, |setup| {
                        cache.signature((family, member, setup.key()), || setup.signature(&found.tap))
                    });
                    seen.and_survey(log)
                });
                done(1);
                (weight, assessed)
            })
            .collect();
        for ((family, member), (weight, assessed)) in block.into_iter().zip(assessed) {
            if let Some(assessed) = assessed {
                posterior.add(Cause::Fault { family, member }, weight, &assessed);
            }
        }
    }
    let unknown = registers.as_ref().map_or(0.0, |registers| registers.unmodelled(&design));
    posterior.add_none_of_these(prior.none_of_these.ln(), assessor.unmodelled().and_survey(unknown));
    let check = checked(&posterior, &assessor, faults, cache);
    if evidence.counts && check.fails() {
        posterior.doubt(ModelCheck::LEAST / check.probability().max(LEAST_CHECKED));
    }
    posterior.diagnosis(faults, evidence, check, notes)
}

/// Asks the best suspects whether they could have led to what was seen.
fn checked<F: FaultFamilies>(
    posterior: &Posterior,
    assessor: &Assessor,
    faults: &F,
    cache: &PredictionCache,
) -> ModelCheck {
    let ask = |(cause, posterior): (Cause, f64)| {
        let held = match cause {
            Cause::Fault { family, member } => {
                let found = faults.member(family, member)?;
                assessor.held(|setup| cache.signature((family, member, setup.key()), || setup.signature(&found.tap)))
            }
            _ => assessor.held(|setup| Arc::new(setup.by_design().clone())),
        };
        let held: Vec<Held> = match cause {
            // While it runs, a routine at the wrong moment may show anything.
            Cause::Routine => held.into_iter().filter(|one| !assessor.while_it_runs(one.sighting)).collect(),
            _ => held,
        };
        Some(CheckedSuspect::new(cause.full_name(faults), posterior, &held, assessor.sightings()))
    };
    let suspects = posterior.leaders(MOST_CHECKED).into_iter().filter_map(ask).collect();
    ModelCheck { suspects, pattern: assessor.pattern() }
}

/// Positions of the families, those first whose members need no frame drawn; else in their own order.
fn cheapest_first<F: FaultFamilies>(faults: &F) -> Vec<usize> {
    let is_drawn = |family: &usize| {
        let first = faults.member(*family, 0);
        first.is_none_or(|first| !Stages::ADDRESS.contains(first.tap.stages()))
    };
    let mut families: Vec<usize> = (0..faults.families().len()).collect();
    families.sort_by_key(is_drawn);
    families
}

/// Every member held against every sighting, none given up, in the order of the families.
#[must_use]
pub fn likelihoods<F: FaultFamilies>(sightings: &Sightings, faults: &F) -> Vec<(Cause, Assessment)> {
    let (_, counting) = sightings.weighed();
    let assessor = Assessor::new(sightings, counting);
    let families = faults.families();
    let all: Vec<(usize, u64)> = (0..families.len())
        .flat_map(|family| (0..families[family].count).map(move |member| (family, member)))
        .collect();
    let assessed = all.into_par_iter().filter_map(|(family, member)| {
        let found = faults.member(family, member)?;
        Some((Cause::Fault { family, member }, assessor.tap(&found.tap)))
    });
    assessed.collect()
}

/// A fault that may be no member of any family, held against every sighting.
#[must_use]
pub fn assess<T: Tap + Clone>(sightings: &Sightings, tap: &T) -> Assessment {
    let (_, counting) = sightings.weighed();
    Assessor::new(sightings, counting).tap(tap)
}

/// Number of members that [`diagnose`] goes through.
#[must_use]
pub fn members<F: FaultFamilies>(faults: &F) -> u64 {
    faults.families().iter().map(|family| family.count).sum()
}
