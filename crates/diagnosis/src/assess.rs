//! One cause held against every sighting that counts.

use std::hash::{DefaultHasher, Hash, Hasher};
use std::sync::Arc;

use backporch_analysis::{ExperimentSetup, FrameSignature, Look, WriteMoment};
use backporch_evidence::likelihood::{SightingFit, best, chance, fit};
use backporch_evidence::{Impression, Sighting, Sightings};
use backporch_raster::Tap;

use crate::unmodelled;

/// How well one cause fits.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Assessment {
    /// Natural logarithm of the likelihood of all sightings; minus infinity where it was given up.
    pub log: f64,
    /// Sightings it explains.
    pub explains: usize,
    /// Sightings it contradicts.
    pub contradicts: usize,
    /// Equal for causes that leave the same impression in every frame looked at.
    pub by_eye: Option<u64>,
    /// Equal for causes that, besides, fit every sighting alike: no sighting distinguishes them.
    pub evidence_class: Option<u64>,
    /// Frames predicted.
    pub predictions: u64,
}

/// The sightings made ready to assess causes by.
pub(crate) struct Assessor<'a> {
    sightings: &'a Sightings,
    /// Positions of those that count, those of few frames first.
    counting: Vec<usize>,
    /// Share of wrong sightings for each of them.
    errors: Vec<f64>,
    /// The best that is left from each of them on.
    best_left: Vec<f64>,
}

impl<'a> Assessor<'a> {
    pub fn new(sightings: &'a Sightings, mut counting: Vec<usize>) -> Self {
        let all = sightings.sightings();
        counting.sort_by_key(|at| all[*at].setups.len());
        let usual = sightings.observer().errors();
        let sheared = |at: &usize| all[*at].setups.iter().any(|setup| sightings.setups()[*setup].is_sheared());
        // In a sheared picture one is twice as often mistaken.
        let errors: Vec<f64> =
            counting.iter().map(|at| if sheared(at) { (2.0 * usual).min(0.5) } else { usual }).collect();
        let mut best_left = vec![0.0; counting.len() + 1];
        for position in (0..counting.len()).rev() {
            let sighting = &all[counting[position]];
            best_left[position] = best_left[position + 1] + best(&sighting.seen, sighting.count, errors[position]);
        }
        Self { sightings, counting, errors, best_left }
    }

    /// Number of sightings that count.
    pub fn counting(&self) -> usize {
        self.counting.len()
    }

    fn sighting(&self, position: usize) -> &'a Sighting {
        &self.sightings.sightings()[self.counting[position]]
    }

    /// A board as its class is built. What its routine does at the wrong moment is seen on it as well.
    pub fn by_design(&self) -> Assessment {
        self.by(f64::NEG_INFINITY, |setup| Arc::new(setup.by_design().clone()))
    }

    /// Whether what the class does by design shows where something was seen that counts.
    pub fn shows_design(&self) -> bool {
        let setups = (0..self.counting.len()).flat_map(|position| &self.sighting(position).setups);
        setups.into_iter().any(|setup| !self.sightings.setups()[*setup].by_design().is_clean())
    }

    /// A board that is no member of a family.
    pub fn tap<T: Tap + Clone>(&self, tap: &T) -> Assessment {
        self.by(f64::NEG_INFINITY, |setup| Arc::new(setup.signature(tap)))
    }

    /// A cause by what it makes of each setup, given up once its likelihood is sure to end below `floor`.
    pub fn by(&self, floor: f64, signature: impl Fn(&ExperimentSetup) -> Arc<FrameSignature>) -> Assessment {
        let mut assessment = Assessment::NONE;
        let mut fits = Vec::with_capacity(self.counting.len());
        let mut signatures: Vec<Option<Arc<FrameSignature>>> = vec![None; self.sightings.setups().len()];
        for position in 0..self.counting.len() {
            if assessment.log + self.best_left[position] < floor {
                return Assessment { log: f64::NEG_INFINITY, ..assessment };
            }
            let sighting = self.sighting(position);
            for setup in &sighting.setups {
                if signatures[*setup].is_none() {
                    signatures[*setup] = Some(signature(&self.sightings.setups()[*setup]));
                    assessment.predictions += 1;
                }
            }
            let seen: Vec<&FrameSignature> =
                sighting.setups.iter().filter_map(|setup| signatures[*setup].as_deref()).collect();
            let fit = fit(&sighting.seen, &seen, sighting.count, self.errors[position]);
            fits.push(fit.log.to_bits());
            assessment.take(fit);
        }
        let mut hasher = impressions(&signatures);
        assessment.by_eye = Some(hasher.finish());
        fits.hash(&mut hasher);
        assessment.evidence_class = Some(hasher.finish());
        assessment
    }

    /// A routine that writes at the wrong moment: settled pictures are as the class is built;
    /// while it moves, anything may be seen half of the time.
    pub fn routine(&self) -> Assessment {
        let mut assessment = Assessment::NONE;
        for position in 0..self.counting.len() {
            let sighting = self.sighting(position);
            let setups: Vec<_> = sighting.setups.iter().map(|setup| &self.sightings.setups()[*setup]).collect();
            let own = setups.iter().any(|setup| {
                setup.conditions().look == Look::Moving && setup.conditions().moment == WriteMoment::Routine
            });
            let at_rest: Vec<&FrameSignature> = setups.iter().map(|setup| setup.by_design()).collect();
            let quiet = fit(&sighting.seen, &at_rest, sighting.count, self.errors[position]);
            let log = (0.5 * quiet.log.exp() + 0.5 * chance(&sighting.seen)).ln();
            let while_it_runs = SightingFit { grade: 0.5 + 0.5 * quiet.grade, log };
            assessment.take(if own { while_it_runs } else { quiet });
        }
        assessment
    }

    /// None of the families: see [`unmodelled`].
    pub fn unmodelled(&self) -> Assessment {
        let log = unmodelled::log((0..self.counting.len()).map(|position| self.sighting(position)));
        Assessment { log, ..Assessment::NONE }
    }
}

impl Assessment {
    /// Nothing held against anything.
    const NONE: Self =
        Self { log: 0.0, explains: 0, contradicts: 0, by_eye: None, evidence_class: None, predictions: 0 };

    fn take(&mut self, fit: SightingFit) {
        self.log += fit.log;
        let explains = fit.grade >= SightingFit::EXPLAINS;
        self.explains += usize::from(explains);
        self.contradicts += usize::from(!explains);
    }
}

/// One number for what is seen in all frames; the hasher's keys are fixed.
fn impressions(signatures: &[Option<Arc<FrameSignature>>]) -> DefaultHasher {
    let mut hasher = DefaultHasher::new();
    for signature in signatures {
        signature.as_deref().map(Impression::of).hash(&mut hasher);
    }
    hasher
}
