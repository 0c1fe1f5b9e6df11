//! What is done to one byte or pixel on its way, and by what.

use std::fmt;

/// Where a change stands above the plain board.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Layer {
    /// Every board of the class does it.
    Design {
        /// Where that is known from.
        source: String,
    },
    /// A fault of this specimen, known or suspected.
    Fault,
}

/// The layer in a few words: `by design of the class (published: TITLE)`.
impl fmt::Display for Layer {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Design { source } => write!(f, "by design of the class ({source})"),
            Self::Fault => f.write_str("a fault of this board"),
        }
    }
}

/// One change to a byte's linear address.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct AddressChange {
    /// Name of what made it.
    pub quirk: String,
    /// Layer of what made it.
    pub layer: Layer,
    /// What happened at this byte, in plain words.
    pub does: String,
    /// Linear address before it.
    pub before: u32,
    /// Linear address after it.
    pub after: u32,
}

/// A change to what is shown at a place, other than to its address.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ValueChange {
    /// Name of what made it.
    pub quirk: String,
    /// Layer of what made it.
    pub layer: Layer,
    /// What it does there, in plain words.
    pub does: String,
}
