//! `diagnose`: the faults that could explain what was seen, and the probes worth making next.

mod check;
mod guess;

use std::collections::BTreeMap;

use backporch_analysis::{Specimen, WhichFrame, WriteMoment};
use backporch_diagnosis::{
    Cause, Conclusion, Diagnosis, FaultFamilies, Guess, Prediction, Probe, QuirkFamilies, RankedCause, Suspect,
};
use backporch_evidence::{Impression, Sightings};
use backporch_quirk::Family;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

pub use self::check::{AgainstAnswer, CheckAnswer, CheckedSuspectAnswer};
pub use self::guess::GuessAnswer;
use crate::compare::ClassBehaviourAnswer;
use crate::words::{self, percent};

/// Probability below which a suspect is not listed.
const LEAST: f64 = 1e-6;
/// Members listed, at most.
const MOST_MEMBERS: usize = 64;
/// Names of a group given in text, at most; of a larger one the rest is a count.
const MOST_NAMES: usize = 2;
/// Groups and outcomes of a probe given in text, at most; JSON has all.
const MOST_IN_TEXT: usize = 6;

/// The faults that could explain sightings, ranked.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct DiagnoseAnswer {
    /// The sightings: built-in name or path.
    #[serde(default)]
    pub sightings: String,
    /// The adapter profile.
    #[serde(default)]
    pub board: String,
    /// What it comes to.
    #[serde(default)]
    pub conclusion: ConclusionAnswer,
    /// The conclusion in a sentence.
    #[serde(default)]
    pub says: String,
    /// The sightings that were weighed.
    #[serde(default)]
    pub seen: Vec<SightingAnswer>,
    /// The likeliest member of each family, with the probability of the whole family; the likeliest first.
    pub suspects: Vec<SuspectAnswer>,
    /// Causes that are no family: a board as its class is built, the routine, none of these.
    #[serde(default)]
    pub others: Vec<OtherCauseAnswer>,
    /// What the class does by design, whatever the fault.
    #[serde(default)]
    pub class: Vec<ClassBehaviourAnswer>,
    /// The likeliest members of all families, each with its own probability.
    #[serde(default)]
    pub members: Vec<MemberAnswer>,
    /// Groups of suspects that no sighting so far tells apart.
    #[serde(default)]
    pub indistinguishable: Vec<Vec<String>>,
    /// Whether the best suspects could have led to what was seen.
    #[serde(default)]
    pub check: CheckAnswer,
    /// Families put together from what was seen, where no known fault explains it; the best first.
    #[serde(default)]
    pub guesses: Vec<GuessAnswer>,
    /// Families that are not the library's.
    #[serde(default)]
    pub own_families: Vec<FamilyAnswer>,
    /// Experiments worth making next, the best first.
    #[serde(default)]
    pub probes: Vec<ProbeAnswer>,
    /// What else should be known.
    #[serde(default)]
    pub notes: Vec<String>,
    /// Sightings that were counted.
    #[serde(default)]
    pub counted: usize,
    /// Frames that were predicted.
    #[serde(default)]
    pub predictions: u64,
}

/// What a diagnosis comes to.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum ConclusionAnswer {
    /// There is nothing to go by.
    NothingSeen,
    /// What was seen fits too much.
    #[default]
    CannotTell,
    /// What every board of the class does by design.
    ByDesign,
    /// A board without faults.
    Healthy,
    /// The routine.
    Routine,
    /// No fault of the library.
    NoneOfThese,
    /// One fault.
    Fault,
    /// One of several faults that look alike.
    OneOfGroup,
}

/// One sighting.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct SightingAnswer {
    /// What was set.
    pub at: String,
    /// What was seen.
    pub saw: String,
}

/// A family of faults and its likeliest member.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct SuspectAnswer {
    /// The family.
    pub quirk: String,
    /// What it is, in a few words.
    #[serde(default)]
    pub title: String,
    /// Parameters of the likeliest member.
    #[serde(default)]
    pub parameters: BTreeMap<String, i64>,
    /// Probability of the whole family, 0 to 1.
    pub probability: f64,
    /// Sightings that it explains.
    pub explains: usize,
    /// Sightings that speak against it.
    pub contradicts: usize,
}

/// A family of faults that was given beside the library's.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct FamilyAnswer {
    /// Its name.
    pub quirk: String,
    /// Its file, in RON.
    pub text: String,
}

