//! The raster pipeline: from a board's registers and memory to its frames.
//!
//! A [`Board`] is one video board under test. Everything that drives it uses
//! five calls: [run the beam to a dot](Board::run_to), [write a
//! port](Board::write_port), [read a port](Board::read_port), [write
//! memory](Board::write_memory), [read memory](Board::read_memory). The beam
//! catches up lazily: the board draws up to *now* with the old state, then
//! takes the write. Quiet stretches are therefore long, and long is fast.
//!
//! ```text
//! registers ─► counters ─► fetch ─► serialise ─► Frame ─► picture, raster
//!    ▲            ▲          ▲          ▲          ▲
//!    └────────────┴─ Tap: port, latch, timing, address, fetch, pixel, colour, sync
//! ```
//!
//! * [`counters`](Counters) hold the character-clock state of the controller
//!   and say how long it stays as it is;
//! * *fetch* turns one stretch of one scan line into [spans](Span) of memory,
//!   *serialise* turns their bytes into pixel values;
//! * a [`Frame`] keeps pixel values with the palettes they were shown under,
//!   and what every dot of the raster was: active, border, blank or sync;
//! * a [`Plan`] is the fetch of a whole quiet frame without a single pixel;
//! * a [`Tap`] is a fault: one method a stage, each by default *no fault*. The
//!   pipeline is generic over it, so a [`Healthy`] board carries no trace of it.
//!
//! A write takes effect at the first character clock that begins at or after
//! its dot: the bench is true to the character clock, not to the dot.
#![forbid(unsafe_code)]

mod board;
mod counters;
mod facts;
mod fetch;
mod frame;
mod latch;
mod plan;
mod provenance;
mod serialise;
mod tap;
mod template;

pub use board::{Beam, Board};
pub use counters::{Counters, LineEnd};
pub use facts::LineFacts;
pub use fetch::Span;
pub use frame::{Frame, Picture, ScanLine, Segment, SegmentKind, Shift, Tint, View};
pub use plan::{Plan, PlanLine, QuietFrame};
pub use provenance::{Bend, Provenance, Touch};
pub use tap::{Healthy, LatchMoment, Line, MemoryWrite, Outcome, PortWrite, Run, Stages, Tap};
