//! Assessed causes put together: sums by family, the likeliest kept, the answer.

use std::collections::BTreeMap;

use backporch_analysis::compare::ClassBehaviour;
use backporch_evidence::Note;

use crate::assess::Assessment;
use crate::cause::Cause;
use crate::check::ModelCheck;
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
    unnoticed: f64,
    /// What the class does by design leaves this impression.
    design_by_eye: Option<u64>,
    /// Known causes but for some looks, and the priors of those causes.
    varied: (LogSum, LogSum),
}

impl Posterior {
    /// `unnoticed` is the natural logarithm of the factor on causes that leave the impression that what the class does
    /// by design leaves by itself, `design_by_eye`.
    pub fn new(families: usize, unnoticed: f64, design_by_eye: Option<u64>) -> Self {
        Self {
            unnoticed,
            design_by_eye,
            varied: (LogSum::NOTHING, LogSum::NOTHING),
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
        let adds_nothing =
            cause != Cause::ByDesign && assessment.by_eye.is_some() && assessment.by_eye == self.design_by_eye;
        let prior = if adds_nothing { prior + self.unnoticed } else { prior };
        if assessment.varied > f64::NEG_INFINITY {
            self.varied.0.add(prior + assessment.varied);
            self.varied.1.add(prior);
        }
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

    /// Adds that it is none of these: one half of the prior for a fault of which nothing is known, one half for one that
    /// is like a known cause but for some looks.
    pub fn add_none_of_these(&mut self, prior: f64, mut assessment: Assessment) {
        let half = 0.5_f64.ln();
        let mut log = LogSum::NOTHING;
        log.add(half + assessment.log);
        let (varied, priors) = (self.varied.0.log(), self.varied.1.log());
        if varied > f64::NEG_INFINITY {
            log.add(half + varied - priors);
        }
        assessment.log = log.log();
        assessment.varied = f64::NEG_INFINITY;
        self.add(Cause::NoneOfThese, prior, &assessment);
    }

    /// The likeliest known causes so far, each the best of its family, with their probabilities among all causes.
    pub fn leaders(&self, most: usize) -> Vec<(Cause, f64)> {
        let total = self.total().log();
        let best = self.families.iter().filter_map(|(sum, best)| Some((best.as_ref()?.cause, sum.log())));
        let others = self.others.iter().map(|entry| (entry.cause, entry.log));
        let known = best.chain(others).filter(|(cause, _)| *cause != Cause::NoneOfThese);
        let mut known: Vec<(Cause, f64)> = known.map(|(cause, log)| (cause, (log - total).exp())).collect();
        known.sort_by(|one, other| other.1.total_cmp(&one.1).then(one.0.cmp(&other.0)));
        known.truncate(most);
        known
    }

    /// No known cause passes: none of these is at least as likely as all of them together, and the more so the smaller
    /// the probability of what was seen, held against the least that is believed.
    pub fn doubt(&mut self, odds: f64) {
        let known = |entry: &Entry| entry.cause != Cause::NoneOfThese;
        let mut rest = LogSum::NOTHING;
        self.others.iter().filter(|entry| known(entry)).for_each(|entry| rest.add(entry.log));
        self.families.iter().filter(|(_, best)| best.is_some()).for_each(|(sum, _)| rest.add(sum.log()));
        let least = rest.log() + odds.ln();
        for entry in self.others.iter_mut().chain(&mut self.kept).filter(|entry| !known(entry)) {
            entry.log = entry.log.max(least);
        }
    }

    fn total(&self) -> LogSum {
        let mut total = LogSum::NOTHING;
        self.others.iter().for_each(|entry| total.add(entry.log));
        self.families.iter().filter(|(_, best)| best.is_some()).for_each(|(sum, _)| total.add(sum.log()));
        total
    }

    /// Keeps the likeliest; of equally likely ones those that came first.
    fn forget(&mut self) {
        self.kept.sort_by(|one, other| other.log.total_cmp(&one.log).then(one.cause.cmp(&other.cause)));
        self.kept.truncate(MOST_KEPT);
    }

    /// The answer.
    pub fn diagnosis<F: FaultFamilies>(
        mut self,
        faults: &F,
        evidence: Evidence,
        check: ModelCheck,
        notes: Vec<Note>,
    ) -> Diagnosis {
        self.forget();
        let total = self.total().log();
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
        let conclusion = if !evidence.counts {
            Conclusion::NothingSeen
        } else if check.fails() {
            Conclusion::NoneOfThese
        } else {
            conclude(&suspects, &groups, evidence)
        };
        let name = |members: &Vec<&RankedCause>| members.iter().map(|one| one.cause.full_name(faults)).collect();
        let indistinguishable = groups.iter().filter(|group| group.len() > 1).map(name).collect();
        let design = faults.design().iter().map(ClassBehaviour::from).collect();
        let predictions = self.predictions;
        Diagnosis { suspects, indistinguishable, conclusion, check, design, notes, predictions, members }
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
