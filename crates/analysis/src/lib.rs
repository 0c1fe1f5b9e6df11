//! What the design of a class and faults do to a range of register settings.
//!
//! Everything here holds frames of a board against those of the plain board of its class, under the same registers and
//! memory: against what the programmer meant. A tap is the whole board, what its class does by design and its faults:
//!
//! - a [`Verdict`] says how bad one frame is, [`Damage`] where;
//! - a [`Sweep`] does so for every step through one or two registers and finds the [pattern](LinePattern) in the lines
//!   and the period in the steps;
//! - a [`FrameSignature`] is what a board makes of an [`ExperimentSetup`], predicted the cheapest way and kept in a
//!   [`PredictionCache`];
//! - [`compare`] runs several boards through one scroll and says where a difference comes from;
//! - [`art`] weighs how visible a fault is in the picture at hand.
//!
//! ```text
//! Bench ─┬─► plain frame ────┐
//!        └─► board's frame ──┴─► Damage, Verdict ──► Sweep: steps, period
//! Bench ──► ExperimentSetup + Tap ──► FrameSignature ──► evidence, diagnosis
//! ```
//!
//! In come [benches](backporch_bench::Bench) and [faults](backporch_raster::Tap); out go plain values without a file, a
//! window or a terminal. Results do not depend on the number of threads: every step is computed from the bench alone,
//! and the steps are put together in order.
//!
//! ```
//! use backporch_analysis::{SweepAxis, Verdict, sweep};
//! use backporch_bench::{Bench, Overrides};
//!
//! let bench = Bench::open("harbour-256-plain", &Overrides { quirks: vec!["row-reload".into()], ..Overrides::default() })?;
//! let adapter = bench.adapter();
//! let axis = SweepAxis::new(adapter, adapter.start_address(), 0..3)?;
//! let found = sweep(&bench, &[axis], 1, &|| ())?;
//! assert_eq!(found.steps[0].verdict, Verdict::Clean);
//! assert_eq!(found.steps[1].damage.damaged_lines(), 50);
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```
#![forbid(unsafe_code)]

pub mod art;
pub mod compare;
mod pattern;
mod predict;
mod prediction_cache;
mod redraw;
mod setup;
mod signature;
mod sweep;
mod verdict;

pub use pattern::{LinePattern, period};
pub use prediction_cache::PredictionCache;
pub use setup::{Conditions, ExperimentSetup, PictureLayout, Specimen, WhichFrame, WriteMoment};
pub use signature::{ComponentChange, FrameSignature, LineSet, Nature};
pub use sweep::{StepBoards, Sweep, SweepAxis, SweepError, SweepStep, step_boards, steps, sweep};
pub use verdict::{Damage, Verdict, line_damage};
