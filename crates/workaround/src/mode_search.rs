//! From need to mode: register settings for a picture of a wanted size, frame rate and number of colours, without any fault.
//!
//! ```text
//! ModeNeed ──► Base ─────────► layouts ─────────► placing ────────► judged
//!              mode, clock,    line and frame,    registers by      signal by the monitor's limits,
//!              scan lines of   the likeliest      roles, read       rate by the need
//!              a picture line  first              back
//! ```
//!
//! Every mode that shows enough colours is tried at every dot clock of its board, with every number of scan lines to a
//! picture line that its class can make. On a monitor of one rate the picture stands where the mode's own does, its line
//! as near to the mode's own as the monitor and the rate allow; on one of many rates porches follow the
//! [formula](backporch_signal::Formula) that the monitor names. Whatever is found is read back from the registers and judged
//! as any other signal: no setting rests on the arithmetic that led to it.

mod base;
mod layouts;
mod need;
mod placing;
mod search;

pub use self::need::{ModeNeed, RateWanted};
pub use self::search::{ModeSearch, ModeSetting, NoMode, modes};
