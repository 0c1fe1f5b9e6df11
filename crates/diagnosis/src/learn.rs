//! Learning a new family: where no known fault explains what was seen, the quirk language's own building blocks are
//! put together until they do, the simplest first.
//!
//! A guess moves some bytes of some lines at some steps. Its parts are chosen one after the other, and of each choice
//! the best few are kept (a beam search); a guess is the better the likelier what was seen is under it and the fewer bits
//! it takes to write down (minimum description length):
//!
//! ```text
//! how far ─► which lines ─► which bytes ─► which steps ─► again, until nothing gets better
//! score = log2 of the likelihood of the sightings − bits of the description
//! ```
//!
//! A guess is a conjecture: a family to try, not a diagnosis.

mod blocks;

use std::f64::consts::LN_2;
use std::sync::Arc;

use backporch_evidence::Sightings;
use backporch_input::Source;
use backporch_quirk::{Family, Layers};
use rayon::prelude::*;

use crate::assess::{Assessment, Assessor};
use blocks::{Description, GuessPart, choices};

/// Guesses kept from choice to choice.
const BEAM: usize = 8;
/// Rounds over all parts.
const ROUNDS: usize = 2;

/// A family that was put together from what was seen.
#[derive(Clone, Debug)]
pub struct Guess {
    /// The family; it has a single member.
    pub family: Family,
    /// Its file.
    pub text: String,
    /// What it takes to write it down, in bits.
    pub bits: f64,
    /// Sightings it explains.
    pub explains: usize,
    /// Sightings it contradicts.
    pub contradicts: usize,
}

/// A description with how well it fits.
#[derive(Clone, Debug)]
struct Tried {
    description: Description,
    assessment: Assessment,
}

impl Tried {
    /// Bits saved against saying nothing of the cause; the greater the better.
    fn score(&self) -> f64 {
        self.assessment.log / LN_2 - self.description.bits()
    }
}

/// The `most` best guesses, the best first, of those that contradict the fewest sightings; none where no single look
/// was described.
///
/// The families act on boards of these layers.
#[must_use]
pub fn learn(sightings: &Sightings, layers: &Layers, most: usize) -> Vec<Guess> {
    let (_, counting) = sightings.weighed();
    if counting.is_empty() {
        return Vec::new();
    }
    let choices = choices(sightings, &counting);
    let whole = Assessor::new(sightings, counting);
    // A part that is right is to be seen while the others are still wrong: each statement counts by itself.
    let apart = sightings.apart();
    let (_, counting) = apart.weighed();
    let assessor = Assessor::new(&apart, counting);
    let layers = layers.with_faults(Vec::new());
    let start = choices.start().into_iter();
    let mut beam = best_of(start.filter_map(|one| tried(&assessor, &layers, one, f64::NEG_INFINITY)).collect());
    for _ in 0..ROUNDS {
        for part in GuessPart::ALL {
            let next: Vec<Description> = beam.iter().flat_map(|one| choices.instead(part, &one.description)).collect();
            // What cannot get into the beam is given up.
            let least = beam.get(BEAM - 1).map_or(f64::NEG_INFINITY, Tried::score);
            let more = next.into_par_iter().filter_map(|one| tried(&assessor, &layers, one, least));
            let more: Vec<Tried> = more.collect();
            beam = best_of(beam.into_iter().chain(more).collect());
        }
    }
    let unbound = |one: Tried| tried(&whole, &layers, one.description, f64::NEG_INFINITY);
    beam = best_of(beam.into_iter().filter_map(unbound).collect());
    let fewest = beam.iter().map(|one| one.assessment.contradicts).min().unwrap_or(0);
    beam.retain(|one| one.assessment.contradicts == fewest);
    beam.into_iter().take(most).enumerate().filter_map(|(at, one)| guess(at, &one)).collect()
}

/// The best few, each once, the best first; of equally good ones the one that came first.
fn best_of(mut all: Vec<Tried>) -> Vec<Tried> {
    all.sort_by(|one, other| other.score().total_cmp(&one.score()));
    let mut kept: Vec<Tried> = Vec::new();
    for one in all {
        if kept.len() == BEAM {
            break;
        }
        if !kept.iter().any(|known| known.description == one.description) {
            kept.push(one);
        }
    }
    kept
}

/// Holds a description against the sightings; `None` where its score is below `least`.
fn tried(assessor: &Assessor, layers: &Layers, description: Description, least: f64) -> Option<Tried> {
    let floor = (least + description.bits()) * LN_2;
    let family = read(&description.text("guess")).ok()?;
    let tap = layers.under(vec![family.member(0)?]);
    let assessment = assessor.by(floor, |setup| Arc::new(setup.signature(&tap)));
    (assessment.log > f64::NEG_INFINITY).then_some(Tried { description, assessment })
}

fn read(text: &str) -> Result<Family, backporch_input::InputError> {
    Family::from_source(&Source::built_in("guess", text))
}

fn guess(at: usize, tried: &Tried) -> Option<Guess> {
    let text = tried.description.text(&format!("guess-{}", at + 1));
    let Assessment { explains, contradicts, .. } = tried.assessment;
    Some(Guess { family: read(&text).ok()?, text, bits: tried.description.bits(), explains, contradicts })
}
