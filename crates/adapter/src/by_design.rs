//! What every board of a class does by design: neither a routine's mistake nor a specimen's fault.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use crate::basis::Basis;

/// One thing that every board of the class does, and that a programmer's
/// manual does not tell.
///
/// With a behaviour it is in the quirk language, and a board *by design* runs
/// it; without one the engine's own rules hold it already, or it is stated for
/// people alone.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ByDesign {
    /// Name, as families of quirks have one.
    pub name: String,
    /// What it does, one sentence.
    pub says: String,
    /// Where that is known from.
    pub basis: Basis,
    /// The same in the quirk language.
    #[serde(default)]
    pub does: Option<Behaviour>,
}

/// A member of a family of quirks.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Behaviour {
    /// Name of a built-in family.
    pub family: String,
    /// Values of its open parameters; those left out take their first value.
    #[serde(default)]
    pub parameters: BTreeMap<String, i64>,
}
