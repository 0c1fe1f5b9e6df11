//! One cause held against every sighting that counts.

use std::hash::{DefaultHasher, Hash, Hasher};
use std::sync::Arc;

use backporch_raster::{Healthy, Tap};

use super::nobody;
use crate::likelihood::{Fit, best, chance, fit};
use crate::outcome::Outcome;
use crate::scene::{Look, Moment, Scene};
use crate::sightings::{Sighting, Sightings};

/// How well one cause fits.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Judged {
    /// Natural logarithm of the likelihood of all sightings; minus infinity where it was given up.
    pub log: f64,
    /// Sightings it explains.
    pub explains: usize,
    /// Sightings it contradicts.
    pub contradicts: usize,
    /// Equal for causes that leave the same impression in every frame looked at.
    pub by_eye: Option<u64>,
    /// Equal for causes that, besides, fit every sighting alike: no sighting tells them apart.
    pub signature: Option<u64>,
    /// Frames predicted.
    pub predictions: u64,
}

/// The sightings made ready to judge by.
pub(super) struct Judge<'a> {
    sightings: &'a Sightings,
    /// Positions of those that count, those of few frames first.
    counting: Vec<usize>,
    /// Share of wrong sightings for each of them.
    errors: Vec<f64>,
    /// The best that is left from each of them on.
    best_left: Vec<f64>,
}

impl<'a> Judge<'a> {
    pub fn new(sightings: &'a Sightings, mut counting: Vec<usize>) -> Self {
        let all = sightings.sightings();
        counting.sort_by_key(|at| all[*at].scenes.len());
        let usual = sightings.observer().errors();
        let sheared = |at: &usize| all[*at].scenes.iter().any(|scene| sightings.scenes()[*scene].is_sheared());
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

    /// A healthy board. What its routine does at the wrong moment is seen on it as well.
    pub fn healthy(&self) -> Judged {
        self.by(f64::NEG_INFINITY, |scene| Arc::new(scene.outcome(&Healthy)))
    }

    /// A fault that is no member of a family.
    pub fn tap<T: Tap + Clone>(&self, tap: &T) -> Judged {
        self.by(f64::NEG_INFINITY, |scene| Arc::new(scene.outcome(tap)))
    }

    /// A cause by what it makes of each scene, given up once its likelihood is sure to end below `floor`.
    pub fn by(&self, floor: f64, outcome: impl Fn(&Scene) -> Arc<Outcome>) -> Judged {
        let mut judged = Judged::NONE;
        let mut fits = Vec::with_capacity(self.counting.len());
        let mut outcomes: Vec<Option<Arc<Outcome>>> = vec![None; self.sightings.scenes().len()];
        for position in 0..self.counting.len() {
            if judged.log + self.best_left[position] < floor {
                return Judged { log: f64::NEG_INFINITY, ..judged };
            }
            let sighting = self.sighting(position);
            for scene in &sighting.scenes {
                if outcomes[*scene].is_none() {
                    outcomes[*scene] = Some(outcome(&self.sightings.scenes()[*scene]));
                    judged.predictions += 1;
                }
            }
            let seen: Vec<&Outcome> = sighting.scenes.iter().filter_map(|scene| outcomes[*scene].as_deref()).collect();
            let fit = fit(&sighting.seen, &seen, sighting.count, self.errors[position]);
            fits.push(fit.log.to_bits());
            judged.take(fit);
        }
        let mut hasher = impressions(&outcomes);
        judged.by_eye = Some(hasher.finish());
        fits.hash(&mut hasher);
        judged.signature = Some(hasher.finish());
        judged
    }

    /// A routine that writes at the wrong moment: settled pictures are clean;
    /// while it moves, anything may be seen half of the time.
    pub fn routine(&self) -> Judged {
        let mut judged = Judged::NONE;
        for position in 0..self.counting.len() {
            let sighting = self.sighting(position);
            let scenes: Vec<_> = sighting.scenes.iter().map(|scene| &self.sightings.scenes()[*scene]).collect();
            let own = scenes
                .iter()
                .any(|scene| scene.staging().look == Look::Moving && scene.staging().moment == Moment::Routine);
            let clean: Vec<Outcome> = scenes.iter().map(|scene| scene.outcome(&Healthy)).collect();
            let clean: Vec<&Outcome> = clean.iter().collect();
            let quiet = fit(&sighting.seen, &clean, sighting.count, self.errors[position]);
            judged.take(match own {
                false => quiet,
                true => {
                    let log = (0.5 * quiet.log.exp() + 0.5 * chance(&sighting.seen)).ln();
                    Fit { grade: 0.5 + 0.5 * quiet.grade, log }
                }
            });
        }
        judged
    }

    /// None of the families: see [`nobody`].
    pub fn nobody(&self) -> Judged {
        let log = nobody::log((0..self.counting.len()).map(|position| self.sighting(position)));
        Judged { log, ..Judged::NONE }
    }
}

impl Judged {
    /// Nothing held against anything.
    const NONE: Self = Self { log: 0.0, explains: 0, contradicts: 0, by_eye: None, signature: None, predictions: 0 };

    fn take(&mut self, fit: Fit) {
        self.log += fit.log;
        match fit.grade >= Fit::EXPLAINS {
            true => self.explains += 1,
            false => self.contradicts += 1,
        }
    }
}

/// One number for what is seen in all frames; the hasher's keys are fixed.
fn impressions(outcomes: &[Option<Arc<Outcome>>]) -> DefaultHasher {
    let mut hasher = DefaultHasher::new();
    for outcome in outcomes {
        outcome.as_ref().map(|outcome| outcome.impression()).hash(&mut hasher);
    }
    hasher
}
