//! Families: quirks as files describe them, with parameters left open.

use std::path::Path;
use std::sync::Arc;

use backporch_input::{InputError, Source, parse};

use crate::check::check;
use crate::family_form::{FamilyForm, Standing};
use crate::library::QUIRKS;
use crate::parameters::Parameters;

/// A family that holds together: every value fits its place, whatever member is chosen.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Family(Arc<FamilyForm>);

impl Family {
    /// Reads and checks a family.
    ///
    /// # Errors
    /// Names the file, line, column, field, what was found and what is allowed.
    pub fn from_source(source: &Source) -> Result<Self, InputError> {
        let form: FamilyForm = parse(source)?;
        check(source, &form)?;
        Ok(Self(Arc::new(form)))
    }

    /// Checks a family made by a program.
    ///
    /// # Errors
    /// As [`Family::from_source`], pointing into the text of [`Family::to_ron`].
    pub fn from_form(form: FamilyForm) -> Result<Self, InputError> {
        let name = form.name.clone();
        let text = Self(Arc::new(form)).to_ron();
        Self::from_source(&Source::built_in(name, text))
    }

    /// The built-in family of that name.
    #[must_use]
    pub fn built_in(name: &str) -> Option<Self> {
        Self::from_source(&QUIRKS.source(name)?).ok()
    }

    /// The family of that name: built in, or else the file of that path, from `folder`.
    ///
    /// # Errors
    /// A name that is neither; otherwise as [`from_source`](Self::from_source).
    pub fn open(name: &str, folder: &Path) -> Result<Self, InputError> {
        Self::from_source(&QUIRKS.open(name, folder)?)
    }

    /// Names of the built-in families.
    pub fn built_in_names() -> impl ExactSizeIterator<Item = &'static str> {
        QUIRKS.names()
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
}
