//! Judged causes put together: sums by family, the likeliest kept, the answer.

use std::collections::BTreeMap;

use super::member_name;
use super::{Cause, Conclusion, Diagnosis, HEALTHY, Judged, NONE_OF_THESE, ROUTINE, Suspect, TOLD_FROM, Weighed};
use crate::faults::Faults;
use crate::sightings::Note;

/// One cause with the logarithm of prior and likelihood together.
#[derive(Clone, Debug)]
struct Entry {
    cause: Cause,
    log: f64,
    judged: Judged,
}

/// A sum of exponentials.
#[derive(Clone, Copy, Debug)]
struct LogSum {
    greatest: f64,
    sum: f64,
}

impl LogSum {
    const NOTHING: Self = Self { greatest: f64::NEG_INFINITY, sum: 0.0 };

    fn add(&mut self, log: f64) {
        if log == f64::NEG_INFINITY {
            return;
        }
        if log > self.greatest {
            self.sum = self.sum * (self.greatest - log).exp() + 1.0;
            self.greatest = log;
        } else {
            self.sum += (log - self.greatest).exp();
        }
    }

    fn log(self) -> f64 {
        self.greatest + self.sum.ln()
    }
}

/// What has been judged so far.
pub(super) struct Tally {
    families: Vec<(LogSum, Option<Entry>)>,
    others: Vec<Entry>,
    kept: Vec<Entry>,
    most: usize,
    best: f64,
    predictions: u64,
}

impl Tally {
    pub fn new(families: usize, most: usize) -> Self {
        Self {
            families: vec![(LogSum::NOTHING, None); families],
            others: Vec::new(),
            kept: Vec::new(),
            most,
            best: f64::NEG_INFINITY,
            predictions: 0,
        }
    }

    /// The best logarithm so far.
    pub fn best(&self) -> f64 {
        self.best
    }

    /// Takes in a judged cause; causes come in a fixed order.
    pub fn add(&mut self, cause: Cause, prior: f64, judged: &Judged) {
        self.predictions += judged.predictions;
        let log = prior + judged.log;
        if log == f64::NEG_INFINITY {
            return;
        }
        let entry = Entry { cause, log, judged: *judged };
        self.best = self.best.max(log);
        match cause {
            Cause::Fault { family, .. } => {
                let (sum, best) = &mut self.families[family];
                sum.add(log);
                if best.as_ref().is_none_or(|best| log > best.log) {
                    *best = Some(entry.clone());
                }
            }
            _ => self.others.push(entry.clone()),
        }
        self.kept.push(entry);
        if self.kept.len() >= 2 * self.most {
            self.forget();
        }
    }

    /// Keeps the likeliest; of equally likely ones those that came first.
    fn forget(&mut self) {
        self.kept.sort_by(|one, other| other.log.total_cmp(&one.log).then(one.cause.cmp(&other.cause)));
        self.kept.truncate(self.most);
    }

    /// The answer.
    pub fn close<F: Faults>(mut self, faults: &F, anything_seen: bool, notes: Vec<Note>) -> Diagnosis {
        self.forget();
        let mut total = LogSum::NOTHING;
        self.others.iter().for_each(|entry| total.add(entry.log));
        self.families.iter().filter(|(_, best)| best.is_some()).for_each(|(sum, _)| total.add(sum.log()));
        let total = total.log();
        let probability = |log: f64| (log - total).exp();
        let weighed = |entry: &Entry| Weighed {
            cause: entry.cause,
            probability: probability(entry.log),
            explains: entry.judged.explains,
            contradicts: entry.judged.contradicts,
            by_eye: entry.judged.by_eye,
            signature: entry.judged.signature,
        };
        let of_family = |(family, (sum, best)): (usize, &(LogSum, Option<Entry>))| {
            best.as_ref().map(|best| {
                let kind = &faults.kinds()[family];
                suspect(faults, (&kind.name, &kind.title), probability(sum.log()), weighed(best))
            })
        };
        let mut suspects: Vec<Suspect> = self.families.iter().enumerate().filter_map(of_family).collect();
        suspects.extend(self.others.iter().map(|entry| {
            let name = match entry.cause {
                Cause::Healthy => HEALTHY,
                Cause::Routine => ROUTINE,
                _ => NONE_OF_THESE,
            };
            suspect(faults, name, probability(entry.log), weighed(entry))
        }));
        suspects.sort_by(|one, other| {
            other.probability.total_cmp(&one.probability).then(one.best.cause.cmp(&other.best.cause))
        });
        let members: Vec<Weighed> = self.kept.iter().map(weighed).collect();
        let groups = groups(&members);
        let conclusion = if anything_seen { conclude(&suspects, &groups) } else { Conclusion::NothingSeen };
        let name = |members: &Vec<&Weighed>| members.iter().map(|one| member_name(faults, one.cause)).collect();
        let indistinguishable = groups.iter().filter(|group| group.len() > 1).map(name).collect();
        Diagnosis { suspects, indistinguishable, conclusion, notes, predictions: self.predictions, members }
    }
}

fn suspect<F: Faults>(faults: &F, (name, title): (&str, &str), probability: f64, best: Weighed) -> Suspect {
    let parameters = match best.cause {
        Cause::Fault { family, member } => {
            faults.member(family, member).map(|member| member.parameters).unwrap_or_default()
        }
        _ => BTreeMap::new(),
    };
    Suspect { name: name.to_string(), title: title.to_string(), parameters, probability, best }
}

/// Members worth telling of, by what they predict; the likeliest group first.
fn groups(members: &[Weighed]) -> Vec<Vec<&Weighed>> {
    let mut groups: Vec<Vec<&Weighed>> = Vec::new();
    let mut places: BTreeMap<u64, usize> = BTreeMap::new();
    for member in members.iter().filter(|member| member.probability >= TOLD_FROM) {
        let Some(signature) = member.signature else {
            continue;
        };
        let place = *places.entry(signature).or_insert(groups.len());
        match groups.get_mut(place) {
            Some(group) => group.push(member),
            None => groups.push(vec![member]),
        }
    }
    groups.sort_by(|one, other| weight(other).total_cmp(&weight(one)));
    groups
}

fn weight(group: &[&Weighed]) -> f64 {
    group.iter().map(|member| member.probability).sum()
}

/// A suspect is named where it is more likely than all else together.
fn conclude(suspects: &[Suspect], groups: &[Vec<&Weighed>]) -> Conclusion {
    let likely = suspects.first().filter(|suspect| suspect.probability > 0.5);
    match likely.map(|suspect| suspect.best.cause) {
        Some(Cause::Healthy) => Conclusion::Healthy,
        Some(Cause::Routine) => Conclusion::Routine,
        Some(Cause::NoneOfThese) => Conclusion::NoneOfThese,
        Some(Cause::Fault { .. }) => Conclusion::Fault,
        None if groups.first().is_some_and(|group| weight(group) > 0.5) => Conclusion::OneOfGroup,
        None => Conclusion::CannotTell,
    }
}
