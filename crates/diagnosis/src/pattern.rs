//! What the bad looks have in common, in words: which lines, which pixels, how far, at which steps.

use std::collections::{BTreeMap, BTreeSet};
use std::fmt;

use backporch_evidence::{Seen, Share, Sightings, Statement};
use num_integer::gcd;

/// Distances of steps that are tried as a period.
const MOST_STEPS: u32 = 256;

/// What a fault would have to do to show what was seen; each part where all looks agree on it.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Pattern {
    /// The bad lines: their distance, and what their numbers leave on division by it where that is always the same.
    pub lines: Option<(u32, Option<u32>)>,
    /// The pixels between which all damage that was measured lies, from 0, both included.
    pub pixels: Option<(u32, u32)>,
    /// The words for what was said of every bad look: its side, its movement, its colours.
    pub words: Vec<String>,
    /// At which steps it is bad.
    pub steps: Option<Regime>,
}

/// Bad steps against clean ones.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Regime {
    /// Bad from between these two steps on.
    From {
        /// Name of the register stepped.
        register: String,
        /// The last step that was clean.
        clean: u32,
        /// The first one that was bad.
        bad: u32,
    },
    /// Bad where the step leaves one of these when divided.
    Every {
        /// Name of the register stepped.
        register: String,
        /// The divisor.
        period: u32,
        /// What is left over.
        remainders: Vec<u32>,
    },
}

/// What was said of one look.
struct Look<'a> {
    experiment: usize,
    step: u32,
    statements: &'a [Statement],
}

impl Pattern {
    /// Of the sightings at these positions that speak of single looks.
    pub(crate) fn of(sightings: &Sightings, counting: &[usize]) -> Self {
        let looks: Vec<Look> = counting.iter().filter_map(|at| look(sightings, *at)).collect();
        let (bad, clean): (Vec<&Look>, Vec<&Look>) =
            looks.iter().partition(|look| look.statements.iter().any(Statement::is_bad));
        if bad.len() < 2 {
            return Self::default();
        }
        Self {
            lines: lines(&bad),
            pixels: pixels(&bad),
            words: common_words(&bad),
            steps: regime(sightings, &bad, &clean),
        }
    }

    /// Whether the looks have nothing in common.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        *self == Self::default()
    }
}

fn look(sightings: &Sightings, at: usize) -> Option<Look<'_>> {
    let sighting = &sightings.sightings()[at];
    match &sighting.seen {
        Seen::Said(Share::Each, statements) if sighting.count == 1 => {
            Some(Look { experiment: sighting.experiment, step: sighting.steps.0, statements })
        }
        _ => None,
    }
}

/// Lines that every look whose lines were counted agrees with.
fn lines(bad: &[&Look]) -> Option<(u32, Option<u32>)> {
    let counted: Vec<(u32, u32)> = bad.iter().filter_map(|look| look.statements.iter().find_map(pattern_of)).collect();
    let period = counted.iter().map(|(period, _)| *period).fold(0, gcd);
    if counted.len() < 2 || period < 2 {
        return None;
    }
    let left: BTreeSet<u32> = counted.iter().map(|(_, first)| first % period).collect();
    Some((period, left.first().copied().filter(|_| left.len() == 1)))
}

/// The widest distance and the first line that a statement's lines follow.
fn pattern_of(statement: &Statement) -> Option<(u32, u32)> {
    match statement {
        Statement::Every { period, first: Some(first) } => Some((*period, *first)),
        Statement::Lines(lines) | Statement::Examples(lines) if lines.len() > 1 => {
            let period = lines.windows(2).map(|pair| pair[1] - pair[0]).fold(0, gcd);
            Some((period, lines[0] % period.max(1)))
        }
        _ => None,
    }
}

/// The pixels that hold all that was measured, where that was more than once.
fn pixels(bad: &[&Look]) -> Option<(u32, u32)> {
    let statements = bad.iter().flat_map(|look| look.statements);
    let measured = statements.filter_map(|statement| match statement {
        Statement::Pixels(from, to) => Some((*from, *to)),
        _ => None,
    });
    let all: Vec<(u32, u32)> = measured.collect();
    if all.len() < 2 {
        return None;
    }
    Some((all.iter().map(|ends| ends.0).min()?, all.iter().map(|ends| ends.1).max()?))
}

/// What was said of every bad look alike, beside lines and pixels.
fn common_words(bad: &[&Look]) -> Vec<String> {
    let listed = |statement: &&Statement| {
        !matches!(statement, Statement::Damaged | Statement::Lines(_) | Statement::Examples(_) | Statement::Pixels(..))
            && !matches!(statement, Statement::Every { first: Some(_), .. })
    };
    let of_all = |statement: &&Statement| bad.iter().all(|look| look.statements.contains(statement));
    let first = bad.first().map_or(&[][..], |look| look.statements);
    first.iter().filter(listed).filter(of_all).map(ToString::to_string).collect()
}

/// What tells the bad steps from the clean ones, in the experiment with the most bad looks.
fn regime(sightings: &Sightings, bad: &[&Look], clean: &[&Look]) -> Option<Regime> {
    let mut counts: BTreeMap<usize, usize> = BTreeMap::new();
    bad.iter().for_each(|look| *counts.entry(look.experiment).or_default() += 1);
    let (&experiment, _) = counts.iter().max_by_key(|(_, count)| **count)?;
    let steps = |looks: &[&Look]| -> BTreeSet<u32> {
        looks.iter().filter(|look| look.experiment == experiment).map(|look| look.step).collect()
    };
    let (bad, clean) = (steps(bad), steps(clean));
    if bad.len() < 2 || clean.is_empty() {
        return None;
    }
    let one = &sightings.experiments()[experiment];
    let register = one.bench.adapter().field_info(one.over).name.clone();
    let (first, last) = (*bad.first()?, *clean.last()?);
    if last < first {
        return Some(Regime::From { register, clean: last, bad: first });
    }
    let left = |steps: &BTreeSet<u32>, period: u32| steps.iter().map(|step| step % period).collect::<BTreeSet<u32>>();
    let tells = |period: &u32| {
        let (of_bad, of_clean) = (left(&bad, *period), left(&clean, *period));
        // A period is seen where several bad steps, or several clean ones, share what is left.
        of_bad.is_disjoint(&of_clean) && of_bad.len() + of_clean.len() < bad.len() + clean.len()
    };
    let period = (2..=MOST_STEPS).find(tells)?;
    Some(Regime::Every { register, period, remainders: left(&bad, period).into_iter().collect() })
}

impl fmt::Display for Pattern {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let mut parts = Vec::new();
        match &self.steps {
            Some(Regime::From { register, clean, bad }) => {
                parts.push(format!("begin between {register} {clean} and {bad}"));
            }
            Some(Regime::Every { register, period, remainders }) => {
                let left: Vec<String> = remainders.iter().map(ToString::to_string).collect();
                parts.push(format!("act where {register} mod {period} is {}", left.join(", ")));
            }
            None => {}
        }
        match self.lines {
            Some((period, Some(left))) => parts.push(format!("strike lines that are {left} mod {period}")),
            Some((period, None)) => {
                parts.push(format!("strike lines {period} apart, not always the same ones"));
            }
            None => {}
        }
        if let Some((from, to)) = self.pixels {
            parts.push(format!("stay within pixels {from} to {to}"));
        }
        if !self.words.is_empty() {
            parts.push(format!("always show: {}", self.words.join(", ")));
        }
        f.write_str(&parts.join("; "))
    }
}
