//! The file form of families.

use std::fmt;

use backporch_input::Version1;
use serde::{Deserialize, Serialize};

use crate::language::{Action, Condition, Quantity, Value};
use crate::parameters::Parameters;

/// The file form of a family (RON, one a file). A family without parameters is one closed quirk.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct FamilyForm {
    /// Version of the file form.
    pub version: Version1,
    /// Name used on the command line and in bench files: small letters, digits, hyphens.
    pub name: String,
    /// What is wrong, in a few words.
    pub title: String,
    /// The physical cause, in plain words.
    pub cause: String,
    /// How it looks on the screen.
    pub looks: String,
    /// How well it is known.
    pub standing: Standing,
    /// How likely the family is beside the others, from 1 to 1000; its members share it evenly.
    pub prior: u32,
    /// Open parameters.
    #[serde(default, skip_serializing_if = "Parameters::is_empty")]
    pub parameters: Parameters,
    /// What it does, in the order in which the effects act within a stage.
    pub effects: Vec<FamilyEffect>,
}

/// How well a family is known.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub enum Standing {
    /// Seen on real boards: common practice.
    Known,
    /// Thought out; not known to have been seen on a board.
    Conjectured,
}

impl Standing {
    /// The standing in one word.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Known => "known",
            Self::Conjectured => "conjectured",
        }
    }
}

impl fmt::Display for Standing {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.word())?;
        f.write_str(if *self == Self::Known { " (common practice)" } else { "" })
    }
}

/// One effect of a family: an action, when it acts, and a threshold from which another takes its place.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct FamilyEffect {
    /// When it acts.
    #[serde(default, skip_serializing_if = "is_always")]
    pub when: Condition<Value>,
    /// What it does.
    pub does: Action<Value>,
    /// What it does instead, from where on.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub threshold: Option<Threshold>,
}

/// From some value of a quantity on, another action takes the place of an effect's own.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Threshold {
    /// What is measured.
    pub of: Quantity<Value>,
    /// Least value at which the other action acts.
    pub from: Value,
    /// The other action.
    pub does: Action<Value>,
}

fn is_always(condition: &Condition<Value>) -> bool {
    *condition == Condition::Always
}
