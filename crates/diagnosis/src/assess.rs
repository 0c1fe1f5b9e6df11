//! One cause held against every sighting that counts.

use std::hash::{DefaultHasher, Hash, Hasher};
use std::sync::Arc;

use backporch_analysis::{ExperimentSetup, FrameSignature, WhichFrame, WriteMoment};
use backporch_evidence::likelihood::{SightingFit, best, chance, error_rate, fit, grade, grade_of_all, log_of, looks};
use backporch_evidence::{Impression, Seen, Share, Sighting, Sightings, Statement};
use backporch_raster::Tap;

use crate::pattern::Pattern;
use crate::unmodelled;
use crate::variation::Variation;

/// How well one cause fits.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Assessment {
    /// Natural logarithm of the likelihood of all sightings; minus infinity where it was given up.
    pub log: f64,
    /// Sightings it explains.
    pub explains: usize,
    /// Sightings it contradicts.
    pub contradicts: usize,
    /// Natural logarithm of the likelihood under an unknown fault that is like this cause but for some of the looks.
    pub varied: f64,
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
        let mut variation = Variation::default();
        let mut signatures: Vec<Option<Arc<FrameSignature>>> = vec![None; self.sightings.setups().len()];
        for position in 0..self.counting.len() {
            let sighting = self.sighting(position);
            let rest = assessment.log + self.best_left[position + 1];
            let mut bound = LookBound::new(sighting, self.errors[position]);
            for setup in scattered(&sighting.setups) {
                if rest + bound.log() < floor {
                    return Assessment { log: f64::NEG_INFINITY, varied: f64::NEG_INFINITY, ..assessment };
                }
                let signature = signatures[setup].get_or_insert_with(|| {
                    assessment.predictions += 1;
                    signature(&self.sightings.setups()[setup])
                });
                bound.take(signature);
            }
            let seen: Vec<&FrameSignature> =
                sighting.setups.iter().filter_map(|setup| signatures[*setup].as_deref()).collect();
            let fit = fit(&sighting.seen, &seen, sighting.count, self.errors[position]);
            fits.push(fit.log.to_bits());
            variation.take(sighting, fit);
            assessment.take(fit);
        }
        assessment.varied = variation.log();
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
        let mut ran = false;
        for position in 0..self.counting.len() {
            let sighting = self.sighting(position);
            let setups: Vec<_> = sighting.setups.iter().map(|setup| &self.sightings.setups()[*setup]).collect();
            let own = self.while_it_runs(self.counting[position]);
            ran |= own;
            let at_rest: Vec<&FrameSignature> = setups.iter().map(|setup| setup.by_design()).collect();
            let quiet = fit(&sighting.seen, &at_rest, sighting.count, self.errors[position]);
            let log = (0.5 * quiet.log.exp() + 0.5 * chance(&sighting.seen)).ln();
            let while_it_runs = SightingFit { grade: 0.5 + 0.5 * quiet.grade, log };
            assessment.take(if own { while_it_runs } else { quiet });
        }
        if !ran {
            // Looked at only at rest, it shows just what the class does by design.
            assessment.by_eye = self.by_design().by_eye;
        }
        assessment.varied = f64::NEG_INFINITY;
        assessment
    }

    /// What a cause makes of each sighting that counts, in their order.
    pub fn held(&self, signature: impl Fn(&ExperimentSetup) -> Arc<FrameSignature>) -> Vec<Held> {
        let mut held: Vec<Held> = (0..self.counting.len())
            .map(|position| {
                let sighting = self.sighting(position);
                let setups = sighting.setups.iter().map(|setup| signature(&self.sightings.setups()[*setup]));
                let shown: Vec<Arc<FrameSignature>> = setups.collect();
                let seen: Vec<&FrameSignature> = shown.iter().map(Arc::as_ref).collect();
                let fit = fit(&sighting.seen, &seen, sighting.count, self.errors[position]);
                let shows = match shown.as_slice() {
                    [one] => Some(Impression::of(one)),
                    _ => None,
                };
                // Damage that is hardly seen is overlooked without a mistake.
                let overlooked = seen.iter().map(|shown| overlooked(shown)).sum::<f64>() / seen.len().max(1) as f64;
                let mistaken = (error_rate(&sighting.seen, self.errors[position]) + overlooked).min(0.5);
                Held {
                    sighting: self.counting[position],
                    explained: fit.grade >= SightingFit::EXPLAINS,
                    mistaken,
                    shows,
                }
            })
            .collect();
        held.sort_by_key(|one| one.sighting);
        held
    }

    /// Whether a sighting was made while the user's routine runs.
    pub fn while_it_runs(&self, sighting: usize) -> bool {
        self.sightings.sightings()[sighting].setups.iter().any(|setup| {
            let conditions = self.sightings.setups()[*setup].conditions();
            conditions.look == WhichFrame::Moving && conditions.moment == WriteMoment::Routine
        })
    }

    /// The sightings.
    pub fn sightings(&self) -> &'a Sightings {
        self.sightings
    }

    /// What the sightings that count have in common.
    pub fn pattern(&self) -> Pattern {
        Pattern::of(self.sightings, &self.counting)
    }

    /// None of the families: see [`unmodelled`].
    pub fn unmodelled(&self) -> Assessment {
        let log = unmodelled::log((0..self.counting.len()).map(|position| self.sighting(position)));
        Assessment { log, varied: f64::NEG_INFINITY, ..Assessment::NONE }
    }
}

