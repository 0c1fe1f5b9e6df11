//! The signal a board sends to its monitor, as numbers.
//!
//! This crate knows nothing of adapters. It holds the [units](Hertz), the
//! arithmetic of one [axis](Axis) of a raster (active, front porch, sync, back
//! porch), the whole [`Signal`] with its line and frame rate, and the
//! [`Monitor`]s that say whether they will take it.
//!
//! ```text
//! comparands of a controller ──► Axis (dots), Axis (lines) ──► Signal ──► Monitor::judge ──► Judgement
//! ```
#![forbid(unsafe_code)]

mod axis;
mod monitor;
mod units;

pub use axis::{Axis, AxisError, Signal};
pub use monitor::{BUILT_IN_MONITORS, Judgement, Limit, Monitor, Reading, SYNC_CAUTION};
pub use units::Hertz;
