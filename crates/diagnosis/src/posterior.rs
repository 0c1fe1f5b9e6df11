//! Assessed causes put together: sums by family, the likeliest kept, the answer.

use std::collections::BTreeMap;

use backporch_analysis::compare::ClassBehaviour;
use backporch_evidence::Note;

use crate::assess::Assessment;
use crate::cause::Cause;
use crate::diagnosis::{Conclusion, Diagnosis, RankedCause, Suspect};
use crate::families::FaultFamilies;

/// Suspects kept with their predictions, for groups and probes.
const MOST_KEPT: usize = 1 << 14;
/// Least probability of a suspect that is named in a group.
const LEAST_GROUPED: f64 = 1e-3;

/// What there is to conclude from.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Evidence {
    /// Whether any sighting counts.
    pub counts: bool,
    /// Whether what the class does by design shows where one looked.
    pub shows_design: bool,
}

/// One cause with the logarithm of prior and likelihood together.
#[derive(Clone, Debug)]
struct Entry {
    cause: Cause,
    log: f64,
    assessment: Assessment,
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

/// What has been assessment so far.
pub(crate) struct Posterior {
    families: Vec<(LogSum, Option<Entry>)>,
    others: Vec<Entry>,
    kept: Vec<Entry>,
    best: f64,
    predictions: u64,
}

impl Posterior {
    pub fn new(families: usize) -> Self {
        Self {
            families: vec![(LogSum::NOTHING, None); families],
            others: Vec::new(),
            kept: Vec::new(),
            best: f64::NEG_INFINITY,
            predictions: 0,
        }
    }

    /// The best logarithm so far.
    pub fn best(&self) -> f64 {
        self.best
    }

    /// Takes in an assessed cause; causes come in a fixed order.
    pub fn add(&mut self, cause: Cause, prior: f64, assessment: &Assessment) {
        self.predictions += assessment.predictions;
        let log = prior + assessment.log;
        if log == f64::NEG_INFINITY {
            return;
        }
        let entry = Entry { cause, log, assessment: *assessment };
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
        if self.kept.len() >= 2 * MOST_KEPT {
            self.forget();
        }
    }

    /// Keeps the likeliest; of equally likely ones those that came first.
    fn forget(&mut self) {
        self.kept.sort_by(|one, other| other.log.total_cmp(&one.log).then(one.cause.cmp(&other.cause)));
        self.kept.truncate(MOST_KEPT);
    }

    /// The answer.
    pub fn diagnosis<F: FaultFamilies>(mut self, faults: &F, evidence: Evidence, notes: Vec<Note>) -> Diagnosis {
        self.forget();
        let mut total = LogSum::NOTHING;
        self.others.iter().for_each(|entry| total.add(entry.log));
        self.families.iter().filter(|(_, best)| best.is_some()).for_each(|(sum, _)| total.add(sum.log()));
        let total = total.log();
        let probability = |log: f64| (log - total).exp();
        let ranked = |entry: &Entry| RankedCause {
            cause: entry.cause,
            probability: probability(entry.log),
            explains: entry.assessment.explains,
            contradicts: entry.assessment.contradicts,
            by_eye: entry.assessment.by_eye,
            evidence_class: entry.assessment.evidence_class,
        };
        let suspect = |best: &Entry, log: f64| Suspect {
            name: best.cause.name(faults).to_string(),
            title: best.cause.title(faults).to_string(),
            parameters: best.cause.parameters(faults),
            probability: probability(log),
            best: ranked(best),
        };
        let of_family = |(sum, best): &(LogSum, Option<Entry>)| Some(suspect(best.as_ref()?, sum.log()));
        let mut suspects: Vec<Suspect> = self.families.iter().filter_map(of_family).collect();
        suspects.extend(self.others.iter().map(|entry| suspect(entry, entry.log)));
        suspects.sort_by(|one, other| {
            other.probability.total_cmp(&one.probability).then(one.best.cause.cmp(&other.best.cause))
        });
        let members: Vec<RankedCause> = self.kept.iter().map(ranked).collect();
        let groups = groups(&members);
        let conclusion = if evidence.counts { conclude(&suspects, &groups, evidence) } else { Conclusion::NothingSeen };
        let name = |members: &Vec<&RankedCause>| members.iter().map(|one| one.cause.full_name(faults)).collect();
        let indistinguishable = groups.iter().filter(|group| group.len() > 1).map(name).collect();
        let design = faults.design().iter().map(ClassBehaviour::from).collect();
        Diagnosis { suspects, indistinguishable, conclusion, design, notes, predictions: self.predictions, members }
    }
}

/// Members worth naming, by what they predict; the likeliest group first.
fn groups(members: &[RankedCause]) -> Vec<Vec<&RankedCause>> {
    let mut groups: Vec<Vec<&RankedCause>> = Vec::new();
    let mut places: BTreeMap<u64, usize> = BTreeMap::new();
    for member in members.iter().filter(|member| member.probability >= LEAST_GROUPED) {
        let Some(evidence_class) = member.evidence_class else {
            continue;
        };
        let place = *places.entry(evidence_class).or_insert(groups.len());
        match groups.get_mut(place) {
            Some(group) => group.push(member),
            None => groups.push(vec![member]),
        }
    }
    groups.sort_by(|one, other| weight(other).total_cmp(&weight(one)));
    groups
}

fn weight(group: &[&RankedCause]) -> f64 {
    group.iter().map(|member| member.probability).sum()
}

/// A suspect is named where it is more likely than all else together.
fn conclude(suspects: &[Suspect], groups: &[Vec<&RankedCause>], evidence: Evidence) -> Conclusion {
    let likely = suspects.first().filter(|suspect| suspect.probability > 0.5);
    match likely.map(|suspect| suspect.best.cause) {
        Some(Cause::ByDesign) if evidence.shows_design => Conclusion::ByDesign,
        Some(Cause::ByDesign) => Conclusion::Healthy,
        Some(Cause::Routine) => Conclusion::Routine,
        Some(Cause::NoneOfThese) => Conclusion::NoneOfThese,
        Some(Cause::Fault { .. }) => Conclusion::Fault,
        None if groups.first().is_some_and(|group| weight(group) > 0.5) => Conclusion::OneOfGroup,
        None => Conclusion::CannotTell,
    }
}
