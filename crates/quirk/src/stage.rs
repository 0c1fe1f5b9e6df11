//! The stages of the pipeline: for each, its table of actions and what they do.

mod address;
mod colour;
mod fetch;
mod latch;
mod pixel;
mod places;
mod port;
mod sync;

pub use address::AddressAction;
pub use colour::ColourAction;
pub use fetch::FetchAction;
pub use latch::LatchAction;
pub use pixel::PixelAction;
pub use port::PortAction;
pub use sync::SyncAction;

pub(crate) use latch::LatchMemory;
pub(crate) use places::{LineValues, Notes, PlaceAction, settle};
pub(crate) use port::PortMemory;
pub(crate) use sync::BounceMemory;
