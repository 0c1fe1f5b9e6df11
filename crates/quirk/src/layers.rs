//! Layers: the plain board, what its class does by design, and faults.
//!
//! Both layers above the plain board are in the quirk language, so that one
//! implementation runs them. The design acts first: a fault acts on a board as
//! it is built.

use std::sync::Arc;

use backporch_adapter::{Adapter, Basis, ByDesign};
use backporch_input::InputError;

use crate::family::Family;
use crate::quirk::Quirk;
use crate::stack::QuirkStack;

/// Something a class does by design, ready to run.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct DesignQuirk {
    /// It, in the quirk language.
    pub quirk: Quirk,
    /// Name in the profile.
    pub name: String,
    /// What it does, for people.
    pub says: String,
    /// Where that is known from.
    pub basis: Basis,
}

impl DesignQuirk {
    fn new(adapter: &Adapter, entry: &ByDesign) -> Result<Option<Self>, InputError> {
        let Some(behaviour) = &entry.does else {
            return Ok(None);
        };
        let family = Family::built_in(&behaviour.family).ok_or_else(|| {
            let known: Vec<&str> = Family::built_in_names().collect();
            let error = InputError::new(adapter.name(), &behaviour.family, known.join(", ")).in_field("by_design");
            match backporch_input::nearest(&behaviour.family, known) {
                Some(guess) => error.with_help(format!("did you mean {guess}?")),
                None => error,
            }
        })?;
        let closed = family.close(&behaviour.parameters);
        let quirk = closed
            .map_err(|error| InputError::new(adapter.name(), error.found(), error.allowed()).in_field("by_design"))?;
        let ByDesign { name, says, basis, .. } = entry.clone();
        Ok(Some(Self { quirk, name, says, basis }))
    }
}

/// A board in three layers: plain, by design, and with its faults.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Layers {
    design: Arc<[DesignQuirk]>,
    faults: Vec<Quirk>,
    seed: u64,
}

impl Layers {
    /// What an adapter's class does by design, under faults; whatever acts by
    /// chance draws from `seed`.
    ///
    /// # Errors
    /// Where the profile names a family or a parameter there is not.
    pub fn new(adapter: &Adapter, faults: Vec<Quirk>, seed: u64) -> Result<Self, InputError> {
        let entries = adapter.profile().by_design.iter();
        let design: Vec<Option<DesignQuirk>> =
            entries.map(|entry| DesignQuirk::new(adapter, entry)).collect::<Result<_, _>>()?;
        Ok(Self { design: design.into_iter().flatten().collect(), faults, seed })
    }

    /// The same without what the class does by design.
    #[must_use]
    pub fn without_design(self) -> Self {
        Self { design: Arc::new([]), ..self }
    }

    /// The same with other faults.
    #[must_use]
    pub fn with_faults(&self, faults: Vec<Quirk>) -> Self {
        Self { faults, ..self.clone() }
    }

    /// What the class does by design, in the order in which it acts.
    #[must_use]
    pub fn design(&self) -> &[DesignQuirk] {
        &self.design
    }

    /// The faults, in the order in which they act.
    #[must_use]
    pub fn faults(&self) -> &[Quirk] {
        &self.faults
    }

    /// Whether nothing acts: the plain board.
    #[must_use]
    pub fn is_plain(&self) -> bool {
        self.design.is_empty() && self.faults.is_empty()
    }

    /// The seed of whatever acts by chance.
    #[must_use]
    pub fn seed(&self) -> u64 {
        self.seed
    }

    /// The tap of a board as its class is built.
    #[must_use]
    pub fn by_design(&self) -> QuirkStack {
        QuirkStack::layered(Arc::clone(&self.design), Vec::new(), self.seed)
    }

    /// The tap of a board as built, under its faults.
    #[must_use]
    pub fn faulty(&self) -> QuirkStack {
        self.under(self.faults.clone())
    }

    /// The tap of a board as built, under other faults.
    #[must_use]
    pub fn under(&self, faults: Vec<Quirk>) -> QuirkStack {
        QuirkStack::layered(Arc::clone(&self.design), faults, self.seed)
    }
}
