//! The raster pipeline: from a board's registers and memory to its frames.
//!
//! **In** come an adapter (a class of boards), registers, bytes of video
//! memory, and what sits on the pipeline: nothing ([`Plain`]), or a [`Tap`]
//! that changes what a stage does. Port and memory accesses come in at a dot
//! of the beam. **Out** come a [`Frame`] (pixel values, the palettes they were
//! shown under, where each byte was fetched), or for a frame in which no
//! register changes a [`Plan`] of its fetches without a pixel being drawn.
//!
//! ```text
//! registers ─► counters ─► fetch ─► serialise ─► Frame ─► picture, raster
//!    ▲            ▲          ▲          ▲          ▲
//!    └────────────┴─ Tap: port, latch, timing, address, fetch, pixel, colour, sync
//! ```
//!
//! A [`Board`] is one video board under test. Everything that drives it uses
//! five calls ([`Drive`]): run the beam to a dot, write a port, read a port,
//! write memory, read memory. The beam catches up lazily: the board draws up
//! to *now* with the old state, then takes the write. Quiet stretches are
//! therefore long, and long is fast.
//!
//! * [`Counters`] hold the character-clock state of the controller and say how
//!   long it stays as it is; *fetch* turns such a stretch of a scan line into
//!   [spans](Span) of memory, *serialise* turns their bytes into pixel values.
//! * A [`Tap`] is three contracts: [`Intercept`] (what it does), [`LineReuse`]
//!   (when a line need not be drawn or asked about again) and [`Explain`]. The
//!   pipeline is generic over it, so a [`Plain`] board carries no trace of it.
//! * With the feature `stepper`, a second implementation of the same road, one
//!   character clock at a time: slow, literal, and held equal to the board by
//!   the tests.
//!
//! A write takes effect at the first character clock that begins at or after
//! its dot: the bench is true to the character clock, not to the dot.
//!
//! ```
//! use backporch_adapter::Adapter;
//! use backporch_raster::{Board, View};
//!
//! let adapter = Adapter::built_in("linear-256").unwrap();
//! let registers = adapter.start_up(adapter.default_mode());
//! let mut board = Board::plain(adapter, registers);
//! board.load(&[7; 320]);
//! let first = board.run_frame();
//! assert_eq!(first.picture_size(), (320, 200));
//! assert_eq!(first.value_at(319, 0), Some(7));
//! // A byte written while the beam is in frame 1, below line 0, shows in frame 2.
//! board.run_to(first.first_dot + 449 * 800 + 100 * 800);
//! board.write_memory(319, 9);
//! assert_eq!(board.run_frame().value_at(319, 0), Some(7));
//! let shown = board.run_frame();
//! assert_eq!(shown.value_at(319, 0), Some(9));
//! assert_eq!(shown.picture(View::Raster).height, 449);
//! ```
#![forbid(unsafe_code)]

mod beam;
mod board;
mod board_state;
mod changes;
mod counters;
mod decoded;
mod drive;
mod fetch;
mod field;
mod frame;
mod latch;
mod line;
mod line_dependencies;
mod line_source;
mod plan;
mod position;
mod provenance;
mod serialise;
mod shift;
mod span;
mod stages;
#[cfg(feature = "stepper")]
pub mod stepper;
mod tap;
mod template;
mod whole_line;

pub use board::Board;
pub use changes::{AddressChange, Layer, ValueChange};
pub use counters::lines::Lines;
pub use counters::rows::Rows;
pub use counters::{Counters, LineEnd, Pulse, VerticalCounters};
pub use drive::Drive;
pub use frame::{Frame, Picture, ScanLine, Segment, SegmentKind, Tint, View};
pub use line::{Line, Run};
pub use line_dependencies::LineDependencies;
pub use plan::{DrawnLine, Plan, PlanLine, QuietFrame};
pub use position::Beam;
pub use provenance::Provenance;
pub use shift::Shift;
pub use span::Span;
pub use stages::Stages;
pub use tap::{
    Explain, Intercept, LatchMoment, LineEffects, LineReuse, MemoryWrite, Plain, PortWrite, Tap, WriteOutcome,
};
