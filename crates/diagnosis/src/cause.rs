//! What may be the cause of what was seen.

use std::collections::BTreeMap;

use crate::families::FaultFamilies;

/// What may be the cause of what was seen.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Cause {
    /// The board is as its class is built: whatever is seen, every one shows it.
    ByDesign,
    /// The board is as its class is built, the routine writes at the wrong moment.
    Routine,
    /// A fault that none of the families describes.
    NoneOfThese,
    /// A member of a family.
    Fault {
        /// Position of the family.
        family: usize,
        /// Position of the member.
        member: u64,
    },
}

impl Cause {
    /// Its name: the family's for a fault.
    pub fn name<F: FaultFamilies>(self, faults: &F) -> &str {
        match self {
            Self::ByDesign if faults.design().is_empty() => "healthy-board",
            Self::ByDesign => "by-design",
            Self::Routine => "routine",
            Self::NoneOfThese => "none-of-these",
            Self::Fault { family, .. } => faults.families().get(family).map_or("", |family| family.name.as_str()),
        }
    }

    /// What is wrong, in a few words.
    pub fn title<F: FaultFamilies>(self, faults: &F) -> &str {
        match self {
            Self::ByDesign if faults.design().is_empty() => "Nothing is wrong with the board",
            Self::ByDesign => "Every board of the class does so by design; nothing is wrong with this one",
            Self::Routine => "The board is as its class is built; the routine writes at the wrong moment",
            Self::NoneOfThese => "A fault that is not in the library",
            Self::Fault { family, .. } => faults.families().get(family).map_or("", |family| family.title.as_str()),
        }
    }

    /// The member's parameters by name; none for a cause without a family.
    pub fn parameters<F: FaultFamilies>(self, faults: &F) -> BTreeMap<String, i64> {
        match self {
            Self::Fault { family, member } => faults.member(family, member).map(|member| member.parameters),
            _ => None,
        }
        .unwrap_or_default()
    }

    /// Its name with its parameters: `row-reload reloads=1 row_bytes=256`.
    pub fn full_name<F: FaultFamilies>(self, faults: &F) -> String {
        let parameters = self.parameters(faults);
        let values = parameters.iter().map(|(name, value)| format!(" {name}={value}"));
        self.name(faults).to_string() + &values.collect::<String>()
    }
}
