//! What a fault does to one byte or pixel, told apart by quirk.

/// One change to a byte's linear address.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Bend {
    /// Name of the quirk.
    pub quirk: String,
    /// Linear address before it.
    pub before: u32,
    /// Linear address after it.
    pub after: u32,
}

/// A change to what is shown at a place, other than to its address.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Touch {
    /// Name of the quirk.
    pub quirk: String,
    /// What it does there, in plain words.
    pub does: String,
}