/// A cause that is no family of faults.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct OtherCauseAnswer {
    /// The cause.
    pub cause: String,
    /// Probability, 0 to 1.
    pub probability: f64,
    /// Sightings that it explains.
    pub explains: usize,
    /// Sightings that speak against it.
    pub contradicts: usize,
}

/// A member of a family.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct MemberAnswer {
    /// The family.
    pub quirk: String,
    /// Its parameters.
    #[serde(default)]
    pub parameters: BTreeMap<String, i64>,
    /// Its own probability, 0 to 1.
    pub probability: f64,
}

/// An experiment worth making.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ProbeAnswer {
    /// Registers to set.
    pub registers: BTreeMap<String, u32>,
    /// What it is expected to tell, in bits.
    pub expected_information_bits: f64,
    /// How likely it shows if the leading suspect is wrong, 0 to 1.
    #[serde(default)]
    pub denial: f64,
    /// What may be seen, the likeliest first.
    #[serde(default)]
    pub outcomes: Vec<OutcomeAnswer>,
    /// What has to be done, in words.
    #[serde(default)]
    pub do_this: String,
    /// What it costs, in words.
    #[serde(default)]
    pub costs: String,
    /// When in the frame the registers are written: `ActiveArea`, `Retrace` or `Routine`.
    #[serde(default)]
    #[schemars(with = "String")]
    pub moment: WriteMoment,
    /// Whether one looks once the picture has `Settled`, or while it is `Moving`.
    #[serde(default)]
    #[schemars(with = "String")]
    pub look: WhichFrame,
    /// The board looked at: the `Suspected` one, or `Another` of its class.
    #[serde(default)]
    #[schemars(with = "String")]
    pub specimen: Specimen,
}

/// What a probe may show.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct OutcomeAnswer {
    /// What is seen, in words.
    pub sees: String,
    /// How likely that is, 0 to 1.
    #[serde(default)]
    pub probability: f64,
    /// The suspects that it leaves.
    #[serde(default)]
    pub suspects: Vec<String>,
}

impl From<Conclusion> for ConclusionAnswer {
    fn from(conclusion: Conclusion) -> Self {
        match conclusion {
            Conclusion::NothingSeen => Self::NothingSeen,
            Conclusion::CannotTell => Self::CannotTell,
            Conclusion::ByDesign => Self::ByDesign,
            Conclusion::Healthy => Self::Healthy,
            Conclusion::Routine => Self::Routine,
            Conclusion::NoneOfThese => Self::NoneOfThese,
            Conclusion::Fault => Self::Fault,
            Conclusion::OneOfGroup => Self::OneOfGroup,
        }
    }
}

impl ConclusionAnswer {
    /// Whether something is wrong with the picture, whatever the cause.
    #[must_use]
    pub fn is_wrong(self) -> bool {
        match self {
            Self::Fault | Self::OneOfGroup | Self::NoneOfThese | Self::Routine | Self::ByDesign => true,
            Self::NothingSeen | Self::CannotTell | Self::Healthy => false,
        }
    }
}

impl DiagnoseAnswer {
    /// The answer to `sightings`, which were opened as `name` and diagnosed with `faults`.
    #[must_use]
    pub fn new(
        name: &str,
        sightings: &Sightings,
        faults: &QuirkFamilies,
        diagnosis: &Diagnosis,
        probes: &[Probe],
    ) -> Self {
        // That it may be something else is always said, however unlikely.
        let (mut families, others): (Vec<&Suspect>, Vec<&Suspect>) =
            diagnosis.suspects.iter().partition(|suspect| matches!(suspect.best.cause, Cause::Fault { .. }));
        families.retain(|suspect| suspect.probability >= LEAST);
        let seen = sightings.sightings().iter();
        let members = diagnosis.members.iter().filter_map(|member| MemberAnswer::new(faults, member));
        Self {
            sightings: name.to_string(),
            board: sightings.bench().adapter().name().to_string(),
            conclusion: diagnosis.conclusion.into(),
            says: diagnosis.sentence(),
            seen: seen.map(|one| SightingAnswer { at: sightings.place(one), saw: one.seen.to_string() }).collect(),
            suspects: families.into_iter().map(SuspectAnswer::new).collect(),
            others: others.into_iter().map(OtherCauseAnswer::new).collect(),
            class: diagnosis.design.iter().map(Into::into).collect(),
            members: members.take(MOST_MEMBERS).collect(),
            indistinguishable: diagnosis.indistinguishable.clone(),
            check: CheckAnswer::new(&diagnosis.check),
            guesses: Vec::new(),
            own_families: own_families(faults),
            probes: probes.iter().map(ProbeAnswer::new).collect(),
            notes: diagnosis.notes.iter().map(ToString::to_string).collect(),
            counted: sightings.weighed().1.len(),
            predictions: diagnosis.predictions,
        }
    }

