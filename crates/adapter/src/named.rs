//! Fields that decoding asks for by fixed names, compiled to positions.

use crate::register::FieldId;

/// Names of fields, each with the value taken where a profile has none of that name.
pub(crate) type Wanted = &'static [(&'static str, u32)];

/// Where a profile has them.
#[derive(Clone, Debug)]
pub(crate) struct NamedFields {
    wanted: Wanted,
    found: Vec<Option<FieldId>>,
}

impl NamedFields {
    pub fn new(wanted: Wanted, find: impl Fn(&str) -> Option<FieldId>) -> Self {
        Self { wanted, found: wanted.iter().map(|(name, _)| find(name)).collect() }
    }

    /// Those the profile has.
    pub fn ids(&self) -> impl Iterator<Item = FieldId> + '_ {
        self.found.iter().flatten().copied()
    }

    /// Whether the profile has the one of that name.
    pub fn has(&self, name: &str) -> bool {
        let position = self.wanted.iter().position(|(known, _)| *known == name);
        position.is_some_and(|at| self.found[at].is_some())
    }

    /// The values of the first `N` of them, in the order they were asked for.
    pub fn values<const N: usize>(&self, read: impl Fn(FieldId) -> u32) -> [u32; N] {
        std::array::from_fn(|at| match self.found.get(at) {
            Some(Some(field)) => read(*field),
            _ => self.wanted.get(at).map_or(0, |(_, default)| *default),
        })
    }
}

/// A colour rule and a border rule with their names compiled.
#[derive(Clone, Debug)]
pub(crate) struct Colours {
    pub fields: Vec<FieldId>,
    pub border: Option<FieldId>,
}
