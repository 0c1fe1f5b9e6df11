//! Where a fact comes from. Every number in a profile stands beside one of these.

use std::fmt;

use serde::{Deserialize, Serialize};

/// How well a fact is founded.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Basis {
    /// Stated in the published source of this title.
    Published(String),
    /// Known in the trade, without a source at hand.
    CommonPractice,
    /// Remembered; to be confirmed before it is relied on.
    FromMemory,
    /// Computed from other facts.
    Derived,
    /// Chosen by the profile because nothing better is known.
    Assumed,
}

impl fmt::Display for Basis {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Published(title) => write!(f, "published: {title}"),
            Self::CommonPractice => f.write_str("common practice"),
            Self::FromMemory => f.write_str("from memory"),
            Self::Derived => f.write_str("derived"),
            Self::Assumed => f.write_str("assumed"),
        }
    }
}

/// A statement about a class of boards, with its basis.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Fact {
    /// The statement, one sentence.
    pub says: String,
    /// Where it comes from.
    pub basis: Basis,
}
