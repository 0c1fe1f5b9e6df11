//! What a fault does to a range of register settings.
//!
//! A [`verdict`](Verdict) holds one frame of a faulty board against the frame
//! of a healthy board of the same class, under the same registers and memory.
//! A [sweep](Sweep) does so for every step through one or two registers and
//! finds the [pattern](LinePattern) in the lines and the period in the steps.
//!
//! ```text
//! Bench ──► healthy frame ─┐
//!       └─► faulty frame ──┴─► Verdict of a step ──► Sweep: steps, period
//! ```
//!
//! Results do not depend on the number of threads: every step is computed from
//! the bench alone, and the steps are put together in order.
#![forbid(unsafe_code)]

pub mod art;
pub mod centring;
mod lines;
pub mod passage;
mod pattern;
mod sweep;
mod verdict;
pub mod workaround;

pub use lines::line_damage;
pub use pattern::{LinePattern, period};
pub use sweep::{Over, Step, StepBoards, Sweep, SweepError, step_boards, steps, sweep};
pub use verdict::{Damage, Verdict};
