//! `diagnose`: suspects, what they explain, who cannot be told apart, and the probes worth making.

use std::collections::BTreeMap;

use anyhow::Result;
use backporch_analysis::PredictionCache;
use backporch_diagnosis::{
    Cause, Conclusion, Diagnosis, FaultFamilies, Prediction, Prior, Probe, QuirkFamilies, RankedCause, Suspect,
    candidate_count, diagnose, members, probes,
};
use backporch_evidence::{Impression, Observer, Sighting, Sightings};
use backporch_input::{InputError, Source};
use backporch_quirk::Family;
use serde::Serialize;

use crate::answer::{Answer, Found};
use crate::args::DiagnoseArgs;
use crate::progress;

/// Probability below which a suspect is not listed.
const LEAST: f64 = 1e-6;
/// Members listed, at most.
const MOST_MEMBERS: usize = 64;
/// Names told of a group in text, at most.
const MOST_NAMES: usize = 6;
/// Groups and outcomes of a probe told in text, at most; JSON has all.
const MOST_TOLD: usize = 6;

/// The JSON form.
#[derive(Debug, Serialize)]
pub struct DiagnoseAnswer {
    sightings: String,
    board: String,
    conclusion: &'static str,
    says: String,
    seen: Vec<SeenAnswer>,
    suspects: Vec<SuspectAnswer>,
    others: Vec<OtherAnswer>,
    members: Vec<MemberAnswer>,
    indistinguishable: Vec<Vec<String>>,
    probes: Vec<ProbeAnswer>,
    notes: Vec<String>,
    counted: usize,
    predictions: u64,
    #[serde(skip)]
    titles: Vec<String>,
}

/// One sighting.
#[derive(Debug, Serialize)]
struct SeenAnswer {
    at: String,
    saw: String,
}

/// A family and its likeliest member.
#[derive(Debug, Serialize)]
struct SuspectAnswer {
    quirk: String,
    parameters: BTreeMap<String, i64>,
    probability: f64,
    explains: usize,
    contradicts: usize,
}

/// A cause that is no family: healthy board, routine, none of these.
#[derive(Debug, Serialize)]
struct OtherAnswer {
    cause: String,
    probability: f64,
    explains: usize,
    contradicts: usize,
}

/// A member of a family.
#[derive(Debug, Serialize)]
struct MemberAnswer {
    quirk: String,
    parameters: BTreeMap<String, i64>,
    probability: f64,
}

#[derive(Debug, Serialize)]
struct ProbeAnswer {
    registers: BTreeMap<String, u32>,
    expected_information_bits: f64,
    outcomes: Vec<OutcomeAnswer>,
    /// What has to be done, in words.
    do_this: String,
    costs: &'static str,
}

#[derive(Debug, Serialize)]
struct OutcomeAnswer {
    sees: String,
    probability: f64,
    suspects: Vec<String>,
}

pub fn run(args: &DiagnoseArgs, answer: &mut Answer) -> Result<Found> {
    let (told, conclusion) = args.diagnosis(answer)?;
    answer.give(&told, |told| told.text(args.most))?;
    let wrong = matches!(
        conclusion,
        Conclusion::Fault | Conclusion::OneOfGroup | Conclusion::NoneOfThese | Conclusion::Routine
    );
    Ok(if wrong { Found::Something } else { Found::Nothing })
}

impl DiagnoseArgs {
    /// Reads the sightings and diagnoses them, with progress.
    pub fn diagnosis(&self, answer: &Answer) -> Result<(DiagnoseAnswer, Conclusion)> {
        let mut sightings = Sightings::open(&self.sightings)?;
        if let Some(errors) = self.observer_errors {
            let allowed = format!("{} to {}", Observer::ALLOWED.start(), Observer::ALLOWED.end());
            let observer =
                Observer::new(errors).ok_or_else(|| InputError::new("--observer-errors", errors, allowed))?;
            sightings = sightings.seen_by(observer);
        }
        let families = self.quirks.iter().map(|path| Family::from_source(&Source::read(path)?));
        let families = families.collect::<Result<Vec<_>, InputError>>()?;
        let faults = QuirkFamilies::library_and(families, sightings.bench().seed());
        let cache = PredictionCache::default();
        let bar = progress::bar(answer, "judging", members(&faults));
        let diagnosis = diagnose(&sightings, &faults, &Prior::default(), &cache, &|judged| bar.inc(judged));
        bar.finish_and_clear();
        let bar = progress::bar(answer, "choosing probes", candidate_count(&sightings));
        let probes = probes(&sightings, &faults, &diagnosis, self.probes, &cache, &|| bar.inc(1));
        bar.finish_and_clear();
        Ok((DiagnoseAnswer::new(self, &sightings, &faults, &diagnosis, &probes), diagnosis.conclusion))
    }
}

/// The word for programs.
fn word(conclusion: Conclusion) -> &'static str {
    match conclusion {
        Conclusion::NothingSeen => "nothing-seen",
        Conclusion::CannotTell => "cannot-tell",
        Conclusion::Healthy => "healthy",
        Conclusion::Routine => "routine",
        Conclusion::NoneOfThese => "none-of-these",
        Conclusion::Fault => "fault",
        Conclusion::OneOfGroup => "one-of-group",
    }
}

