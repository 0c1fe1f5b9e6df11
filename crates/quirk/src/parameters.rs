//! Open parameters: the values a family leaves open, in the order in which it lists them.

use std::fmt;

use backporch_input::refuse;
use serde::de::{Deserialize, Deserializer, MapAccess, Visitor};
use serde::ser::{Serialize, Serializer};
use serde::{Deserialize as Read, Serialize as Write};

/// A parameter may have this many values.
pub(crate) const MOST_VALUES: u64 = 1 << 16;

/// The values a parameter may have, in order; the first is its default.
#[derive(Clone, Debug, PartialEq, Eq, Hash, Read, Write)]
#[serde(deny_unknown_fields)]
pub enum Choices {
    /// These.
    Choice(Vec<i64>),
    /// Rising from one number to another at an even step.
    Range {
        /// The first.
        from: i64,
        /// The last, where the step meets it.
        to: i64,
        /// From one to the next; 1 if left out.
        #[serde(default = "one")]
        step: i64,
    },
}

fn one() -> i64 {
    1
}

impl Choices {
    /// Number of values; 0 where bounds or step are the wrong way round.
    #[must_use]
    pub fn count(&self) -> u64 {
        match self {
            Self::Choice(values) => values.len() as u64,
            Self::Range { from, to, step } if *step > 0 && to >= from => (to.abs_diff(*from)) / step.unsigned_abs() + 1,
            Self::Range { .. } => 0,
        }
    }

    /// The value at a position below [`Choices::count`].
    #[must_use]
    pub fn at(&self, position: u64) -> Option<i64> {
        match self {
            Self::Choice(values) => values.get(usize::try_from(position).ok()?).copied(),
            Self::Range { from, step, .. } => {
                let up = i64::try_from(position).ok()?.checked_mul(*step)?;
                (position < self.count()).then(|| from + up)
            }
        }
    }

    /// All values in order.
    pub fn values(&self) -> impl Iterator<Item = i64> + '_ {
        (0..self.count()).filter_map(|position| self.at(position))
    }

    /// Whether a value is one of them.
    #[must_use]
    pub fn has(&self, value: i64) -> bool {
        match self {
            Self::Choice(values) => values.contains(&value),
            Self::Range { from, to, step } => {
                let inside = (*from..=*to).contains(&value);
                inside && *step > 0 && value.abs_diff(*from).is_multiple_of(step.unsigned_abs())
            }
        }
    }
}

/// `256, 128 or 512`, `1 to 3`, `0 to 32 in steps of 8`.
impl fmt::Display for Choices {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Choice(values) => {
                for (position, value) in values.iter().enumerate() {
                    let joint = match position {
                        0 => "",
                        _ if position + 1 == values.len() => " or ",
                        _ => ", ",
                    };
                    write!(f, "{joint}{value}")?;
                }
                Ok(())
            }
            Self::Range { from, to, step: 1 } => write!(f, "{from} to {to}"),
            Self::Range { from, to, step } => write!(f, "{from} to {to} in steps of {step}"),
        }
    }
}

/// Parameters under their names, in the order of the file.
#[derive(Clone, Debug, Default, PartialEq, Eq, Hash)]
pub struct Parameters(Vec<(String, Choices)>);

impl Parameters {
    /// Names and values, in the order of the file.
    pub fn iter(&self) -> impl ExactSizeIterator<Item = (&str, &Choices)> + DoubleEndedIterator {
        self.0.iter().map(|(name, choices)| (name.as_str(), choices))
    }

    /// Where a parameter stands, and its values.
    #[must_use]
    pub fn find(&self, name: &str) -> Option<(usize, &Choices)> {
        let position = self.0.iter().position(|(known, _)| known == name)?;
        Some((position, &self.0[position].1))
    }

    /// Number of parameters.
    #[must_use]
    pub fn len(&self) -> usize {
        self.0.len()
    }

    /// Whether no parameter is open.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }
}

impl Serialize for Parameters {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_map(self.iter())
    }
}

impl<'de> Deserialize<'de> for Parameters {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        deserializer.deserialize_map(InOrder)
    }
}

struct InOrder;

impl<'de> Visitor<'de> for InOrder {
    type Value = Parameters;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("a map of parameters")
    }

    fn visit_map<A: MapAccess<'de>>(self, mut map: A) -> Result<Parameters, A::Error> {
        let mut parameters = Parameters::default();
        while let Some((name, choices)) = map.next_entry::<String, Choices>()? {
            if parameters.find(&name).is_some() {
                return Err(refuse(format!("parameter \"{name}\" twice"), "each parameter once"));
            }
            parameters.0.push((name, choices));
        }
        Ok(parameters)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(text: &str) -> Parameters {
        backporch_input::parse(&backporch_input::Source::built_in("p", text)).unwrap()
    }

    #[test]
    fn parameters_keep_the_order_of_the_file() {
        let parameters = read(r#"{"rows": Choice([512, 256]), "late": Range(from: 0, to: 32, step: 8)}"#);
        let words: Vec<String> = parameters.iter().map(|(name, choices)| format!("{name}: {choices}")).collect();
        assert_eq!(words, ["rows: 512 or 256", "late: 0 to 32 in steps of 8"]);
        let (_, late) = parameters.find("late").unwrap();
        assert_eq!(late.values().collect::<Vec<_>>(), [0, 8, 16, 24, 32]);
        assert!(late.has(24) && !late.has(25) && !late.has(40));
    }

    #[test]
    fn ranges_the_wrong_way_round_hold_nothing() {
        for (from, to, step) in [(3, 1, 1), (1, 3, 0), (1, 3, -1), (i64::MAX, i64::MIN, i64::MIN)] {
            let choices = Choices::Range { from, to, step };
            assert_eq!(choices.values().count(), 0);
        }
        let widest = Choices::Range { from: i64::MIN, to: i64::MAX, step: 1 << 40 };
        assert_eq!(widest.count(), 1 << 24);
    }
}
