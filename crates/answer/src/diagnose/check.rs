//! What the answer says of the check of the best suspects.

use backporch_diagnosis::{Against, CheckedSuspect, ModelCheck};
use backporch_evidence::Impression;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// Whether the best suspects could have led to what was seen, whatever their probabilities beside each other.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct CheckAnswer {
    /// Whether none of them could: no known fault explains all that was seen.
    pub fails: bool,
    /// How likely the nearest suspect is to be contradicted so often and so exactly, 0 to 1; it fails below 0.01.
    pub probability: f64,
    /// The suspects asked, the likeliest first.
    #[serde(default)]
    pub suspects: Vec<CheckedSuspectAnswer>,
    /// What the bad looks have in common, which a fault would have to do; empty where nothing.
    #[serde(default)]
    pub pattern: String,
}

/// A suspect that was asked whether it could have led to what was seen.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct CheckedSuspectAnswer {
    /// Its name, with its parameters.
    pub suspect: String,
    /// How likely it is to be contradicted so often and so exactly, 0 to 1.
    pub probability: f64,
    /// The sightings that stand against it.
    #[serde(default)]
    pub against: Vec<AgainstAnswer>,
}

/// A sighting that stands against a suspect.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct AgainstAnswer {
    /// Position of the sighting in `seen`, from 0.
    pub sighting: usize,
    /// What was set.
    pub at: String,
    /// What was seen.
    pub saw: String,
    /// What the suspect would show, of a single frame.
    #[serde(default)]
    pub shows: Option<String>,
}

impl CheckAnswer {
    pub(super) fn new(check: &ModelCheck) -> Self {
        let against = |one: &Against| AgainstAnswer {
            sighting: one.sighting,
            at: one.place.clone(),
            saw: one.saw.clone(),
            shows: one.shows.map(Impression::words),
        };
        let suspect = |one: &CheckedSuspect| CheckedSuspectAnswer {
            suspect: one.name.clone(),
            probability: one.probability,
            against: one.against.iter().map(against).collect(),
        };
        Self {
            fails: check.fails(),
            probability: check.probability(),
            suspects: check.suspects.iter().map(suspect).collect(),
            pattern: check.pattern.to_string(),
        }
    }

    /// Which looks stand against each suspect, and what a fault would have to do, where none of them passes.
    pub(super) fn text(&self) -> String {
        let mut text = String::new();
        if !self.fails {
            return text;
        }
        for suspect in &self.suspects {
            text += &format!("  against {}:\n", suspect.suspect);
            for one in &suspect.against {
                let shows = one.shows.as_ref().map_or_else(String::new, |shows| format!("; it would show: {shows}"));
                text += &format!("    {}: {}{shows}\n", one.at, one.saw);
            }
        }
        if !self.pattern.is_empty() {
            text += &format!("  a fault would have to: {}\n", self.pattern);
        }
        text
    }
}
