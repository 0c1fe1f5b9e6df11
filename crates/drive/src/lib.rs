//! What drives a bench's board: a routine script, a write trace, or a real-mode program.
//!
//! In comes a [`Bench`](backporch_bench::Bench) that names a routine; out comes
//! a [`Driver`], read and checked against the board's class, and from it a board
//! that gives frame after frame ([`Driven`]), or records of everything that
//! reached its bus ([`Driver::watch`]).
//!
//! ```text
//! routine: "scroll-late"     ─► Script  ┐
//! routine: "run.csv"         ─► Trace   ├─► Driver ─► Driven ─► frames
//! routine: "scroll.com"      ─► Program ┘          └► Watch  ─► FrameRecords, Trace
//! ```
//! A built-in scroller on its bench's board:
//!
//! ```
//! use backporch_bench::{Bench, Overrides};
//! use backporch_drive::Driven;
//!
//! let bench = Bench::open("scroll-clean", &Overrides::default())?;
//! let mut driven = Driven::of(&bench, bench.plain(bench.registers()))?;
//! let frames: Vec<_> = (0..4).map(|_| driven.next_frame()).collect();
//! assert_ne!(frames[2], frames[3]);
//! # Ok::<(), backporch_input::InputError>(())
//! ```
#![forbid(unsafe_code)]

mod built_in;
mod comparison;
mod driven;
mod driver;
mod files;
mod following;
mod watching;

pub use backporch_bench::PROGRAMS;
pub use built_in::{is_built_in_routine, routine_names};
pub use comparison::{blame_of, compare_driven};
pub use driven::{Driven, LONGEST_FRAME, Played, trace_of, traced};
pub use driver::{Driver, RealMode, Script, Start, is_lone_program};
pub use files::{checked_pack, files_of};
pub use following::{Follower, Watcher, responsible};
pub use watching::{Keep, Watch, layout};
