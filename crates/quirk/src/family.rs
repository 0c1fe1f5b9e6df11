//! Families: quirks as files describe them, with parameters left open.

use std::collections::BTreeMap;
use std::fmt;
use std::sync::Arc;

use backporch_form::{FormError, Source, Version1, nearest, parse};
use serde::{Deserialize, Serialize};

use crate::check::check;
use crate::language::{Action, Condition, Quantity, Value};
use crate::library::LIBRARY;
use crate::parameters::Parameters;
use crate::quirk::Quirk;

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
    pub effects: Vec<Effect>,
}

/// How well a family is known.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub enum Standing {
    /// Seen on real boards: common practice.
    Known,
    /// Thought out; nobody is known to have seen it.
    Conjectured,
}

impl fmt::Display for Standing {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Known => "known (common practice)",
            Self::Conjectured => "conjectured",
        })
    }
}

/// One effect of a family: an action, when it acts, and a threshold from which another takes its place.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Effect {
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

/// A family that holds together: every value fits its place, whatever member is chosen.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Family(Arc<FamilyForm>);

impl Family {
    /// Reads and checks a family.
    ///
    /// # Errors
    /// Names the file, line, column, field, what was found and what is allowed.
    pub fn from_source(source: &Source) -> Result<Self, FormError> {
        let form: FamilyForm = parse(source)?;
        check(source, &form)?;
        Ok(Self(Arc::new(form)))
    }

    /// Checks a family made by a program.
    ///
    /// # Errors
    /// As [`Family::from_source`], pointing into the text of [`Family::to_ron`].
    pub fn from_form(form: FamilyForm) -> Result<Self, FormError> {
        let name = form.name.clone();
        let text = Self(Arc::new(form)).to_ron();
        Self::from_source(&Source::built_in(name, text))
    }

    /// The built-in family of that name.
    #[must_use]
    pub fn built_in(name: &str) -> Option<Self> {
        let (name, text) = LIBRARY.iter().find(|(known, _)| *known == name)?;
        Self::from_source(&Source::built_in(*name, *text)).ok()
    }

    /// Names of the built-in families.
    pub fn built_in_names() -> impl ExactSizeIterator<Item = &'static str> {
        LIBRARY.iter().map(|(name, _)| *name)
    }

    /// The built-in families, in the order of the pipeline.
    pub fn all_built_in() -> impl Iterator<Item = Self> {
        Self::built_in_names().filter_map(Self::built_in)
    }

    /// The family as written.
    #[must_use]
    pub fn form(&self) -> &FamilyForm {
        &self.0
    }

    /// The family as a quirk file.
    #[must_use]
    pub fn to_ron(&self) -> String {
        let pretty = ron::ser::PrettyConfig::default();
        // A checked form holds nothing that RON cannot write.
        ron::ser::to_string_pretty(self.form(), pretty).unwrap_or_default()
    }

    /// Name used on the command line and in bench files.
    #[must_use]
    pub fn name(&self) -> &str {
        &self.0.name
    }

    /// What is wrong, in a few words.
    #[must_use]
    pub fn title(&self) -> &str {
        &self.0.title
    }

    /// The physical cause, in plain words.
    #[must_use]
    pub fn cause(&self) -> &str {
        &self.0.cause
    }

    /// How it looks on the screen.
    #[must_use]
    pub fn looks(&self) -> &str {
        &self.0.looks
    }

    /// How well it is known.
    #[must_use]
    pub fn standing(&self) -> Standing {
        self.0.standing
    }

    /// How likely the family is beside the others, a weight from 1 to 1000.
    #[must_use]
    pub fn prior(&self) -> u32 {
        self.0.prior
    }

    /// Open parameters, in the order of the file.
    #[must_use]
    pub fn parameters(&self) -> &Parameters {
        &self.0.parameters
    }

    /// Number of members, at least 1.
    #[must_use]
    pub fn count(&self) -> u64 {
        self.parameters().iter().map(|(_, choices)| choices.count()).product()
    }

    /// The member at a position below [`Family::count`]: the last parameter changes fastest.
    #[must_use]
    pub fn member(&self, position: u64) -> Option<Quirk> {
        let mut left = position;
        let mut values = Vec::with_capacity(self.parameters().len());
        for (_, choices) in self.parameters().iter().rev() {
            values.push(choices.at(left % choices.count())?);
            left /= choices.count();
        }
        values.reverse();
        (left == 0).then(|| Quirk::new(self.clone(), values.into()))
    }

    /// All members, in order, each made as it is asked for.
    pub fn quirks(&self) -> impl Iterator<Item = Quirk> + use<> {
        let family = self.clone();
        (0..self.count()).filter_map(move |position| family.member(position))
    }

    /// The member with the first value of every parameter.
    #[must_use]
    pub fn close_default(&self) -> Quirk {
        let first = self.parameters().iter().filter_map(|(_, choices)| choices.at(0));
        Quirk::new(self.clone(), first.collect())
    }

    /// The member with these values; parameters left out take their first one.
    ///
    /// # Errors
    /// A parameter the family does not have, or a value that is none of its own.
    pub fn close(&self, values: &BTreeMap<String, i64>) -> Result<Quirk, FormError> {
        let mut chosen = self.close_default().values().to_vec();
        for (name, value) in values {
            let (position, choices) = self.0.parameters.find(name).ok_or_else(|| self.unknown(name))?;
            if !choices.has(*value) {
                return Err(FormError::new(self.name(), value, choices).in_field(name));
            }
            chosen[position] = *value;
        }
        Ok(Quirk::new(self.clone(), chosen.into()))
    }

    fn unknown(&self, name: &str) -> FormError {
        let names: Vec<&str> = self.0.parameters.iter().map(|(name, _)| name).collect();
        let allowed = if names.is_empty() { "no parameter".to_owned() } else { names.join(", ") };
        let error = FormError::new(self.name(), name, allowed);
        match nearest(name, names) {
            Some(guess) => error.with_help(format!("did you mean {guess}?")),
            None => error,
        }
    }
}
