//! Probes: the next experiments worth making on real hardware.
//!
//! A probe is one setting to look at. What the suspects left are predicted to
//! show there divides them; the more evenly, the more one look teaches:
//!
//! ```text
//! members left ─► signature of a candidate ─► impression ─► which suspects it separates
//!      probability ────────────────────────────────────► expected information, bits
//! ```
//!
//! The observer is the same as in the diagnosis, vague and at times wrong, so
//! two faults that only a measurement separates gain nothing here. Candidates
//! are ranked by information over cost: a register is cheap to change, another
//! board is dear.

mod candidate;
mod information;

use std::collections::BTreeSet;

use backporch_analysis::{ExperimentSetup, PredictionCache, Specimen, WhichFrame, WriteMoment};
use backporch_evidence::{Impression, Sightings};
use backporch_raster::Tap;
use rayon::prelude::*;

use candidate::candidates;
pub use candidate::{Change, ProbeCandidate};
use information::{Expectation, expected_bits};

use crate::cause::Cause;
use crate::diagnosis::Diagnosis;
use crate::families::FaultFamilies;

/// Members that are likely what they predict, at most.
const MOST_CAUSES: usize = 64;
/// The likeliest members are likely until they have this much of the probability.
const CAUSES_SHARE: f64 = 0.998;
/// A probe that teaches less is not worth the way to the machine, in bits.
pub const LEAST_BITS: f64 = 0.02;
/// From this on a probe tests the leading suspect: its denial would show more often than not.
pub const LEAST_DENIAL: f64 = 0.5;
/// Outcomes this likely count where they are to be told apart.
const LIKELY_OUTCOME: f64 = 0.05;

/// One thing that may be seen, and for which suspects it would speak.
#[derive(Clone, Debug, PartialEq)]
pub struct Prediction {
    /// What one would see.
    pub sees: Impression,
    /// How likely that is, 0 to 1.
    pub probability: f64,
    /// The suspects that predict it, the likeliest first.
    pub suspects: Vec<String>,
}

/// One experiment worth making.
#[derive(Clone, Debug)]
pub struct Probe {
    /// What to do.
    pub candidate: ProbeCandidate,
    /// What it teaches on average, in bits.
    pub bits: f64,
    /// How likely it shows if the leading suspect is wrong, 0 to 1: half for an unknown cause that shows here what the
    /// class does by design, half for the other suspects, by their probabilities.
    pub denial: f64,
    /// What may be seen, the likeliest first.
    pub predictions: Vec<Prediction>,
}

impl Probe {
    /// What has to be done at the machine.
    #[must_use]
    pub fn instruction(&self) -> String {
        let registers = self.candidate.registers();
        let values: Vec<String> = registers.iter().map(|(name, value)| format!("{name} = {value}")).collect();
        let conditions = &self.candidate.experiment.conditions;
        let board = match conditions.specimen {
            Specimen::Suspected => "",
            Specimen::Another => "on another board of the same class, ",
        };
        let when = match (conditions.look, conditions.moment) {
            (WhichFrame::Settled, _) => "look once the picture has settled",
            (WhichFrame::Moving, WriteMoment::ActiveArea) => "written in the active area, look at the very next frame",
            (WhichFrame::Moving, WriteMoment::Retrace) => {
                "written just after vertical retrace begins, look at the very next frame"
            }
            (WhichFrame::Moving, WriteMoment::Routine) => "written by your routine, look while it moves",
        };
        format!("{board}set {}, {when}", values.join(", "))
    }
}

/// The `most` best probes, the best first; of those that divide the suspects alike only the best.
///
/// `done` is called after every candidate, from any thread.
#[must_use]
pub fn probes<F: FaultFamilies>(
    sightings: &Sightings,
    faults: &F,
    diagnosis: &Diagnosis,
    most: usize,
    cache: &PredictionCache,
    done: &(dyn Fn() + Sync),
) -> Vec<Probe> {
    if most == 0 {
        return Vec::new();
    }
    let likely = LikelyCauses::new(faults, diagnosis);
    let errors = sightings.observer().errors();
    // Where every board of the class does so, another one would show it, too.
    let leads = diagnosis.suspects.first().map(|suspect| suspect.best.cause);
    let swap_tells = diagnosis.design.is_empty() || leads != Some(Cause::ByDesign);
    let mut probes: Vec<Probe> = candidates(sightings)
        .into_par_iter()
        .filter(|candidate| swap_tells || candidate.change != Change::Board)
        .map(|candidate| {
            let probe = likely.probe(candidate, errors, cache);
            done();
            probe
        })
        .filter(|probe| probe.bits >= LEAST_BITS || probe.denial >= LEAST_DENIAL)
        .filter(Probe::can_be_told)
        .collect();
    // The sort is stable: of equally good ones the first candidate stays first.
    probes.sort_by(|one, other| other.worth().total_cmp(&one.worth()));
    let mut kept: Vec<Probe> = Vec::new();
    for probe in &probes {
        if kept.len() < most && probe.bits >= LEAST_BITS && !kept.iter().any(|better| better.divides_like(probe)) {
            kept.push(probe.clone());
        }
    }
    // One of them puts the leading suspect to the test, and costs no more than it must.
    if !kept.iter().any(|probe| probe.denial >= LEAST_DENIAL) {
        let tests = probes.iter().filter(|probe| probe.denial >= LEAST_DENIAL);
        let dearer = |one: &&Probe, other: &&Probe| {
            one.candidate.cost().total_cmp(&other.candidate.cost()).then(other.denial.total_cmp(&one.denial))
        };
        if let Some(test) = tests.min_by(dearer) {
            kept.truncate(most - 1);
            kept.push(test.clone());
        }
    }
    kept
}

