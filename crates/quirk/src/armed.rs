//! An effect made ready: what it does, and when.

use crate::truth::Truth;

/// An action and when it acts.
#[derive(Clone, Debug)]
pub(crate) struct Armed<A> {
    /// Position of its quirk in the stack.
    pub quirk: usize,
    /// When it acts.
    pub truth: Truth,
    /// What it does.
    pub action: A,
    /// What its own chance draws from.
    pub key: u64,
}
