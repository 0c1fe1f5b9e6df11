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

mod outcome;
mod pattern;
mod scene;
mod sightings;
mod sweep;
mod verdict;

pub use outcome::{Amount, Impression, Lines, Nature, Outcome, Side};
pub use pattern::{LinePattern, period};
pub use scene::{Laid, Look, Moment, Scene, Specimen, Staging};
pub use sightings::{
    BUILT_IN_SIGHTINGS, Experiment, ExperimentFile, Note, Observer, Seen, Share, Sighting, SightingError, SightingFile,
    Sightings, SightingsFile, Statement, Steps,
};
pub use sweep::{Over, Step, Sweep, SweepError, sweep};
pub use verdict::{Damage, Verdict};
