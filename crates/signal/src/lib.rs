//! The signal a board sends to its monitor, as numbers; nothing here knows of adapters.
//!
//! In: what a controller counts, in dots and scan lines, a dot clock in
//! [hertz](Hertz), and monitor profiles (RON). Out: the parts of an
//! [axis](Axis) (active, front porch, sync, back porch), the line and frame rate
//! of a [`Signal`], and whether a [`Monitor`] takes it, limit by limit and by the
//! [polarity](SyncPolarity) of its sync lines, where that is known.
//!
//! ```text
//! comparands of a controller ──► Axis (dots), Axis (lines) ──► Signal ──► Monitor::judge ──► Judgement
//! ```
//!
//! The colour-graphics class: 912 dots of 14.31818 MHz on a line, 262 lines in
//! a frame (Technical Reference of the adapter).
//!
//! ```
//! use backporch_signal::{Axis, AxisError, Hertz, Monitor, Signal, SyncPolarity};
//!
//! // Active units, start of sync, length of sync, all units.
//! let horizontal = Axis::new(640, 720, 80, 912)?;
//! let vertical = Axis::new(200, 224, 16, 262)?;
//! let polarity = Some(SyncPolarity::from_bits(0));
//! let signal = Signal { dot_clock: Hertz::new(14_318_180.0).unwrap(), horizontal, vertical, polarity };
//! assert_eq!(horizontal.back_porch(), 112);
//! assert_eq!(signal.line_rate_hz().round(), 15_700.0);
//! assert_eq!(signal.frame_rate_hz().round(), 60.0);
//!
//! let takes = |name: &str| Monitor::built_in(name).unwrap().judge(&signal).accepts();
//! assert!(takes("fixed-15") && !takes("fixed-31"));
//! # Ok::<(), AxisError>(())
//! ```
#![forbid(unsafe_code)]

mod axis;
mod formula;
mod monitor;
mod polarity;
mod units;

pub use axis::{Axis, AxisError, Signal};
pub use formula::{Formula, SYNC_AND_BACK_US};
pub use monitor::{Judgement, Limit, MONITORS, Monitor, Reading, SYNC_CAUTION};
pub use polarity::{Polarity, PolarityReading, SyncPolarity};
pub use units::Hertz;