/// Number of candidates that [`probes`] looks at.
#[must_use]
pub fn candidate_count(sightings: &Sightings) -> u64 {
    candidates(sightings).len() as u64
}

impl Probe {
    /// Whether both separate the same suspects.
    fn divides_like(&self, other: &Self) -> bool {
        let groups = |probe: &Self| -> BTreeSet<BTreeSet<String>> {
            probe.predictions.iter().map(|one| one.suspects.iter().cloned().collect()).collect()
        };
        groups(self) == groups(other)
    }

    /// Whether a person can tell its likely outcomes apart: at least two of them are not near each other.
    fn can_be_told(&self) -> bool {
        let likely: Vec<Impression> =
            self.predictions.iter().filter(|one| one.probability >= LIKELY_OUTCOME).map(|one| one.sees).collect();
        let informative = |one: &Impression| likely.iter().any(|other| !one.is_near(*other));
        likely.len() < 2 || likely.iter().any(informative)
    }

    /// Bits over cost.
    fn worth(&self) -> f64 {
        self.bits / self.candidate.cost()
    }
}

/// The members that are likely.
struct LikelyCauses<T> {
    members: Vec<(Cause, f64, Option<T>, String)>,
}

impl<T: Tap + Clone + Send + Sync> LikelyCauses<T> {
    fn new<F: FaultFamilies<Tap = T>>(faults: &F, diagnosis: &Diagnosis) -> Self {
        let mut share = 0.0;
        let mut members = Vec::new();
        for ranked in diagnosis.members.iter().take(MOST_CAUSES) {
            let tap = match ranked.cause {
                Cause::Fault { family, member } => faults.member(family, member).map(|member| member.tap),
                _ => None,
            };
            members.push((ranked.cause, ranked.probability, tap, ranked.cause.full_name(faults)));
            share += ranked.probability;
            if share >= CAUSES_SHARE {
                break;
            }
        }
        Self { members }
    }

    fn probe(&self, candidate: ProbeCandidate, errors: f64, cache: &PredictionCache) -> Probe {
        let setup = candidate.setup();
        let expectations: Vec<(f64, Expectation)> = self
            .members
            .iter()
            .map(|(cause, weight, tap, _)| (*weight, expectation(&setup, *cause, tap.as_ref(), cache)))
            .collect();
        let bits = expected_bits(&expectations, errors);
        let denial = denial(&expectations, Impression::of(setup.by_design()));
        Probe { bits, denial, predictions: self.predictions(&expectations), candidate }
    }

    /// What may be seen, and for which suspects it would speak.
    fn predictions(&self, expectations: &[(f64, Expectation)]) -> Vec<Prediction> {
        let total: f64 = expectations.iter().map(|(weight, _)| weight).sum();
        let mut predictions: Vec<Prediction> = Vec::new();
        for ((weight, expectation), (.., name)) in expectations.iter().zip(&self.members) {
            let Expectation::Sees(sees) = expectation else {
                continue;
            };
            let probability = weight / total;
            match predictions.iter_mut().find(|known| known.sees == *sees) {
                Some(known) => {
                    known.probability += probability;
                    known.suspects.push(name.clone());
                }
                None => predictions.push(Prediction { sees: *sees, probability, suspects: vec![name.clone()] }),
            }
        }
        predictions.sort_by(|one, other| other.probability.total_cmp(&one.probability));
        predictions
    }
}

/// How likely it shows if the first cause is wrong.
fn denial(expectations: &[(f64, Expectation)], by_design: Impression) -> f64 {
    let Some(((_, Expectation::Sees(leader)), others)) = expectations.split_first() else {
        return 0.0;
    };
    let shows = |sees: &Impression| f64::from(u8::from(!sees.is_near(*leader)));
    let weight: f64 = others.iter().map(|(weight, _)| weight).sum();
    let of_others: f64 = others
        .iter()
        .map(|(weight, expectation)| match expectation {
            Expectation::Sees(sees) => weight * shows(sees),
            Expectation::Anything => weight / 2.0,
        })
        .sum();
    let of_others = if weight > 0.0 { of_others / weight } else { shows(&by_design) };
    0.5 * shows(&by_design) + 0.5 * of_others
}

/// What a cause leads to on a setup.
fn expectation<T: Tap + Clone>(
    setup: &ExperimentSetup,
    cause: Cause,
    tap: Option<&T>,
    cache: &PredictionCache,
) -> Expectation {
    let conditions = setup.conditions();
    let moves = conditions.look == WhichFrame::Moving && conditions.moment == WriteMoment::Routine;
    match (cause, tap) {
        (Cause::NoneOfThese, _) if conditions.specimen == Specimen::Suspected => Expectation::Anything,
        (Cause::Routine, _) if moves => Expectation::Anything,
        (Cause::Fault { family, member }, Some(tap)) => {
            let signature = cache.signature((family, member, setup.key()), || setup.signature(tap));
            Expectation::Sees(Impression::of(&signature))
        }
        _ => Expectation::Sees(Impression::of(setup.by_design())),
    }
}
