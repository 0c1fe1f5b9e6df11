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
//! * the [`stepper`] is the same road, one character clock at a time: slow,
//!   plain, and held equal to the board by the tests;
//! * a [`Plan`] is the fetch of a whole quiet frame without a single pixel;
//! * a [`Tap`] is a fault: one method a stage, each by default *no fault*. The
//!   pipeline is generic over it, so a [`Healthy`] board carries no trace of it.
//!
//! A [`Board`] and a [`Stepper`](stepper::Stepper) are driven alike: [`Drive`].
//!
//! A write takes effect at the first character clock that begins at or after
//! its dot: the bench is true to the character clock, not to the dot.
#![forbid(unsafe_code)]

mod beam;
mod bend;
mod board;
mod card;
mod counters;
mod decoded;
mod drive;
mod facts;
mod fetch;
mod frame;
mod latch;
mod line;
mod place;
mod plan;
mod provenance;
mod serialise;
mod shift;
mod span;
mod stages;
pub mod stepper;
mod tap;
mod template;

pub use bend::{Bend, Touch};
pub use board::Board;
pub use counters::lines::Lines;
pub use counters::rows::Rows;
pub use counters::{Counters, Down, LineEnd, Pulse};
pub use drive::Drive;
pub use facts::LineFacts;
pub use frame::{Frame, Picture, ScanLine, Segment, SegmentKind, Tint, View};
pub use line::{Line, Run};
pub use place::Beam;
pub use plan::{Plan, PlanLine, QuietFrame};
pub use provenance::Provenance;
pub use shift::Shift;
pub use span::Span;
pub use stages::Stages;
pub use tap::{Acting, Healthy, LatchMoment, MemoryWrite, Outcome, PortWrite, Tap};
