//! Workarounds: register settings under which every frame a routine needs is clean.
//!
//! [`Requirements`] say what has to stay and what may change. The search steps through every setting of the registers
//! that decide what is fetched, finds for each suspected fault all start addresses that are not clean, looks for steps
//! and origins whose start addresses are all clean, and fits totals and sync around what was found:
//!
//! ```text
//! Requirements ──► Levers ──► Setting ──► FaultScan ──► FailureMap ──► ScrollPath ──► SignalFit ──► Candidates
//!                  registers  what is     fault by      where          steps,         totals,       those that no
//!                  to step    fetched     fault         not to begin   origins        sync, monitor other covers
//! ```
//!
//! A fault that does more than change addresses and timing is proven by rendering every start address of the candidates
//! found. What is searched whole, and what is left out because it can be proven not to matter, stands in
//! [`SearchResult::remarks`]. The [`transition`] from one set of registers to another, in an order no frame suffers from, is
//! beside it, and so is the arithmetic of [`centring`].
//!
//! In come a [bench](backporch_bench::Bench), requirements and faults with probabilities, 0 to 1; out go registers with
//! what they cost: pixels lost, step in pixels and lines, bytes of memory and of redrawing.
//!
//! ```
//! use backporch_bench::{Bench, Overrides};
//! use backporch_workaround::{Requirements, SuspectedFault, search};
//!
//! let bench = Bench::open("harbour-256-plain", &Overrides { quirks: vec!["row-reload".into()], ..Overrides::default() })?;
//! let fault = SuspectedFault { name: "row-reload".into(), tap: bench.stack(), probability: 1.0 };
//! let requirements = Requirements { starts: Some(0..=63), least_width: Some(304), ..Requirements::default() };
//! let found = search(&bench, &requirements, &[fault], &|_, _| ())?;
//! assert!(found.candidates.iter().all(|candidate| candidate.width >= 304));
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```
#![forbid(unsafe_code)]

mod bit_ring;
mod candidate;
pub mod centring;
mod claims;
mod cost;
mod fault_scan;
mod infeasible;
pub mod mode_search;
mod per_step;
mod render;
mod requirements;
mod runs;
mod scroll_path;
mod search;
mod setting;
mod signal_fit;
mod test_content;
pub mod transition;

pub use bit_ring::BitRing;
pub use candidate::{Candidate, Cost, FailingStarts, MemoryMap, Redraw};
pub use fault_scan::{FRAMES_LOOKED_AT, FailureMap, FaultScan, jitters};
pub use infeasible::Infeasible;
pub use per_step::{
    Border, FrameSchedule, LineValue, PhaseShare, Slack, StepTable, StepView, StepWrites, TableCost, TableSearch,
    TableStep, WriteWindow, Wrong, step_tables,
};
pub use render::rendered;
pub use requirements::{Direction, MAY_CHANGE, Origin, Requirements, RequirementsFile, SizeWanted, Starts, may_change};
pub use scroll_path::ScrollPath;
pub use search::{Progress, SearchResult, SuspectedFault, search};
pub use setting::{Pixels, Setting};
pub use signal_fit::SignalFit;
