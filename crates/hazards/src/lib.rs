//! Mistakes of timing and order, found in what reached a board's bus.
//!
//! Half of what goes wrong in a raster routine is the moment of a write. In
//! come the records of a run, frame by frame, whatever drove the board: a
//! script, a trace, a program. Out go its hazards, how near it came to one, and
//! pictures of when it did what.
//!
//! ```text
//! FrameRecords ─┬─► Inspector ─► Hazards ─► Margins over phases and speeds, Advice
//!               ├─► Budget: what moves take of a frame's time
//!               ├─► beam chart (SVG, picture)
//!               └─► waveform (VCD)
//! ```
//!
//! The records alone are judged, never a script's text, so every driver is
//! held to the same measure. What is fetched is taken as the registers mean it
//! on the plain board: neither what a class does by design nor a fault of the
//! adapter is ever called the routine's mistake.
#![forbid(unsafe_code)]

mod advice;
mod budget;
mod chart;
mod hazard;
mod margins;
mod waveform;

pub use advice::Advice;
pub use budget::{Budget, BudgetFit, MoveBudget, MoveKind};
pub use chart::{beam_chart, beam_chart_image};
pub use hazard::{
    Displaced, Hazard, HazardKind, Inspector, MeantLayout, Surroundings, displaced, inspect, loader_hazards,
};
pub use margins::{
    Count, FrameJudge, Judged, KindMargin, MarginSweep, Margins, PhaseSpread, Room, SETTLING_FRAMES, Trial, frame_dots,
};
pub use waveform::write_vcd;
