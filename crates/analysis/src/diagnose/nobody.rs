//! None of these: a fault of which nothing is known but that it is regular.
//!
//! Whatever the unknown fault does, it tends to do again: after some sightings
//! the next one is most likely one of those had before, each by how often it was
//! had; and with a weight of [`FRESH`] looks it is something new, by the chance
//! that an observer would say just that at random. The sightings' order plays no
//! part in that (an urn to which each draw adds another of its kind), and their
//! joint probability is a ratio of gamma functions.
//!
//! A family has to say *when* each thing is seen to be better than this.

use std::collections::BTreeMap;

use libm::lgamma;

use crate::likelihood::{chance, looks};
use crate::sightings::Sighting;

/// Weight of something new, in looks.
const FRESH: f64 = 2.0;

/// Natural logarithm of the probability of the sightings.
pub(super) fn log<'a>(sightings: impl Iterator<Item = &'a Sighting>) -> f64 {
    let mut kinds: BTreeMap<String, (f64, f64)> = BTreeMap::new();
    let mut total = 0.0;
    for sighting in sightings {
        let weight = looks(sighting.count);
        let entry = kinds.entry(sighting.seen.to_string()).or_insert((chance(&sighting.seen), 0.0));
        entry.1 += weight;
        total += weight;
    }
    let kind = |(chance, weight): &(f64, f64)| lgamma(FRESH * chance + weight) - lgamma(FRESH * chance);
    kinds.values().map(kind).sum::<f64>() - (lgamma(FRESH + total) - lgamma(FRESH))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sightings::{Seen, Share, Statement};

    fn sighting(statement: Statement) -> Sighting {
        let seen = Seen::Said(Share::Each, vec![statement]);
        Sighting { experiment: 0, steps: (0, 0), count: 1, seen, scenes: Vec::new() }
    }

    /// Drawn one by one from the urn, by its definition.
    #[test]
    fn the_urn_drawn_one_by_one_agrees() {
        let drawn = [Statement::Clean, Statement::Damaged, Statement::Damaged, Statement::Clean, Statement::Damaged];
        let (mut before, mut by_hand) = (Vec::new(), 0.0);
        for statement in &drawn {
            let same = before.iter().filter(|known| *known == statement).count() as f64;
            let fresh = chance(&Seen::Said(Share::Each, vec![statement.clone()]));
            by_hand += ((same + FRESH * fresh) / (before.len() as f64 + FRESH)).ln();
            before.push(statement.clone());
        }
        let all: Vec<Sighting> = drawn.into_iter().map(sighting).collect();
        assert!((log(all.iter()) - by_hand).abs() < 1e-9, "{} {by_hand}", log(all.iter()));
    }
}
