//! Probes: the next experiments worth making on real hardware.
//!
//! A probe is one setting to look at. What the suspects left are predicted to
//! show there divides them; the more evenly, the more one look teaches:
//!
//! ```text
//! members left ─► outcome of a candidate ─► impression ─► who would be told from whom
//!      probability ────────────────────────────────────► expected information, bits
//! ```
//!
//! The observer is the same as in the diagnosis, vague and at times wrong, so
//! two faults that only a measurement tells apart gain nothing here. Candidates
//! are ranked by information over cost: a register is cheap to change, another
//! board is dear.

mod candidate;
mod information;

use std::collections::BTreeSet;

use backporch_raster::{Healthy, Tap};
use rayon::prelude::*;

use candidate::candidates;
pub use candidate::{Candidate, Change};
use information::{Answer, expected_bits};

use crate::diagnose::{Cause, Diagnosis, member_name};
use crate::faults::Faults;
use crate::memo::Memo;
use crate::outcome::Impression;
use crate::scene::{Look, Moment, Scene, Specimen};
use crate::sightings::Sightings;

/// Members that are asked what they predict, at most.
const MOST_ASKED: usize = 64;
/// The likeliest members are asked until they have this much of the probability.
const ASKED_SHARE: f64 = 0.998;
/// A probe that teaches less is not worth the way to the machine, in bits.
pub const LEAST_BITS: f64 = 0.02;

/// One thing that may be seen, and whom it would speak for.
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
    pub candidate: Candidate,
    /// What it teaches on average, in bits.
    pub bits: f64,
    /// What may be seen, the likeliest first.
    pub predictions: Vec<Prediction>,
}

impl Probe {
    /// What has to be done at the machine.
    #[must_use]
    pub fn instruction(&self) -> String {
        let registers = self.candidate.registers();
        let values: Vec<String> = registers.iter().map(|(name, value)| format!("{name} = {value}")).collect();
        let staging = &self.candidate.experiment.staging;
        let board = match staging.specimen {
            Specimen::Suspected => "",
            Specimen::Another => "on another board of the same class, ",
        };
        let when = match (staging.look, staging.moment) {
            (Look::Settled, _) => "look once the picture has settled",
            (Look::Moving, Moment::ActiveArea) => "written in the active area, look at the very next frame",
            (Look::Moving, Moment::Retrace) => {
                "written just after vertical retrace begins, look at the very next frame"
            }
            (Look::Moving, Moment::Routine) => "written by your routine, look while it moves",
        };
        format!("{board}set {}, {when}", values.join(", "))
    }
}

/// The `most` best probes, the best first; of those that divide the suspects alike only the best.
///
/// `done` is called after every candidate, from any thread.
#[must_use]
pub fn probes<F: Faults>(
    sightings: &Sightings,
    faults: &F,
    diagnosis: &Diagnosis,
    most: usize,
    memo: &Memo,
    done: &(dyn Fn() + Sync),
) -> Vec<Probe> {
    if most == 0 {
        return Vec::new();
    }
    let asked = Asked::new(faults, diagnosis);
    let errors = sightings.observer().errors();
    let mut probes: Vec<Probe> = candidates(sightings)
        .into_par_iter()
        .map(|candidate| {
            let probe = asked.probe(candidate, errors, memo);
            done();
            probe
        })
        .filter(|probe| probe.bits >= LEAST_BITS)
        .collect();
    // The sort is stable: of equally good ones the first candidate stays first.
    probes.sort_by(|one, other| other.worth().total_cmp(&one.worth()));
    let mut kept: Vec<Probe> = Vec::new();
    for probe in probes {
        if kept.len() < most && !kept.iter().any(|better| better.divides_like(&probe)) {
            kept.push(probe);
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
    /// Whether both tell the same suspects from each other.
    fn divides_like(&self, other: &Self) -> bool {
        let groups = |probe: &Self| -> BTreeSet<BTreeSet<String>> {
            probe.predictions.iter().map(|one| one.suspects.iter().cloned().collect()).collect()
        };
        groups(self) == groups(other)
    }

    /// Bits over cost.
    fn worth(&self) -> f64 {
        self.bits / self.candidate.cost()
    }
}

/// The members that are asked.
struct Asked<T> {
    members: Vec<(Cause, f64, Option<T>, String)>,
}

impl<T: Tap + Clone + Send + Sync> Asked<T> {
    fn new<F: Faults<Tap = T>>(faults: &F, diagnosis: &Diagnosis) -> Self {
        let mut share = 0.0;
        let mut members = Vec::new();
        for weighed in diagnosis.members.iter().take(MOST_ASKED) {
            let tap = match weighed.cause {
                Cause::Fault { family, member } => faults.member(family, member).map(|member| member.tap),
                _ => None,
            };
            members.push((weighed.cause, weighed.probability, tap, member_name(faults, weighed.cause)));
            share += weighed.probability;
            if share >= ASKED_SHARE {
                break;
            }
        }
        Self { members }
    }

    fn probe(&self, candidate: Candidate, errors: f64, memo: &Memo) -> Probe {
        let scene = candidate.scene();
        let answers: Vec<(f64, Answer)> = self
            .members
            .iter()
            .map(|(cause, weight, tap, _)| (*weight, answer(&scene, *cause, tap.as_ref(), memo)))
            .collect();
        let bits = expected_bits(&answers, errors);
        Probe { bits, predictions: self.predictions(&answers), candidate }
    }

    /// What may be seen, and whom it would speak for.
    fn predictions(&self, answers: &[(f64, Answer)]) -> Vec<Prediction> {
        let total: f64 = answers.iter().map(|(weight, _)| weight).sum();
        let mut predictions: Vec<Prediction> = Vec::new();
        for ((weight, answer), (.., name)) in answers.iter().zip(&self.members) {
            let Answer::Sees(sees) = answer else {
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

/// What a cause leads to on a scene.
fn answer<T: Tap + Clone>(scene: &Scene, cause: Cause, tap: Option<&T>, memo: &Memo) -> Answer {
    let staging = scene.staging();
    let moves = staging.look == Look::Moving && staging.moment == Moment::Routine;
    match (cause, tap) {
        (Cause::NoneOfThese, _) if staging.specimen == Specimen::Suspected => Answer::Anything,
        (Cause::Routine, _) if moves => Answer::Anything,
        (Cause::Fault { family, member }, Some(tap)) => {
            let outcome = memo.outcome((family, member, scene.key()), || scene.outcome(tap));
            Answer::Sees(outcome.impression())
        }
        _ => Answer::Sees(scene.outcome(&Healthy).impression()),
    }
}
