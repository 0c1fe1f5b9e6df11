//! The stages of the pipeline: for each, its table of actions and what they do.

mod address;
mod latch;

pub use address::AddressAction;
pub use latch::LatchAction;

pub(crate) use latch::LatchMemory;