/// What one cause makes of one sighting.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Held {
    /// Position of the sighting.
    pub sighting: usize,
    /// Whether it is true of what the cause shows.
    pub explained: bool,
    /// How often such a sighting is a mistake, 0 to 1.
    pub mistaken: f64,
    /// What one would see instead, of a single frame.
    pub shows: Option<Impression>,
}

/// How likely the damage of a frame is overlooked, where that would count as contradicting it.
fn overlooked(signature: &FrameSignature) -> f64 {
    let clean = grade(&Statement::Clean, signature);
    if clean < SightingFit::EXPLAINS { clean } else { 0.0 }
}

/// The items, each far from the ones before, so that a few of them soon stand for all.
fn scattered(items: &[usize]) -> impl Iterator<Item = usize> {
    let bits = items.len().next_power_of_two().trailing_zeros();
    let turned = move |at: usize| if bits == 0 { at } else { at.reverse_bits() >> (usize::BITS - bits) };
    (0..items.len().next_power_of_two()).filter_map(move |at| items.get(turned(at)).copied())
}

/// The greatest logarithm that a sighting can still come to, while its frames are predicted one by one.
struct LookBound<'a> {
    sighting: &'a Sighting,
    errors: f64,
    /// What is lost against the best so far.
    lost: f64,
    best: f64,
}

impl<'a> LookBound<'a> {
    fn new(sighting: &'a Sighting, errors: f64) -> Self {
        Self { sighting, errors, lost: 0.0, best: best(&sighting.seen, sighting.count, errors) }
    }

    fn log(&self) -> f64 {
        self.best - self.lost
    }

    fn take(&mut self, signature: &FrameSignature) {
        let Seen::Said(Share::Each, statements) = &self.sighting.seen else {
            return;
        };
        let (seen, errors) = (&self.sighting.seen, self.errors);
        let one = log_of(seen, 1.0, errors) - log_of(seen, grade_of_all(statements, signature), errors);
        self.lost += one * looks(self.sighting.count) / self.sighting.setups.len().max(1) as f64;
    }
}

impl Assessment {
    /// Nothing held against anything.
    const NONE: Self =
        Self { log: 0.0, explains: 0, contradicts: 0, varied: 0.0, by_eye: None, evidence_class: None, predictions: 0 };

    /// The same with what a survey found, by the natural logarithm of its likelihood.
    pub(crate) fn and_survey(mut self, log: f64) -> Self {
        self.log += log;
        self.varied += log;
        self.evidence_class = self.evidence_class.map(|class| {
            let mut hasher = DefaultHasher::new();
            (class, log.to_bits()).hash(&mut hasher);
            hasher.finish()
        });
        self
    }

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
