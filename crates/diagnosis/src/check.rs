//! Model checking: whether the best suspects could have led to what was seen at all.
//!
//! Probabilities only compare suspects with each other. Here each of the best is asked how likely it is to be
//! contradicted so often and so exactly, if it were the cause and observers only wrong as often as they are. Each
//! sighting that contradicts it is a mistake, and weighs by how seldom that mistake is made (minus its natural
//! logarithm); the probability is that of mistakes that together weigh as much, over all the sightings that count.

use backporch_evidence::{Impression, Sightings};

use crate::assess::Held;
use crate::pattern::Pattern;

/// Suspects that are asked.
pub(crate) const MOST_CHECKED: usize = 3;
/// A suspect is as good as the best one from this share of its probability on.
const AS_GOOD: f64 = 0.05;

/// One sighting that a suspect does not explain.
#[derive(Clone, Debug, PartialEq)]
pub struct Against {
    /// Position of the sighting.
    pub sighting: usize,
    /// Where: the setting looked at.
    pub place: String,
    /// What was seen, in words.
    pub saw: String,
    /// What the suspect would show, of a single frame.
    pub shows: Option<Impression>,
}

/// A suspect that was asked.
#[derive(Clone, Debug, PartialEq)]
pub struct CheckedSuspect {
    /// Its name, with its parameters.
    pub name: String,
    /// Its probability among the suspects, 0 to 1.
    pub posterior: f64,
    /// How likely it is to be contradicted so often and so exactly, 0 to 1.
    pub probability: f64,
    /// The sightings that stand against it.
    pub against: Vec<Against>,
}

/// What came of asking the best suspects, the best first.
#[derive(Clone, Debug, PartialEq)]
pub struct ModelCheck {
    /// The suspects asked, the likeliest first.
    pub suspects: Vec<CheckedSuspect>,
    /// What was seen has in common, which a fault would have to do.
    pub pattern: Pattern,
}

impl ModelCheck {
    /// Below this, what was seen is not believed of a suspect.
    pub const LEAST: f64 = 0.01;

    /// The greatest probability of a suspect that is about as good as the best, 0 to 1; 1 where none was asked.
    #[must_use]
    pub fn probability(&self) -> f64 {
        let best = self.suspects.first().map_or(0.0, |best| best.posterior);
        let good = self.suspects.iter().filter(|suspect| suspect.posterior >= best * AS_GOOD);
        good.map(|suspect| suspect.probability)
            .fold(None, |most: Option<f64>, one| Some(most.map_or(one, |most| most.max(one))))
            .unwrap_or(1.0)
    }

    /// Whether no suspect could have led to all that was seen.
    #[must_use]
    pub fn fails(&self) -> bool {
        self.probability() < Self::LEAST
    }
}

impl CheckedSuspect {
    /// How many looks stand against it, and how likely that is if it were the cause.
    #[must_use]
    pub fn doubt(&self) -> String {
        let looks = match self.against.len() {
            1 => "1 look stands".to_string(),
            count => format!("{count} looks stand"),
        };
        let percent = match self.probability * 100.0 {
            percent if percent < 0.01 => "less than 0.01 %".to_string(),
            percent => format!("{percent:.2} %"),
        };
        format!("{looks} against the nearest, {}, which by mistakes alone happens in {percent} of cases", self.name)
    }

    pub(crate) fn new(name: String, posterior: f64, held: &[Held], sightings: &Sightings) -> Self {
        let against = held.iter().filter(|one| !one.explained).map(|one| {
            let sighting = &sightings.sightings()[one.sighting];
            Against {
                sighting: one.sighting,
                place: sightings.place(sighting),
                saw: sighting.seen.in_short(),
                shows: one.shows,
            }
        });
        Self { name, posterior, probability: probability(held), against: against.collect() }
    }
}

/// Weights of mistakes are counted in this many parts of a unit.
const PARTS: f64 = 32.0;

/// How likely mistakes are that weigh at least as much as those there are: every sighting is a mistake or is none, each by
/// its own chance.
fn probability(held: &[Held]) -> f64 {
    let weight = |one: &Held| ((-one.mistaken.ln() * PARTS).round() as usize).max(1);
    let found: usize = held.iter().filter(|one| !one.explained).map(weight).sum();
    // The chance of each weight so far; the last stands for all that are as heavy as what there is, or heavier.
    let mut chances = vec![0.0; found + 1];
    chances[0] = 1.0;
    for one in held {
        for so_far in (0..found).rev() {
            let moved = chances[so_far] * one.mistaken;
            chances[so_far] -= moved;
            chances[(so_far + weight(one)).min(found)] += moved;
        }
    }
    chances[found].min(1.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn held(count: usize, wrong: usize, mistaken: f64) -> Vec<Held> {
        (0..count).map(|at| Held { sighting: at, explained: at >= wrong, mistaken, shows: None }).collect()
    }

    /// The tail of a binomial distribution: of 7 looks, each wrong once in twenty, 2 or more are in 4.44 %, 3 or more in
    /// 0.376 % (derived: 1 − Σ C(7, k) 0.05^k 0.95^(7 − k)).
    #[test]
    fn of_one_kind_it_is_the_tail_of_a_binomial() {
        assert!((probability(&held(7, 0, 0.05)) - 1.0).abs() < 1e-12);
        assert!((probability(&held(7, 2, 0.05)) - 0.0444).abs() < 1e-4);
        assert!((probability(&held(7, 3, 0.05)) - 0.00376).abs() < 1e-5);
    }

    /// One measured mistake in ten weighs more than one glance amiss.
    #[test]
    fn measured_mistakes_weigh_more() {
        let mut mixed = held(6, 0, 0.05);
        mixed.extend(held(4, 1, 0.01));
        let glance = probability(&[held(6, 1, 0.05), held(4, 0, 0.01)].concat());
        let measured = probability(&mixed);
        assert!(measured < glance && measured > 0.03, "{measured} {glance}");
        mixed.extend(held(4, 1, 0.01));
        assert!(probability(&mixed) < ModelCheck::LEAST, "{}", probability(&mixed));
    }
}
