//! What was found out on the board of the driver, and is still to be done to the pair.

use backporch_script::TraceAccess;

/// An access that the pair has yet to make.
#[derive(Clone, Copy, Debug)]
pub(crate) struct PendingAccess {
    /// When.
    pub dot: u64,
    /// What.
    pub access: TraceAccess,
}