    /// The same with notes that were made beside the sightings, before its own.
    #[must_use]
    pub fn with_notes(mut self, notes: Vec<String>) -> Self {
        self.notes.splice(..0, notes);
        self
    }

    /// The same with families that were put together from what was seen.
    #[must_use]
    pub fn with_guesses(self, guesses: &[Guess]) -> Self {
        Self { guesses: guesses.iter().map(GuessAnswer::new).collect(), ..self }
    }

    /// The answer in words, with `most` suspects at most.
    #[must_use]
    pub fn text(&self, most: usize) -> String {
        let mut text = format!("{}: {}\n", self.board, self.says);
        for note in &self.notes {
            text += &format!("note: {note}\n");
        }
        text += &self.check.text();
        text.extend(self.guesses.iter().map(|guess| guess.text(self.counted)));
        if self.conclusion == ConclusionAnswer::ByDesign {
            text.extend(self.class.iter().map(|behaviour| format!("  {}\n", behaviour.text())));
        }
        text.extend(self.suspects.iter().take(most).map(|suspect| suspect.text(self.counted)));
        for other in &self.others {
            text += &suspect_line(other.probability, &other.cause, other.explains, self.counted);
        }
        for group in self.indistinguishable.iter().take(MOST_IN_TEXT) {
            text += &format!(
                "{} that no sighting so far tells apart: {}\n",
                words::counted(group.len() as u64, "suspect"),
                some_names(group)
            );
        }
        text.extend((1..).zip(&self.probes).map(|(number, probe)| probe.text(number)));
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

/// The families that the library has not, or has otherwise.
fn own_families(faults: &QuirkFamilies) -> Vec<FamilyAnswer> {
    let of_library =
        |family: &Family| Family::built_in(family.name()).is_some_and(|known| known.form() == family.form());
    let own = faults.definitions().iter().filter(|family| !of_library(family));
    own.map(|family| FamilyAnswer { quirk: family.name().to_string(), text: family.to_ron() }).collect()
}

/// One suspect in one line.
fn suspect_line(probability: f64, named: &str, explains: usize, counted: usize) -> String {
    format!("  {:7}  {named}; explains {explains} of {counted}\n", percent(probability))
}

impl SuspectAnswer {
    fn new(suspect: &Suspect) -> Self {
        Self {
            quirk: suspect.name.clone(),
            title: suspect.title.clone(),
            parameters: suspect.parameters.clone(),
            probability: suspect.probability,
            explains: suspect.best.explains,
            contradicts: suspect.best.contradicts,
        }
    }

    fn text(&self, counted: usize) -> String {
        let settings = words::settings(&self.parameters);
        let named = if settings.is_empty() { String::new() } else { format!(" ({settings})") };
        let named = format!("{}{named}: {}", self.quirk, self.title);
        suspect_line(self.probability, &named, self.explains, counted)
    }
}

impl OtherCauseAnswer {
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
            denial: probe.denial,
            outcomes: probe.predictions.iter().map(outcome).collect(),
            do_this: probe.instruction(),
            costs: probe.candidate.change.words().to_string(),
            moment: probe.candidate.experiment.conditions.moment,
            look: probe.candidate.experiment.conditions.look,
            specimen: probe.candidate.experiment.conditions.specimen,
        }
    }

    fn text(&self, number: u32) -> String {
        let bits = self.expected_information_bits;
        let denial = self.denial * 100.0;
        let mut text = format!(
            "probe {number}: {} ({bits:.2} bits; would show in {denial:.0} % if the first suspect is wrong; {})\n",
            self.do_this, self.costs
        );
        for outcome in self.outcomes.iter().take(MOST_IN_TEXT) {
            let names = some_names(&outcome.suspects);
            text += &format!("  {:7}  {}: {names}\n", percent(outcome.probability), outcome.sees);
        }
        let rarer: f64 = self.outcomes.iter().skip(MOST_IN_TEXT).map(|outcome| outcome.probability).sum();
        if rarer > 0.0 {
            text += &format!("  {:7}  anything else that JSON lists\n", percent(rarer));
        }
        text
    }
}
