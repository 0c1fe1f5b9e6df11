//! None of these: a fault of which nothing is known but that it is regular.
//!
//! Whatever the unknown fault does, it tends to do again: after some sightings
//! the next one says of the lines, of the side and so on most likely what was
//! said of them before, each by how often it was; and with a weight of
//! [`FRESH`] looks it says something new, by the chance that an observer would
//! say just that at random. Order plays no part in that (an urn to which each
//! draw adds another of its kind), and the joint probability of all draws is a
//! ratio of gamma functions. Each kind of statement has an urn of its own.
//!
//! A family has to say *when* each thing is seen to be better than this.

use std::collections::BTreeMap;

use backporch_evidence::likelihood::{chance, chance_of, looks};
use backporch_evidence::{Seen, Share, Sighting, Statement};
use libm::lgamma;

/// Weight of something new, in looks.
const FRESH: f64 = 2.0;

/// What a statement speaks of.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum Topic {
    State,
    Lines,
    Side,
    Band,
    Rest,
    Sequence,
}

/// What was said of each topic, with its chance and weight in looks.
type Urn = BTreeMap<String, (f64, f64)>;

/// Natural logarithm of the probability of the sightings.
pub(crate) fn log<'a>(sightings: impl Iterator<Item = &'a Sighting>) -> f64 {
    let mut urns: BTreeMap<Topic, Urn> = BTreeMap::new();
    let mut draw = |topic: Topic, said: String, chance: f64, weight: f64| {
        urns.entry(topic).or_default().entry(said).or_insert((chance, 0.0)).1 += weight;
    };
    for sighting in sightings {
        match &sighting.seen {
            Seen::Said(Share::Each | Share::Most, statements) => {
                for statement in statements {
                    draw(topic(statement), statement.to_string(), chance_of(statement), looks(sighting.count));
                }
            }
            seen => draw(Topic::Sequence, seen.to_string(), chance(seen), 1.0),
        }
    }
    urns.values().map(log_of).sum()
}

fn log_of(urn: &Urn) -> f64 {
    let kind = |(chance, weight): &(f64, f64)| lgamma(FRESH * chance + weight) - lgamma(FRESH * chance);
    let total: f64 = urn.values().map(|(_, weight)| weight).sum();
    urn.values().map(kind).sum::<f64>() - (lgamma(FRESH + total) - lgamma(FRESH))
}

fn topic(statement: &Statement) -> Topic {
    use Statement as S;
    match statement {
        S::Clean | S::Damaged | S::EdgeDamaged | S::Broken | S::AllOfIt => Topic::State,
        S::Displaced | S::Narrower | S::WrongColours | S::Tinged(_) | S::Specks | S::NoPicture => Topic::State,
        S::Every { .. } | S::FewLines | S::SomeLines | S::MostLines | S::Lines(_) | S::Count(_) | S::Examples(_) => {
            Topic::Lines
        }
        S::Right | S::Left | S::RightEdge | S::LeftEdge | S::Across | S::Pixels(..) => Topic::Side,
        S::LeftmostPixel(_) | S::RightmostPixel(_) => Topic::Side,
        S::Top | S::Bottom | S::UppermostLine(_) | S::SecondLine(_) | S::LowermostLine(_) => Topic::Band,
        S::ShiftedBy(_) | S::Shifted(..) | S::ShiftedHalfLine | S::Flickers | S::DiffersBetweenRuns => Topic::Rest,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn sighting(statement: Statement) -> Sighting {
        let seen = Seen::Said(Share::Each, vec![statement]);
        Sighting { experiment: 0, steps: (0, 0), count: 1, seen, setups: Vec::new() }
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
