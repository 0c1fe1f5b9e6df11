//! An effect made ready: what it does, and when.

use crate::compiled_condition::CompiledCondition;

/// An action and when it acts.
#[derive(Clone, Debug)]
pub(crate) struct CompiledEffect<A> {
    /// Position of its quirk in the stack, what is by design first.
    pub quirk: usize,
    /// When it acts.
    pub condition: CompiledCondition,
    /// What it does.
    pub action: A,
    /// What its own chance draws from.
    pub key: u64,
}