impl DiagnoseAnswer {
    fn new(
        args: &DiagnoseArgs,
        sightings: &Sightings,
        faults: &QuirkFamilies,
        diagnosis: &Diagnosis,
        probes: &[Probe],
    ) -> Self {
        // That it may be something else is always told, however unlikely.
        let (mut families, others): (Vec<&Suspect>, Vec<&Suspect>) =
            diagnosis.suspects.iter().partition(|suspect| matches!(suspect.best.cause, Cause::Fault { .. }));
        families.retain(|suspect| suspect.probability >= LEAST);
        Self {
            sightings: args.sightings.clone(),
            board: sightings.bench().adapter().name().to_string(),
            conclusion: word(diagnosis.conclusion),
            says: diagnosis.sentence(),
            seen: sightings.sightings().iter().map(|sighting| SeenAnswer::new(sightings, sighting)).collect(),
            titles: families.iter().map(|suspect| suspect.title.clone()).collect(),
            suspects: families.into_iter().map(SuspectAnswer::new).collect(),
            others: others.into_iter().map(OtherAnswer::new).collect(),
            members: diagnosis
                .members
                .iter()
                .filter_map(|member| MemberAnswer::new(faults, member))
                .take(MOST_MEMBERS)
                .collect(),
            indistinguishable: diagnosis.indistinguishable.clone(),
            probes: probes.iter().map(ProbeAnswer::new).collect(),
            notes: diagnosis.notes.iter().map(ToString::to_string).collect(),
            counted: sightings.weighed().1.len(),
            predictions: diagnosis.predictions,
        }
    }

    fn text(&self, most: usize) -> String {
        let mut text = format!("{}: {}\n", self.board, self.says);
        for note in &self.notes {
            text += &format!("note: {note}\n");
        }
        let all: usize = self.counted;
        for (suspect, title) in self.suspects.iter().zip(&self.titles).take(most) {
            let parameters: Vec<String> =
                suspect.parameters.iter().map(|(name, value)| format!("{name} {value}")).collect();
            let named = format!("{}  {}", suspect.quirk, parameters.join(", "));
            text += &format!(
                "  {:7}  {}\n           {title}; explains {} of {all} sightings, contradicts {}\n",
                percent(suspect.probability),
                named.trim_end(),
                suspect.explains,
                suspect.contradicts
            );
        }
        for other in &self.others {
            text += &format!("  {:7}  {}\n", percent(other.probability), other.cause);
        }
        for group in self.indistinguishable.iter().take(MOST_TOLD) {
            text += &format!("no sighting so far tells apart: {}\n", some_names(group));
        }
        for (number, probe) in (1..).zip(&self.probes) {
            text += &probe.text(number);
        }
        text
    }
}

/// The first few names, and how many more there are.
fn some_names(names: &[String]) -> String {
    let first = names.iter().take(MOST_NAMES).map(String::as_str).collect::<Vec<&str>>().join("; ");
    match names.len().saturating_sub(MOST_NAMES) {
        0 => first,
        more => format!("{first} and {more} more"),
    }
}

fn percent(probability: f64) -> String {
    match probability * 100.0 {
        small if small < 0.05 => "< 0.1 %".to_string(),
        percent => format!("{percent:.1} %"),
    }
}

impl SeenAnswer {
    fn new(sightings: &Sightings, sighting: &Sighting) -> Self {
        Self { at: sightings.place(sighting), saw: sighting.seen.to_string() }
    }
}

impl SuspectAnswer {
    fn new(suspect: &Suspect) -> Self {
        Self {
            quirk: suspect.name.clone(),
            parameters: suspect.parameters.clone(),
            probability: suspect.probability,
            explains: suspect.best.explains,
            contradicts: suspect.best.contradicts,
        }
    }
}

impl OtherAnswer {
    fn new(suspect: &Suspect) -> Self {
        Self {
            cause: suspect.name.clone(),
            probability: suspect.probability,
            explains: suspect.best.explains,
            contradicts: suspect.best.contradicts,
        }
    }
}

impl MemberAnswer {
    fn new(faults: &QuirkFamilies, member: &RankedCause) -> Option<Self> {
        let Cause::Fault { family, member: position } = member.cause else {
            return None;
        };
        let parameters = faults.member(family, position)?.parameters;
        let quirk = faults.families().get(family)?.name.clone();
        Some(Self { quirk, parameters, probability: member.probability })
    }
}

impl ProbeAnswer {
    fn new(probe: &Probe) -> Self {
        let outcome = |one: &Prediction| OutcomeAnswer {
            sees: Impression::words(one.sees),
            probability: one.probability,
            suspects: one.suspects.clone(),
        };
        Self {
            registers: probe.candidate.registers().into_iter().collect(),
            expected_information_bits: probe.bits,
            outcomes: probe.predictions.iter().map(outcome).collect(),
            do_this: probe.instruction(),
            costs: probe.candidate.change.words(),
        }
    }

    fn text(&self, number: u32) -> String {
        let bits = self.expected_information_bits;
        let mut text = format!("probe {number}: {} ({bits:.2} bits; {})\n", self.do_this, self.costs);
        for outcome in self.outcomes.iter().take(MOST_TOLD) {
            let names = some_names(&outcome.suspects);
            text += &format!("  {:7}  {}\n           {names}\n", percent(outcome.probability), outcome.sees);
        }
        let rarer: f64 = self.outcomes.iter().skip(MOST_TOLD).map(|outcome| outcome.probability).sum();
        if rarer > 0.0 {
            text += &format!("  {:7}  anything else that JSON lists\n", percent(rarer));
        }
        text
    }
}
