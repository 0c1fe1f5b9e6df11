//! No-ops: values with which an action changes nothing on any board.

use crate::language::Action;

impl Action<i32> {
    /// Whether it changes nothing.
    pub(crate) fn is_no_op(&self) -> bool {
        match self {
            // Whatever values these have, they change something.
            Self::Port(_) | Self::Fetch(_) => false,
            Self::Latch(action) => action.is_no_op(),
            Self::Address(action) => action.is_no_op(),
            Self::Pixel(action) => action.is_no_op(),
            Self::Colour(action) => action.is_no_op(),
            Self::Sync(action) => action.is_no_op(),
        }
    }
}
