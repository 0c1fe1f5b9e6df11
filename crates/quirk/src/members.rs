//! The members of a family: by number, by name, all of them in order.

use std::collections::BTreeMap;

use backporch_input::InputError;

use crate::family::Family;
use crate::quirk::Quirk;

impl Family {
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
    pub fn close(&self, values: &BTreeMap<String, i64>) -> Result<Quirk, InputError> {
        let mut chosen = self.close_default().values().to_vec();
        for (name, value) in values {
            let (position, choices) = self.parameters().find(name).ok_or_else(|| self.unknown(name))?;
            if !choices.has(*value) {
                return Err(InputError::new(self.name(), value, choices).in_field(name));
            }
            chosen[position] = *value;
        }
        Ok(Quirk::new(self.clone(), chosen.into()))
    }

    fn unknown(&self, name: &str) -> InputError {
        let names: Vec<&str> = self.parameters().iter().map(|(name, _)| name).collect();
        let allowed = if names.is_empty() { "no parameter".to_owned() } else { names.join(", ") };
        InputError::new(self.name(), name, allowed).with_nearest(name, names)
    }
}
