//! Quirks: members of a family, every parameter chosen.

use std::collections::BTreeMap;
use std::fmt;
use std::sync::Arc;

use crate::family::Family;
use crate::language::{Action, Condition, Quantity, Value};

/// A fault with every parameter chosen.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Quirk {
    family: Family,
    values: Arc<[i64]>,
}

/// An effect of a quirk, its numbers filled in.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct ClosedEffect {
    pub when: Condition<i32>,
    pub does: Action<i32>,
    pub threshold: Option<ClosedThreshold>,
}

/// A threshold of a quirk, its numbers filled in.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct ClosedThreshold {
    pub of: Quantity<i32>,
    pub from: i32,
    pub does: Action<i32>,
}

impl Quirk {
    /// One value for each parameter of the family, each of them one of its own.
    pub(crate) fn new(family: Family, values: Arc<[i64]>) -> Self {
        Self { family, values }
    }

    /// Name of its family.
    #[must_use]
    pub fn name(&self) -> &str {
        self.family.name()
    }

    /// The family it is a member of.
    #[must_use]
    pub fn family(&self) -> &Family {
        &self.family
    }

    /// Values of the parameters, in the family's order.
    #[must_use]
    pub fn values(&self) -> &[i64] {
        &self.values
    }

    /// Values of the parameters by name.
    #[must_use]
    pub fn parameters(&self) -> BTreeMap<String, i64> {
        let names = self.family.parameters().iter().map(|(name, _)| name.to_owned());
        names.zip(self.values.iter().copied()).collect()
    }

    /// How likely it is beside the members of all families: the family's prior, shared evenly.
    #[must_use]
    pub fn prior(&self) -> f64 {
        f64::from(self.family.prior()) / self.family.count() as f64
    }

    /// The number a value stands for.
    pub(crate) fn number(&self, value: &Value) -> i32 {
        let number = match value {
            Value::Number(number) => *number,
            Value::Parameter(name) => {
                self.family.parameters().find(name).map_or(0, |(position, _)| self.values[position])
            }
        };
        // The check of the family holds every value within 32 bits.
        number as i32
    }

    /// What it does, with every number filled in.
    pub(crate) fn effects(&self) -> impl Iterator<Item = ClosedEffect> + '_ {
        self.family.form().effects.iter().map(|effect| {
            let number = &mut |value: &Value| self.number(value);
            ClosedEffect {
                when: effect.when.map(number),
                does: effect.does.map(number),
                threshold: effect.threshold.as_ref().map(|threshold| ClosedThreshold {
                    of: threshold.of.map(number),
                    from: number(&threshold.from),
                    does: threshold.does.map(number),
                }),
            }
        })
    }
}

/// `row-reload(row_bytes: 256, reloads: 1)`; the bare name where no parameter is open.
impl fmt::Display for Quirk {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.name())?;
        for (position, ((name, _), value)) in self.family.parameters().iter().zip(self.values.iter()).enumerate() {
            write!(f, "{}{name}: {value}", if position == 0 { "(" } else { ", " })?;
        }
        f.write_str(if self.values.is_empty() { "" } else { ")" })
    }
}
