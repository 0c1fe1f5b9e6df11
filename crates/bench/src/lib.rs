//! Bench files: one board under test with everything on the bench around it.
//!
//! A bench file names an adapter, a mode, the registers that differ from the
//! mode's start-up values, quirks, a picture and where it lies in memory, a
//! routine, a monitor and a seed. Read, checked and with the command line's wishes laid
//! over it, it is a [`Bench`]: from there every board, healthy or faulty, is
//! one call away.
//!
//! ```text
//! *.bench.ron ─► BenchFile ─┬─► Bench ─┬─► registers, memory
//! command line ─► Wishes ───┘          ├─► healthy board ─────────┐
//!                                      ├─► board under its quirks ┴─► Driven ─► frames
//!                                      └─► Driver: routine, trace, program ┘
//! ```
//!
//! A bench is passed on as a [pack]: one file that says everything, and the files
//! it needs beside it.
//!
//! This room stands above adapters, quirks, pictures and routines, and below
//! analysis and every front end, so that all of them set a board up alike.
#![forbid(unsafe_code)]

mod art;
mod bench;
mod blame;
mod built_in;
mod driven;
mod driver;
mod file;
mod library;
mod named;
mod pack;
mod setup;
mod watching;
mod written;

pub use bench::{Bench, Wishes};
pub use blame::responsible;
pub use built_in::{BUILT_IN_BENCHES, BUILT_IN_PROGRAMS, built_in, is_built_in_routine};
pub use driven::{Driven, LONGEST_FRAME, Played, trace_of, traced};
pub use driver::{Driver, RealMode, Script, Start, is_lone_program};
pub use file::{BenchFile, ClockRef, MachineRef, PictureRef, QuirkRef, Scroll};
pub use library::{Library, adapter_names, monitor_names};
pub use pack::{Packed, pack};
pub use watching::{Keep, Watch};
pub use written::differing;
