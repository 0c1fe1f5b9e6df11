//! Places inside a frame.

use backporch_pc::Far;

/// A place inside a frame at which a run may be asked to stop.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Breakpoint {
    /// Before the program's instruction at an address.
    Instruction(Far),
    /// After a write to a port.
    Port(u16),
}
